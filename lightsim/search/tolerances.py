"""How much each key figure of a rig changes for a builder's error in cutting, bending and placing.

Central differences with common random numbers: both sides of a pair are traced with the same random numbers, so that
their noise mostly cancels; several pairs, each with random numbers of its own, give the error bar.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, isfinite, log2
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lightsim.light.arrivals import Arrivals
from lightsim.light.estimate import Estimate, mean_of
from lightsim.light.forward import trace
from lightsim.light.light import PILOT, REPLICATES, SUBJECT, Light, points_needed
from lightsim.light.scene import Scene, build
from lightsim.measure.clearance import clearance
from lightsim.measure.falloff import FACING_LENS
from lightsim.measure.figure import CATALOGUE, Entry
from lightsim.measure.figures import figures as all_figures
from lightsim.measure.figures import shapes
from lightsim.measure.illuminance import plane_samples
from lightsim.measure.loss import MOUNTED, reference_illuminance
from lightsim.measure.report import report
from lightsim.rig.errors import alternatives, closest, fault, naming, quoted
from lightsim.rig.load import LoadedRig, placed
from lightsim.rig.place import PlacedRig
from lightsim.search.handwork import Slip, What, slipped, slips
from lightsim.search.vary import VARIED_FIGURES, check_figures

PAIRS = 8  # independent ones, of so many replicates each as a report has
FEWEST = 256  # paths per replicate in each; the lattice serves no fewer
# What can just be seen in a picture: a choice, no source.
SEEN_STOPS, SEEN_SHARE = 0.1, 0.05
UNSEEN = ("clearance",)  # of no weight in the order: it does not show in a picture
_LOST, _CLEARANCE = "loss.total", "clearance"
_MOUNTED = f"loss.{MOUNTED}"
_SHAPES = ("size.", "highlight.", "shadow.")
_OF_SEVERAL = {
    "shadow.edge": "shadow.edge",
    "shadow.hair": "shadow.hair",
    "falloff": "falloff.at",
    "loss": "loss.stage",
}

Sides = Literal["both", "more", "less"]


@dataclass(frozen=True)
class Tolerance:
    """What one number of a rig does to the figures when a builder gets it wrong."""

    key: str  # of the rig file, such as "diffuser.front.width"
    words: str  # for people: "front: width"
    what: What
    step: float  # the error assumed, mm or degrees by unit
    unit: str  # "mm" or "deg"
    sides: Sides  # "more" or "less": the rig allows an error that way alone
    effects: Mapping[str, Estimate]  # by figure, in its unit: half of (one step more less one step less)
    alike: Mapping[str, Estimate]  # what errors of either sign do alike: their mean less the rig as it should be
    most: str | None  # the figure that changes most for the eye; None if none surely changes
    seen: float  # how often what is sure of that change holds what can just be seen


def tolerances(
    loaded: LoadedRig,
    *,
    magnification: int = 0,
    error: float = 0.005,
    seed: int = 1,
    figures: Sequence[str] | None = None,
    keys: Sequence[str] | None = None,
    progress: Callable[[float], None] | None = None,
) -> tuple[Tolerance, ...]:
    """What each number that a builder cuts, bends or places does to the figures of a rig; what matters most first.

    magnification : which of the rig's, counted from 0
    error : relative standard error of the illuminance that all pairs together are to reach, as for a report
    figures : names of those wanted, by default VARIED_FIGURES; others than these, of size, highlight and shadow take
        about four times as long
    keys : of the numbers wanted, by default every one (handwork.slips)
    progress : called with the share that is done, from 0 to 1
    An effect is that of one step more, (f(+) - f(-)) / 2; where the rig allows one side alone, that side less the rig
    as it should be. A part placed from another one moves with it; parts meant to fit together are changed one at a
    time, and an aimed part stays aimed when it is moved. Light lost is counted against the heads as they should
    stand: one held too near brightens the subject. A figure without meaning in any of the runs is left out, and so is
    a number that can be changed neither way; inf: no light is left.
    The order: of each figure, |effect| + |alike|, which is what the worse side does, each as far as it is sure (see
    surely), in steps that can just be seen (SEEN_STOPS for stops, SEEN_SHARE of the figure for all else); the largest
    of these counts.
    The apparent size has a bias of its own, not in the error bars, where an error opens a slit (docs/theory.md 10.8).
    Raises RigError for a rig that cannot be placed or lit, and for figures and keys that there are not.
    Source: central differences with common random numbers, P. Glasserman, Monte Carlo Methods in Financial
    Engineering (2004), ch. 7, from memory; order and steps are choices made here.
    """
    nominal = placed(loaded, magnification)
    names = VARIED_FIGURES if figures is None else tuple(figures)
    wanted = _wanted(loaded, slips(loaded, nominal), keys)
    with naming(loaded.file):
        needed = points_needed(nominal, error=error, seed=seed)
    study = _study(nominal, names, points=max(needed // PAIRS, FEWEST), seed=seed)
    tell = progress or (lambda share: None)
    base = _runs(study, nominal)
    found = []
    for number, slip in enumerate(wanted):
        sides = [slipped(loaded, slip, sign, magnification) for sign in (1, -1)]
        runs = [None if side is None else _runs(study, side) for side in sides]
        if any(run is not None for run in runs):
            found.append(_tolerance(slip, base, *runs))
        tell((number + 1) / len(wanted))
    return tuple(sorted(found, key=lambda each: -each.seen))


def _wanted(loaded: LoadedRig, found: Sequence[Slip], keys: Sequence[str] | None) -> Sequence[Slip]:
    if keys is None:
        return found
    by_key = {slip.key: slip for slip in found}
    for key in keys:
        if key not in by_key:
            near = closest(key, by_key) or next(iter(by_key))
            what = "this is no number that a builder cuts, bends or places"
            raise fault(loaded.file, quoted(key), what=what, allowed=alternatives(by_key, 12), remedy=quoted(near))
    return [by_key[key] for key in keys]


_Values = Mapping[str, NDArray[np.float64]]  # figures by name, (PAIRS,) each; nan where one has no meaning


@dataclass(frozen=True)
class _Study:
    """What all runs share."""

    names: tuple[str, ...]
    full: bool  # every figure of a report is needed
    points: int  # paths per replicate
    seeds: tuple[int, ...]
    spacing: NDArray[np.float64]  # of landings, for what is near: chosen once, by light of its own
    reference: float  # illuminance by the heads as they should stand [1/mm^2 per lm s]


def _study(nominal: PlacedRig, names: tuple[str, ...], *, points: int, seed: int) -> _Study:
    """Raises RigError for a name that is no figure of the rig."""
    # Of the first the seed alone: nothing of another seed comes again.
    first, *others = np.random.default_rng([seed, 0x70]).integers(2**62, size=PAIRS + 1)
    scene = build(nominal.parts, nominal.heads)
    pilot = trace(scene, points=PILOT, replicates=REPLICATES, seed=int(first))
    light = Light(nominal, scene, pilot, seed, 0.0, pilot)
    quick = {each.name for each in shapes(light, _nothing(light))} | {_LOST, _CLEARANCE}
    full = not {*names} <= quick
    if full:
        check_figures(report(light), names)
    return _Study(
        names=names,
        full=full,
        points=points,
        seeds=tuple(int(each) for each in others),
        spacing=pilot.spacing * np.sqrt(PILOT / points),
        reference=reference_illuminance(nominal.heads),
    )


def _runs(study: _Study, rig: PlacedRig) -> _Values:
    scene = build(rig.parts, rig.heads)
    runs = [_run(study, rig, scene, seed) for seed in study.seeds]
    return {name: np.array([run.get(name, np.nan) for run in runs]) for name in study.names}


def _run(study: _Study, rig: PlacedRig, scene: Scene, seed: int) -> Mapping[str, float]:
    cloud = trace(scene, points=study.points, replicates=REPLICATES, seed=seed)
    cloud = replace(cloud, spacing=study.spacing)
    light = Light(rig, scene, cloud, seed, 0.0, cloud)
    found: dict[str, float] = {}
    if study.full:
        found = {each.name: each.value for each in all_figures(light) if each.value is not None}
    elif any(name.startswith(_SHAPES) for name in study.names):
        found = {each.name: each.value for each in shapes(light, _nothing(light)) if each.value is not None}
    near = clearance(scene)
    if near is not None:
        found[_CLEARANCE] = near.value
    # Against the heads as they should stand, and without an integral over their windows in each run.
    facing = float(plane_samples(light.at(SUBJECT), FACING_LENS).mean())
    lost = log2(study.reference / facing) if facing > 0 else inf
    if _MOUNTED in found and _LOST in found:
        found[_MOUNTED] += lost - found[_LOST]
    found[_LOST] = lost
    return found


def _nothing(light: Light) -> Arrivals:
    """No light of bare heads, which spares tracing them where nothing is compared with them."""
    everything = light.at(SUBJECT)
    return everything.only(np.zeros(len(everything.weight), bool))


def _tolerance(slip: Slip, base: _Values, more: _Values | None, less: _Values | None) -> Tolerance:
    effects: dict[str, Estimate] = {}
    alike: dict[str, Estimate] = {}
    for name, start in base.items():
        up, down = (start if side is None else side[name] for side in (more, less))
        if np.isnan([start, up, down]).any():
            continue
        if not np.isfinite([up, down]).all():
            effects[name] = Estimate(inf, 0.0, PAIRS)
            continue
        whole = more is None or less is None
        effects[name] = _mean(up - down if whole else (up - down) / 2)
        if not whole:
            alike[name] = _mean((up + down) / 2 - start)
    weights = {name: _seen(name, effects[name], alike.get(name), base[name]) for name in effects}
    most = max(weights, key=weights.__getitem__, default=None)
    seen = weights[most] if most is not None else 0.0
    sides: Sides = "both" if more is not None and less is not None else "more" if less is None else "less"
    return Tolerance(
        slip.key, slip.words, slip.what, slip.step, slip.unit, sides, effects, alike, most if seen > 0 else None, seen
    )


def _mean(samples: NDArray[np.float64]) -> Estimate:
    """Mean of the pairs; exact where all are the same, as they are for a clearance."""
    return mean_of(samples) if np.ptp(samples) > 1e-12 * np.abs(samples).max() else Estimate(float(samples[0]))


def _seen(name: str, effect: Estimate, alike: Estimate | None, start: NDArray[np.float64]) -> float:
    """How often a change holds what can just be seen of a figure."""
    if name in UNSEEN:
        return 0.0
    least = SEEN_STOPS if entry_of(name).unit == "stops" else SEEN_SHARE * abs(float(start.mean()))
    change = surely(effect) + (surely(alike) if alike is not None else 0.0)
    return change / least if isfinite(change) and least > 0 else change if change == inf else 0.0


def entry_of(name: str) -> Entry:
    """Label, unit and definition of a figure by its name, those of its kind where several share an entry."""
    kind = name.rpartition("_")[0] if name.startswith("shadow.") else name.partition(".")[0]
    return CATALOGUE[name] if name in CATALOGUE else CATALOGUE[_OF_SEVERAL.get(kind, kind)]


def surely(effect: Estimate) -> float:
    """How large an effect is at least, in the order: its size less twice its error bar, 0 within that.

    Twice, because several hundred effects are compared, and of 95 % intervals one in twenty misses by chance.
    """
    return max(abs(effect.value) - 2 * effect.half_interval, 0.0)
