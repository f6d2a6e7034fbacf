"""A report on one rig at one magnification: figures, verdict against the user's limits, what a test frame shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from lightsim.light import backward
from lightsim.light.estimate import Estimate
from lightsim.light.light import SUBJECT, Light
from lightsim.measure.exposure import lens_stops
from lightsim.measure.falloff import FACING_LENS
from lightsim.measure.figure import Figure
from lightsim.measure.figures import figures
from lightsim.measure.illuminance import illuminance
from lightsim.measure.ranges import Plain, Step, heaviest, plain_numbers, ranged, steps
from lightsim.measure.warnings import warnings
from lightsim.rig.models import Limits

CAUTIONS = (
    "Flash heads get hot: keep paper and foam off the window, pause when it is warm, follow the maker's instructions.",
    "Never fire a bare head close to the eyes of people or animals; cut with care, blades away from fingers.",
    "Do not open a flash unit: its capacitor holds a dangerous charge. Leave repairs to licensed service.",
)


@dataclass(frozen=True)
class Verdict:
    """One of the user's limits against its figure."""

    limit: str  # the key in the rig file
    allowed: float
    found: Figure
    kept: bool | None  # None where the figure has no meaning, or the limit lies within its 95 % interval and range

    @property
    def word(self) -> str:
        """kept, broken, or too close to call."""
        return {True: "kept", False: "broken", None: "too close to call"}[self.kept]


@dataclass(frozen=True)
class Second:
    """The illuminance facing the lens by the forward and by the backward estimator, 1/mm^2 per lm s."""

    forward: Estimate
    backward: Estimate

    @property
    def joint_errors(self) -> float:
        """Their difference in joint standard errors."""
        joint = (self.forward.standard_error**2 + self.backward.standard_error**2) ** 0.5
        return (self.backward.value - self.forward.value) / joint if joint > 0 else 0.0


@dataclass(frozen=True)
class Report:
    """Everything known of a rig at one magnification."""

    title: str
    magnification: float
    working_distance: float  # mm
    figures: tuple[Figure, ...]
    verdicts: tuple[Verdict, ...]
    second: Second | None
    caster: str  # what cast the rays
    paths: int
    seed: int
    notes: tuple[str, ...]
    heads: int = 1  # how many
    lens_stops: float = 0.0  # that the picture loses against the marked f-number
    steps: tuple[Step, ...] = ()  # what each number with a range among the materials does to the figures
    plain: tuple[Plain, ...] = ()  # the numbers of the materials of which no range is known

    @property
    def heaviest(self) -> Step | None:
        """The number of the materials that matters most; None if none does."""
        return heaviest(self.figures, self.steps)

    def __getitem__(self, name: str) -> Figure:
        """The figure of that name. Raises KeyError if there is none."""
        for each in self.figures:
            if each.name == name:
                return each
        raise KeyError(name)


def report(light: Light, *, check_backward: bool = False) -> Report:
    """All figures of a traced rig, its verdict, and on demand the second estimator beside the first."""
    placed = light.placed
    found = figures(light)
    return Report(
        title=placed.rig.title,
        magnification=placed.magnification,
        working_distance=placed.working_distance,
        figures=found,
        verdicts=verdicts(placed.rig.limits, found),
        second=second_opinion(light) if check_backward else None,
        caster=light.scene.everything.name,
        paths=light.cloud.points * light.cloud.replicates,
        seed=light.seed,
        notes=(*warnings(light), *placed.notes),
        heads=len(placed.heads),
        lens_stops=lens_stops(placed.rig.lens, working_f_number=placed.working_f_number),
    )


def with_ranges(report: Report, light: Light) -> Report:
    """The report with how far each figure moves between the ends of the materials' numbers, by a small cloud more.

    The verdict then takes that into account.
    """
    moves = steps(light)
    wide = ranged(report.figures, moves)
    return replace(
        report,
        figures=wide,
        verdicts=verdicts(light.placed.rig.limits, wide),
        steps=moves,
        plain=plain_numbers(light.placed),
    )


def second_opinion(light: Light, *, paths: int = 16_384) -> Second:
    """Forward and backward illuminance facing the lens at the subject; paths per replicate of the backward one."""
    return Second(
        forward=illuminance(light.at(SUBJECT), FACING_LENS),
        backward=backward.illuminance(light.scene, SUBJECT, np.array(FACING_LENS), paths=paths, seed=light.seed),
    )


def verdicts(limits: Limits, figures: Sequence[Figure]) -> tuple[Verdict, ...]:
    """The user's limits, as far as there are any, each against its figure."""
    by_name = {each.name: each for each in figures}
    rows = (
        ("most_stops", limits.most_stops, "loss.total", 1),
        ("least_angle", limits.least_angle, "size.cone_angle", -1),
        ("most_hot_spot", limits.most_hot_spot, "size.hot_spot", 1),
        ("most_highlight", limits.most_highlight, "highlight.stops_above_white", 1),
        ("least_clearance", limits.least_clearance, "clearance", -1),
    )
    return tuple(
        Verdict(limit, allowed, by_name[name], _kept(by_name[name], allowed, sign))
        for limit, allowed, name, sign in rows
        if allowed is not None
    )


def _kept(found: Figure, allowed: float, sign: int) -> bool | None:
    """Whether a figure keeps its limit: sign 1 for a most, -1 for a least."""
    if found.value is None or found.half_interval is None:
        return None
    over = sign * (found.value - allowed)
    reach = found.reach(up=allowed > found.value)
    return None if abs(over) <= reach and reach > 0 else over <= 0
