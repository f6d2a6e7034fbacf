"""From a placed rig to its light: scene, pilot, cloud, and the arrivals at any point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from lightsim.light.arrivals import Arrivals, weighed
from lightsim.light.cloud import Cloud
from lightsim.light.estimate import by_replicate, mean_of
from lightsim.light.forward import trace
from lightsim.light.near import arrivals
from lightsim.light.scene import Scene, build
from lightsim.rig.errors import RigError, told
from lightsim.rig.place import PlacedRig

REPLICATES = 16
MOST = 2**13  # paths per replicate: a box then fills about 300 MB
PILOT = 512  # paths per replicate
FEWEST = 2048  # for the figures: behind plain paper E needs less, but hot spot and highlight do not
SUBJECT = np.zeros(3)
# QMC errors fall faster than 1/sqrt(n): an exponent of 2 would overshoot, and the margin covers the pilot's own error.
_RATE, _MARGIN = 1.6, 1.4


@dataclass(frozen=True)
class Light:
    """The light of a placed rig. at(light, point) gives the arrivals at a point."""

    placed: PlacedRig
    scene: Scene
    cloud: Cloud
    seed: int
    error: float  # relative standard error asked for
    side: Cloud  # a smaller cloud for the many points of ratios, where common noise cancels
    other: int | None = None  # number of the scene's other materials under which arrivals are weighed
    seen: dict[tuple[float, ...], Arrivals] = field(default_factory=dict, repr=False, compare=False)

    def at(self, point: Sequence[float] | NDArray[np.float64]) -> Arrivals:
        """Arrivals at point (3,) mm; asked twice, computed once."""
        return self._ask(self.cloud, point)

    def aside(self, point: Sequence[float] | NDArray[np.float64]) -> Arrivals:
        """Arrivals at point (3,) mm by the smaller cloud: for ratios of points, both taken from it."""
        return self._ask(self.side, point)

    def _ask(self, cloud: Cloud, point: Sequence[float] | NDArray[np.float64]) -> Arrivals:
        key = (float(cloud is self.side), *(float(axis) for axis in point))
        if key not in self.seen:
            self.seen[key] = arrivals(cloud, np.array(key[1:]))
        return self.seen[key] if self.other is None else weighed(self.seen[key], self.other)


def light_of(
    placed: PlacedRig,
    *,
    error: float = 0.005,
    seed: int = 1,
    replicates: int = REPLICATES,
    points: int | None = None,
) -> Light:
    """Trace a placed rig until the illuminance facing the lens is known to the asked relative standard error.

    points : paths per replicate, in place of the number that the pilot asks for
    A pilot of its own random numbers chooses the number of paths; fresh replicates give the figures, because stopping
    on a figure's own spread makes its error bar too small. The number of paths has a ceiling (131,072), so read the
    error bar. Raises RigError if no light at all reaches the subject.
    """
    scene = build(placed.parts, placed.heads)
    pilot = trace(scene, points=PILOT, replicates=replicates, seed=2 * seed)
    needed = _points_for(pilot, error=error)  # and whether there is any light
    points = needed if points is None else points
    cloud = trace(scene, points=points, replicates=replicates, seed=2 * seed + 1)
    # The pilot chose the size of the cloud, not its own, so it may still serve for ratios.
    aside = points // 8
    side = pilot if aside <= PILOT else trace(scene, points=aside, replicates=replicates, seed=2 * seed + 1)
    # What counts as near is decided by another cloud than the one that makes the figure: few landings would
    # otherwise choose their own estimator, and bias it.
    cloud, side = _spaced(cloud, pilot), _spaced(side, cloud)
    return Light(placed, scene, cloud, seed, error, side)


def points_needed(placed: PlacedRig, *, error: float = 0.005, seed: int = 1, replicates: int = REPLICATES) -> int:
    """Paths per replicate that the pilot of light_of asks for. Raises RigError as light_of does."""
    scene = build(placed.parts, placed.heads)
    return _points_for(trace(scene, points=PILOT, replicates=replicates, seed=2 * seed), error=error)


def _points_for(pilot: Cloud, *, error: float) -> int:
    """Paths per replicate, a power of two, for the asked relative standard error."""
    seen = arrivals(pilot, SUBJECT)
    received = seen.weight * np.maximum(seen.direction[:, 2], 0)
    if not received.any():
        received = seen.weight
    if not received.any():
        raise RigError(
            told(
                "",
                what="no light reaches the subject: the heads point elsewhere or something opaque is in the way "
                f"({_where_it_went(pilot)})",
                allowed="rigs that light the subject",
                remedy='aim = "subject" for the head, or move the part that blocks it',
            )
        )
    estimate = mean_of(by_replicate(received, seen.replicate, pilot.replicates))
    needed = PILOT * _MARGIN * (estimate.standard_error / estimate.value / error) ** _RATE
    return int(np.clip(2 ** int(np.ceil(np.log2(max(needed, 1.0)))), FEWEST, MOST))


def _where_it_went(cloud: Cloud) -> str:
    parts = cloud.scene.parts
    ends = [(share, f"ends on {part.name}") for share, part in zip(cloud.tally.absorbed, parts, strict=True)]
    ends += [
        (share, f"misses everything, last from {part.name}")
        for share, part in zip(cloud.tally.escaped, parts, strict=True)
    ]
    return ", ".join(f"{100 * share:.0f} % {where}" for share, where in sorted(ends, reverse=True)[:2] if share > 0.005)


def _spaced(cloud: Cloud, other: Cloud) -> Cloud:
    """The cloud with the spacing of its landings as another one has it, scaled to its own number of paths."""
    return replace(cloud, spacing=other.spacing * np.sqrt(other.points / cloud.points))
