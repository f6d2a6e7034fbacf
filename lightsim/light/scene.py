"""A placed rig as arrays for the ray caster: triangles, materials, lamps."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.light.cast import MISS, OFFSET, Caster, Rays, caster
from lightsim.light.hidden import Cover, covers
from lightsim.rig.place import Head, Part
from lightsim.sheet.scatter import straight_through
from lightsim.sheet.tables import Sheets, blunt, sharp, sharp_parts, sheets_of
from lightsim.sheet.vectors import Floats, Vector

ROLES = ("head", "diffuser", "surroundings", "camera")


@dataclass(frozen=True)
class Other:
    """Other materials under which light is weighed as well: those of some parts differ."""

    sheets: Sheets
    parts: NDArray[np.bool_]  # (p,) which


@dataclass(frozen=True)
class Scene:
    """Triangles (m) of parts (p) with their materials; heads. World coordinates, mm. Build with build()."""

    parts: tuple[Part, ...]
    heads: tuple[Head, ...]
    head_part: tuple[int, ...]  # number of the part that is each head's window
    corner: NDArray[np.float64]  # (m, 3 corners, 3)
    normal: NDArray[np.float32]  # (3, m) unit, to the front
    part: NDArray[np.int32]  # (m,)
    area: NDArray[np.float64]  # (p,) mm^2
    low: NDArray[np.float64]  # (p, 3) corners of the parts' bounding boxes
    high: NDArray[np.float64]
    sheets: Sheets  # one row a part
    blunt: Sheets  # the same but for the lobes that connections would meet too seldom,
    sharp: Sheets  # and those alone,
    sharp_parts: NDArray[np.bool_]  # (p,) of the parts that have any
    role: NDArray[np.int32]  # (p,) index into ROLES
    covers: tuple[Cover, ...]
    solid: Caster | None  # triangles that nothing passes straight through
    clear: Caster | None  # those that something does
    clear_number: NDArray[np.int32]  # triangle numbers of the clear ones
    everything: Caster
    others: tuple[Other, ...] = ()

    @property
    def has_sharp(self) -> bool:
        """Whether any part has a lobe that connections would meet too seldom."""
        return bool(self.sharp_parts.any())

    def normals(self, triangle: NDArray[np.int32]) -> Vector:
        """Unit normals of the numbered triangles, to their front, by component."""
        x, y, z = self.normal
        return x.take(triangle), y.take(triangle), z.take(triangle)

    def transmission(self, start: Rays, direction: Rays, reach: Floats) -> Floats:
        """Straight-through transmittance along rays up to reach [mm], (n,): 0 where something opaque is between.

        start, direction (n, 3), direction of unit length.
        """
        left = np.ones(len(start), np.float32)
        if self.solid is not None:
            left[self.solid.blocked(start, direction, reach)] = 0
        if self.clear is None:
            return left
        active = np.flatnonzero(left)
        for number, part, cosine in self._crossings(start[active], direction[active], reach[active]):
            left[active[number]] *= straight_through(self.sheets, part, cosine)
        return left

    def weighed(self, part: NDArray[np.int32], value: Callable[[Sheets, NDArray[np.intp]], Floats]) -> Floats:
        """What things on the numbered parts are worth under the other materials, (n, others).

        value: of those at the given places (k,), for given sheets; the worth is its ratio to that for the scene's own.
        """
        worth = np.ones((len(part), len(self.others)), np.float32)
        known: dict[bytes, tuple[NDArray[np.intp], Floats]] = {}
        for column, other in enumerate(self.others):
            key = other.parts.tobytes()
            if key not in known:
                own = np.flatnonzero(other.parts[part])
                known[key] = own, value(self.sheets, own)
            own, base = known[key]
            if len(own):
                changed = value(other.sheets, own)
                worth[own, column] = np.where(base > 0, changed / np.maximum(base, np.float32(1e-30)), 0)
        return worth

    def transmission_weighed(self, start: Rays, direction: Rays, reach: Floats) -> Floats:
        """What straight-through transmittances along rays are worth under the other materials, (n, others)."""
        worth = np.ones((len(start), len(self.others)), np.float32)
        if self.others and self.clear is not None:
            for number, part, cosine in self._crossings(start, direction, reach):
                worth[number] *= self.crossing_weighed(part, cosine)
        return worth

    def crossing_weighed(self, part: NDArray[np.int32], cosine: Floats) -> Floats:
        """What going straight through the numbered parts at these cosines is worth under the other materials."""
        return self.weighed(part, lambda sheets, own: straight_through(sheets, part[own], cosine[own]))

    def _crossings(
        self, start: Rays, direction: Rays, reach: Floats
    ) -> Iterator[tuple[NDArray[np.intp], NDArray[np.int32], Floats]]:
        """Which rays cross a clear sheet within reach, its part and the cosine, one sheet after the other."""
        if self.clear is None:
            return
        active = np.arange(len(start))
        while len(active):
            prim = self.clear.nearest_within(start, direction, reach)
            hit = np.flatnonzero(prim != MISS)
            active, prim, direction, reach, start = active[hit], prim[hit], direction[hit], reach[hit], start[hit]
            if not len(active):
                break
            triangle = self.clear_number[prim]
            normal = self.normal[:, triangle].T
            cosine = (direction * normal).sum(axis=1)
            yield active, self.part[triangle], np.abs(cosine)
            # Distance to the plane: the caster's query with a reach does not return one.
            gap = ((self.corner[triangle, 0] - start) * normal).sum(axis=1) / cosine
            step = (np.maximum(gap, 0) + OFFSET).astype(np.float32)
            start, reach = start + step[:, None] * direction, reach - step

    def distance(self, point: NDArray[np.float64], within: NDArray[np.float64]) -> NDArray[np.float64]:
        """Distance from point (3,) to each part, (p,) mm; inf where it is surely more than within (p,)."""
        apart = np.maximum(np.maximum(self.low - point, point - self.high), 0)
        box = np.sqrt((apart * apart).sum(axis=1))
        result = np.full(len(self.parts), np.inf)
        for number in np.flatnonzero(box <= within):
            result[number] = _to_triangles(point, self.corner[self.part == number])
        return result


def build(parts: Sequence[Part], heads: Sequence[Head]) -> Scene:
    """Scene of placed parts; the windows of the heads are added as parts of their own, first."""
    parts = (*(head.window for head in heads), *parts)
    corner = np.concatenate([part.mesh.vertices[part.mesh.faces] for part in parts])
    owner = np.repeat(np.arange(len(parts), dtype=np.int32), [len(part.mesh.faces) for part in parts])
    cross = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    length = np.linalg.norm(cross, axis=1)
    keep = length > 0
    corner, owner, cross, length = corner[keep], owner[keep], cross[keep], length[keep]
    sheets = sheets_of([part.sheet for part in parts])
    clear = sheets.clear[owner]
    everything = _caster(corner, np.ones(len(corner), bool))
    if everything is None:
        raise ValueError("a scene needs at least one triangle")
    return Scene(
        parts=parts,
        heads=tuple(heads),
        head_part=tuple(range(len(heads))),
        corner=corner,
        normal=np.ascontiguousarray((cross / length[:, None]).T.astype(np.float32)),
        part=owner,
        area=np.asarray(np.bincount(owner, length / 2, len(parts)), float),
        low=np.array([part.mesh.vertices.min(axis=0) for part in parts]),
        high=np.array([part.mesh.vertices.max(axis=0) for part in parts]),
        sheets=sheets,
        blunt=blunt(sheets),
        sharp=sharp(sheets),
        sharp_parts=sharp_parts(sheets),
        role=np.array([ROLES.index(part.role) for part in parts], np.int32),
        covers=covers(parts),
        # The head's window is opaque, so there is always something solid.
        solid=everything if not clear.any() else _caster(corner, ~clear),
        clear=_caster(corner, clear),
        clear_number=np.flatnonzero(clear).astype(np.int32),
        everything=everything,
    )


def _caster(corner: NDArray[np.float64], chosen: NDArray[np.bool_]) -> Caster | None:
    count = int(chosen.sum())
    if not count:
        return None
    return caster(corner[chosen].reshape(-1, 3), np.arange(3 * count).reshape(-1, 3))


def _to_triangles(point: NDArray[np.float64], corner: NDArray[np.float64]) -> float:
    """Least distance from point (3,) to triangles (m, 3, 3): to the plane if the foot is inside, else to an edge."""
    edge = np.roll(corner, -1, axis=1) - corner
    apart = point - corner
    along = (apart * edge).sum(axis=2) / np.maximum((edge * edge).sum(axis=2), 1e-30)
    to_edge = apart - np.clip(along, 0, 1)[:, :, None] * edge
    least = (to_edge * to_edge).sum(axis=2).min(axis=1)
    normal = np.cross(edge[:, 0], edge[:, 1])
    inside = ((np.cross(edge, apart) * normal[:, None, :]).sum(axis=2) >= 0).all(axis=1)
    height = (apart[:, 0] * normal).sum(axis=1) ** 2 / np.maximum((normal * normal).sum(axis=1), 1e-30)
    return float(np.sqrt(np.where(inside, height, least).min()))
