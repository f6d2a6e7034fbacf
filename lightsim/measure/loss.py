"""Light lost: stops against the same head, unobstructed and aimed at the subject from where it stands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lightsim.light.arrivals import Arrivals
from lightsim.light.beam import intensity, off_axis
from lightsim.light.estimate import Estimate
from lightsim.light.forward import trace
from lightsim.light.light import PILOT, SUBJECT, Light
from lightsim.light.near import arrivals
from lightsim.light.scene import build
from lightsim.measure.falloff import FACING_LENS
from lightsim.measure.illuminance import plane_samples
from lightsim.measure.ratio import ratio_in_stops
from lightsim.measure.size import effective_solid_angle, known
from lightsim.rig.place import Head, Part, PlacedRig

MOUNTED = "as mounted"  # the first stage
_NODES = 24  # Gauss-Legendre nodes each way across a window; exact to 1e-9 from half a window away


@dataclass(frozen=True)
class Stage:
    """What one step from the bare head to the finished rig costs."""

    name: str
    stops: Estimate | None  # positive: lost; None where no light is left to compare


def reference_illuminance(heads: tuple[Head, ...]) -> float:
    """Illuminance facing the lens by the heads alone, unobstructed and aimed at the subject [1/mm^2 per lm s].

    Integral over each window of I(angle) cos / (A d^2) by Gauss-Legendre; exact, no sampling. The heads stay where
    they are and turn about the middle of their windows. Source: inverse-square and cosine laws.
    """
    node, weight = np.polynomial.legendre.leggauss(_NODES)
    u, v = (grid.ravel() / 2 for grid in np.meshgrid(node, node))
    share = np.outer(weight, weight).ravel() / 4
    total = 0.0
    for head in heads:
        axis = -head.centre / np.linalg.norm(head.centre)
        right = head.right - (head.right @ axis) * axis
        right = right / np.linalg.norm(right) if np.linalg.norm(right) > 1e-9 else head.up
        up = np.cross(-axis, right)
        point = head.centre + np.outer(u * head.width, right) + np.outer(v * head.height, up)
        reach = np.linalg.norm(point, axis=1)
        aimed = off_axis(replace(head, forward=axis, right=right, up=up), -point / reach[:, None])
        profile = intensity(head.beam, -(point @ axis) / reach, aimed)
        facing = np.maximum(point[:, 2] / reach, 0.0)
        total += head.share * float((share * profile * facing / reach**2).sum())
    return total


def stops_lost(light: Light) -> Estimate | None:
    """Stops lost on a plane that faces the lens, against the reference; positive is lost."""
    return _against(plane_samples(light.at(SUBJECT), FACING_LENS), light)


def mounted(light: Light) -> Arrivals:
    """Arrivals at the subject from the heads as mounted, with camera and lens but no diffuser and no surroundings."""
    return _traced([part for part in light.placed.parts if part.role == "camera"], light)


def stages(light: Light, bare: Arrivals) -> tuple[Stage, ...]:
    """The way from the reference to the rig, one stage after the other; the stops of all add up to stops_lost.

    First the heads as mounted (tilt, barrel in the way), then the parts of the diffuser in the order of the file,
    each put into what stands already, then the surroundings. Every stage is traced with the same random numbers.
    bare: what mounted(light) returns.
    """
    placed = light.placed
    before, result = None, []
    for name, parts in standing(placed):
        if len(parts) == len(placed.parts):
            after = plane_samples(light.at(SUBJECT), FACING_LENS)
        else:
            after = plane_samples(bare if name == MOUNTED else _traced(parts, light), FACING_LENS)
        result.append(Stage(name, _against(after, light) if before is None else ratio_in_stops(before, after)))
        before = after
    return tuple(result)


def standing(placed: PlacedRig) -> Iterator[tuple[str, tuple[Part, ...]]]:
    """The stages by name, and what stands after each: camera and lens, each part of the diffuser, the surroundings."""
    stands = tuple(part for part in placed.parts if part.role == "camera")
    yield MOUNTED, stands
    for part in placed.parts:
        if part.role == "diffuser":
            stands += (part,)
            yield part.name, stands
    if len(stands) < len(placed.parts):
        yield "surroundings", placed.parts


def lens_front(light: Light) -> Estimate | None:
    """Illuminance on the lens front against that on the subject, both on planes square to the axis [stops].

    Mean over four points of the front, half of its area inside them; negative: less than on the subject. It is what
    makes veiling glare. Derived here.
    """
    placed = light.placed
    radius = placed.rig.lens.diameter / 2 * np.sqrt(0.5)
    samples = np.zeros(light.cloud.replicates)
    for x, y in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        # Just in front of the glass, which does not light itself.
        point = np.array([x * radius, y * radius, placed.working_distance - 0.1])
        seen = arrivals(light.side, point, ignore=("lens front", "lens barrel"))
        samples += plane_samples(seen, (0.0, 0.0, -1.0)) / 4
    return ratio_in_stops(samples, plane_samples(light.aside(SUBJECT), FACING_LENS))


def _traced(parts: Sequence[Part], light: Light) -> Arrivals:
    scene = build(parts, light.placed.heads)
    cloud = trace(scene, points=PILOT, replicates=light.cloud.replicates, seed=light.cloud.seed)
    return arrivals(cloud, SUBJECT)


def _against(samples: NDArray[np.float64], light: Light) -> Estimate | None:
    reference = reference_illuminance(light.placed.heads)
    return ratio_in_stops(np.full(len(samples), reference), samples)


def per_doubling(light: Light, bare: Arrivals, solid_angle: Estimate | None) -> Estimate | None:
    """Stops paid for each doubling of the apparent size against the bare heads as mounted [stops]; None if none.

    bare: what mounted(light) returns; solid_angle: the rig's effective one. Errors of the two taken as independent.
    """
    if solid_angle is None or not bare.straight.any():
        return None
    start = known(lambda: effective_solid_angle(bare.only(bare.straight)))
    paid = ratio_in_stops(plane_samples(bare, FACING_LENS), plane_samples(light.at(SUBJECT), FACING_LENS))
    if start is None or paid is None or solid_angle.value < 1.05 * start.value:
        return None
    doublings = float(np.log2(solid_angle.value / start.value))
    spread = np.hypot(solid_angle.standard_error / solid_angle.value, start.standard_error / start.value) / np.log(2)
    value = paid.value / doublings
    error = np.hypot(paid.standard_error, value * spread) / doublings
    return Estimate(value, float(error), paid.replicates)
