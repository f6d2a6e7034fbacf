"""Where the light of a flash is absorbed, and the circle of a part that takes in most for its size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.light.estimate import Estimate, mean_of
from lightsim.light.forward import Landed, emit, follow
from lightsim.light.lattice import Lattice
from lightsim.light.light import Light
from lightsim.light.scene import Scene

Floats = NDArray[np.float64]
PATHS = 512  # per replicate: a circle that takes in a hundredth of the light is then known to some per cent
_CANDIDATES = 64  # circles tried on a part
_WHOLE = 0.5  # of the largest area among them: circles that hang over an edge by more are left out


@dataclass(frozen=True)
class Absorbed:
    """Landings of light and what stays of each, (n,); light is per lm s emitted and sums to the mean of replicates."""

    place: Floats  # (n, 3) mm
    part: NDArray[np.int32]
    taken: Floats  # absorbed
    met: Floats  # all that landed and did not pass straight: what a black sheet in its place would take in
    replicate: NDArray[np.int32]
    replicates: int

    def __post_init__(self) -> None:
        for array in (self.place, self.part, self.taken, self.met, self.replicate):
            array.flags.writeable = False


@dataclass(frozen=True)
class Circle:
    """The circle of a part that takes in most light for its area."""

    middle: tuple[float, float, float]  # mm
    area: float  # of the part within its radius, mm^2
    taken: Estimate  # absorbed there, 1/mm^2 per lm s emitted
    met: Estimate  # landed there, likewise


def absorbed_of(light: Light, *, paths: int = PATHS) -> Absorbed:
    """Follow fresh paths from the heads and keep what each part takes in, where.

    paths : per replicate, a power of two. Raises ValueError otherwise.
    The light cloud keeps only what can be sent on, so a black sheet leaves no trace in it.
    """
    scene, replicates = light.scene, light.cloud.replicates
    lattice = Lattice(replicates=replicates, points=paths, seed=2 * light.seed + 1)
    place, part, taken, met = [np.zeros((0, 3))], [np.zeros(0, np.int32)], [np.zeros(0)], [np.zeros(0)]
    replicate = [np.zeros(0, np.int32)]
    for step in follow(scene, lattice, emit(scene, lattice, lattice.paths)[1]):
        if not isinstance(step, Landed):
            continue
        weight, share = step.paths.weight, step.share
        place.append(np.column_stack(step.landing.position).astype(float))
        part.append(step.landing.part)
        taken.append(weight * (1.0 - share.total))
        met.append(weight if share.straight is None else weight * (1.0 - share.straight))
        replicate.append((step.paths.number // paths).astype(np.int32))
    return Absorbed(
        place=np.concatenate(place),
        part=np.concatenate(part),
        taken=np.concatenate(taken),
        met=np.concatenate(met),
        replicate=np.concatenate(replicate),
        replicates=replicates,
    )


def warmest(scene: Scene, absorbed: Absorbed, part: int, *, radius: float) -> Circle | None:
    """The circle of so many mm in radius that takes in most for its area, on one part; None where nothing lands.

    It is chosen by half of the replicates and measured by the others: by the same, chance would make it too warm. The
    circle is what lies of the part within a ball about a point on it, which is the same on flat sheets.
    """
    own = np.flatnonzero(absorbed.part == part)
    half = absorbed.replicates // 2
    choosing, measuring = own[absorbed.replicate[own] < half], own[absorbed.replicate[own] >= half]
    centres = _candidates(absorbed, choosing)
    if not len(centres):
        return None
    corner = scene.corner[scene.part == part]
    area = np.array([area_within(corner, centre, radius=radius) for centre in centres])
    there = absorbed.place[choosing]
    energy = np.array([absorbed.taken[choosing][_near(there, centre, radius)].sum() for centre in centres])
    whole = area >= _WHOLE * area.max()
    best = int(np.argmax(np.where(whole, energy / np.maximum(area, 1e-9), -1)))
    inside = measuring[_near(absorbed.place[measuring], centres[best], radius)]

    def density(weight: Floats) -> Estimate:
        count = absorbed.replicates
        sums = np.bincount(absorbed.replicate[inside], weight[inside], count)[half:] * count
        return mean_of(np.asarray(sums / area[best]))

    x, y, z = (float(axis) for axis in centres[best])
    return Circle((x, y, z), float(area[best]), density(absorbed.taken), density(absorbed.met))


def area_within(corner: Floats, centre: Floats, *, radius: float) -> float:
    """Area of triangles (m, 3 corners, 3) within so many mm of a point (3,) [mm^2].

    The plane of a triangle cuts the ball in a disc; disc and triangle overlap by the sum, along its edges, of signed
    sectors where an edge runs outside and triangles where it runs inside. Exact; derived here.
    """
    middle = corner.mean(axis=1)
    reach = np.linalg.norm(corner - middle[:, None], axis=2).max(axis=1)
    near = corner[np.linalg.norm(middle - centre, axis=1) <= radius + reach]
    cross = np.cross(near[:, 1] - near[:, 0], near[:, 2] - near[:, 0])
    length = np.linalg.norm(cross, axis=1)
    near, normal = near[length > 0], cross[length > 0] / length[length > 0, None]
    height = ((near[:, 0] - centre) * normal).sum(axis=1)
    square = radius**2 - height**2  # of the disc's radius
    near, normal, height, square = (each[square > 0] for each in (near, normal, height, square))
    foot = near - (centre + height[:, None] * normal)[:, None]  # corners from the middle of the disc
    total = sum(_beside(foot[:, edge], foot[:, (edge + 1) % 3], normal, square) for edge in range(3))
    return float(np.sum(total))


def _beside(start: Floats, end: Floats, normal: Floats, square: Floats) -> Floats:
    """Signed area of disc and triangle (middle of the disc, start, end) in common, (m,)."""
    along = end - start
    a, b = (along * along).sum(axis=1), (start * along).sum(axis=1)
    c = (start * start).sum(axis=1) - square
    root = np.sqrt(np.maximum(b * b - a * c, 0))
    enters, leaves = (np.clip((-b + sign * root) / a, 0, 1)[:, None] for sign in (-1, 1))
    enter, leave = start + enters * along, start + leaves * along

    def turned(one: Floats, other: Floats) -> tuple[Floats, Floats]:
        return (np.cross(one, other) * normal).sum(axis=1), (one * other).sum(axis=1)

    sectors = np.arctan2(*turned(start, enter)) + np.arctan2(*turned(leave, end))
    return np.asarray((square * sectors + turned(enter, leave)[0]) / 2)


def _candidates(absorbed: Absorbed, chosen: NDArray[np.intp]) -> Floats:
    """Places of landings in equal steps of what they take in, (k, 3) mm."""
    edge = np.cumsum(absorbed.taken[chosen])
    if not len(edge) or not edge[-1] > 0:
        return np.zeros((0, 3))
    steps = (np.arange(_CANDIDATES) + 0.5) / _CANDIDATES * edge[-1]
    return np.asarray(absorbed.place[chosen[np.unique(np.searchsorted(edge, steps))]])


def _near(place: Floats, centre: Floats, radius: float) -> NDArray[np.bool_]:
    return np.asarray(((place - centre) ** 2).sum(axis=1) <= radius**2)
