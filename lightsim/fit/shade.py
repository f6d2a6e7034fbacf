"""How much of the light source lens and camera hide from the subject."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.fit.finding import ACROSS, CLOSE, IN_THE_WAY, Finding, millimetres, move, nearest, shortest
from lightsim.fit.least import clipped, least
from lightsim.fit.regions import Floats, shadow
from lightsim.light.cast import Caster, caster
from lightsim.rig.mesh import corners
from lightsim.rig.place import Part, PlacedRig
from lightsim.sheet import Sheet
from lightsim.sheet.sheet import both

MOST_HIDDEN = 0.25  # of the source's solid angle, about 0.4 stops if it is even: more is in the way; a choice
SOME_HIDDEN = 0.05  # less is not told; a choice
_GLOWS = 0.02  # share of the light that a side must pass on or send back to count as a source; a choice
_POINTS = 4096  # on each part
_SHORT = 0.999  # of the way to a point, so that what it lies on does not hide it
# Kronecker lattice of two dimensions by the root of x^3 = x + 1 (Roberts 2018, from memory).
_ROOT = 1.32471795724474602596
KIND = "shadow of the lens"


@dataclass(frozen=True)
class _Source:
    """A part as the subject sees it, with nothing of the camera before it."""

    part: Part
    point: Floats  # (n, 3) mm on it
    solid_angle: Floats  # (n,) sr that each stands for


def shading(placed: PlacedRig) -> list[Finding]:
    """Whether lens, barrel and camera hide much of the source from the subject; else how far it is from the shadow."""
    camera = [part for part in placed.parts if part.role == "camera"]
    others = [*(head.window for head in placed.heads), *(part for part in placed.parts if part.role != "camera")]
    sources = _sources(others, _caster(others))
    hidden = _blocked(_caster(camera), [source.point for source in sources])
    shares = [float(source.solid_angle[gone].sum()) for source, gone in zip(sources, hidden, strict=True)]
    whole = sum(float(source.solid_angle.sum()) for source in sources)
    if not whole:
        return []
    region = shadow(radius=placed.rig.lens.diameter / 2, distance=placed.working_distance)
    share = sum(shares) / whole
    if share >= SOME_HIDDEN:
        part = sources[int(np.argmax(shares))].part
        behind = clipped(corners(part.mesh), low=placed.working_distance)
        value, _ = least(region, behind)
        sentence = (
            f'The lens shades the subject: it hides {100 * share:.0f} % of the source, most of it on "{part.name}", '
            f"over which its edge reaches {millimetres(max(-value, 0.0))}."
        )
        forward = float(corners(part.mesh)[:, :, 2].max()) - placed.working_distance
        # All of it before the lens front is out of the shadow, too.
        ways = [shortest(region, behind, ACROSS), *([(forward, "toward the subject")] if forward > 0 else [])]
        remedy, verdict = move(min(ways)), IN_THE_WAY if share > MOST_HIDDEN else CLOSE
        return [Finding(KIND, verdict, part.name, max(-value, 0.0), sentence, remedy)]
    room = []
    for source in sources:
        value, _ = least(region, clipped(corners(source.part.mesh), low=placed.working_distance))
        if value < np.inf:
            value = max(value, 0.0)
            sentence = f'{KIND}: {millimetres(value)} to "{source.part.name}".'
            room.append(Finding(KIND, "room", source.part.name, value, sentence))
    return nearest(room)


def _sources(others: list[Part], rays: Caster) -> list[_Source]:
    """What glows toward the subject and is hidden behind nothing but, maybe, the camera."""
    found = []
    for part in others:
        if part.role == "surroundings":
            continue
        point, normal, area = _spread(corners(part.mesh))
        far = np.linalg.norm(point, axis=1)
        facing = -(point * normal).sum(axis=1) / np.maximum(far, 1e-9)
        solid_angle = area * np.abs(facing) / np.maximum(far, 1e-3) ** 2
        front, back = (True, False) if part.role == "head" else _glowing(part.sheet)
        glows = np.where(facing > 0, front, back)
        glows &= ~_blocked(rays, [point])[0]
        if glows.any():
            found.append(_Source(part, point[glows], solid_angle[glows]))
    return found


def _glowing(sheet: Sheet) -> tuple[bool, bool]:
    """Whether front and back of a sheet may send light to the subject."""
    through = sheet.straight + sheet.pores + sheet.forward_transmittance + sheet.diffuse_transmittance
    front, back = (
        through + matt + gloss + metal > _GLOWS
        for matt, gloss, metal in zip(
            both(sheet.diffuse_reflectance), sheet.gloss_by_side, sheet.metal_by_side, strict=True
        )
    )
    # The back of what lets nothing through is not lit: the light is on the other side.
    return front, back and through > _GLOWS


def _spread(corner: Floats) -> tuple[Floats, Floats, float]:
    """Points (n, 3) spread evenly over triangles, the unit normal there (n, 3), and the area [mm^2] of each."""
    cross = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    double = np.linalg.norm(cross, axis=1)
    count = np.arange(_POINTS)
    first, second = ((0.5 + (count + 1) * share) % 1.0 for share in (1 / _ROOT, 1 / _ROOT**2))
    ends = np.cumsum(double)
    number = np.minimum(np.searchsorted(ends, (count + 0.5) / _POINTS * ends[-1]), len(corner) - 1)
    folded = first + second > 1
    first, second = np.where(folded, 1 - first, first), np.where(folded, 1 - second, second)
    chosen = corner[number]
    point = (
        chosen[:, 0] + first[:, None] * (chosen[:, 1] - chosen[:, 0]) + second[:, None] * (chosen[:, 2] - chosen[:, 0])
    )
    return point, cross[number] / np.maximum(double[number], 1e-300)[:, None], float(ends[-1]) / 2 / _POINTS


def _caster(parts: list[Part]) -> Caster:
    corner = np.concatenate([corners(part.mesh) for part in parts])
    return caster(corner.reshape(-1, 3), np.arange(3 * len(corner)).reshape(-1, 3))


def _blocked(rays: Caster, points: list[Floats]) -> list[NDArray[np.bool_]]:
    """Whether anything stands between the subject and each point."""
    found = []
    for point in points:
        far = np.linalg.norm(point, axis=1)
        way = (point / np.maximum(far, 1e-9)[:, None]).astype(np.float32)
        found.append(rays.blocked(np.zeros_like(way), way, _SHORT * far))
    return found
