"""Arrivals at a point: connections, and rays traced back where connections would spike.

A connection carries 1 / d^2: next to a leaf 2 mm away a few vertices outweigh all others. And a lobe a few degrees
wide is met by few connections, at a great height. For such parts and lobes stratified rays go out from the point
(lightsim.light.back); each lobe of each part is counted by one way only (trials in docs/theory.md).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lightsim.light.arrivals import Arrivals, merge
from lightsim.light.back import Rays, luminance
from lightsim.light.cloud import Cloud
from lightsim.light.combine import Cone, crowd_of
from lightsim.light.gather import connect
from lightsim.light.lattice import Lattice
from lightsim.light.scene import Scene
from lightsim.sheet.vectors import Floats, vector

# Spacings of a part's vertices. Over an evenly lit leaf plain connections err by 3 % at one spacing, 0.6 % at two
# and 0.3 % at three, where the final gather errs by 0.2 to 0.3 % at any; their error bars are honest from one on.
_NEAR = 2.5
_RAYS, _PATHS_A_RAY = 128, 16  # least number of rays from the point, per replicate; more with more paths
_SHARP_RAYS, _PATHS_A_SHARP_RAY = 256, 8  # the same into sharp lobes, which smooth nothing, for each cone
_AHEAD = np.array([0.0, 0.0, 1.0])


def arrivals(cloud: Cloud, point: NDArray[np.float64], *, ignore: Sequence[str] = ()) -> Arrivals:
    """All light arriving at point (3,) mm, but for what the parts named in ignore send (they still block)."""
    point = np.asarray(point, float)
    scene = cloud.scene
    ignored = np.array([part.name in ignore for part in scene.parts])
    near = near_parts(cloud, point) & ~ignored
    left_out = near | ignored
    lobes = scene.sharp_parts & ~left_out
    rays = max(_SHARP_RAYS, cloud.points // _PATHS_A_SHARP_RAY)
    cones = _cones(scene, point, lobes, rays=rays)
    groups = [connect(cloud, point, leave_out=left_out if left_out.any() else None, cones=cones)]
    if near.any():
        everywhere = Cone(_AHEAD, -1.0, max(_RAYS, cloud.points // _PATHS_A_RAY))
        heads = _cones(scene, point, near & scene.sharp_parts, rays=rays)[1:]
        groups.append(_traced_back(cloud, point, near, (everywhere, *heads), whole=True))
    if cones:
        groups.append(_traced_back(cloud, point, lobes, cones, whole=False))
    return merge(groups) if len(groups) > 1 else groups[0]


def near_parts(cloud: Cloud, point: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Parts nearer to point than a few times the spacing of their vertices, (p,)."""
    sheets = cloud.scene.sheets
    sends = sheets.shaped | (sheets.back.reshape(-1, 2).max(axis=1) + sheets.through > 0)
    reach = np.where(sends, _NEAR * cloud.spacing, -1.0)
    return np.asarray(cloud.scene.distance(point, reach) < reach)


def _traced_back(
    cloud: Cloud, point: NDArray[np.float64], wanted: NDArray[np.bool_], cones: Sequence[Cone], *, whole: bool
) -> Arrivals:
    """Light that last left the wanted parts (p,), by rays into cones.

    whole: all that they send, else what rays count of their sharp lobes.
    """
    # The same random numbers at every point: noise then cancels in the ratio of two points.
    rng = np.random.default_rng([cloud.seed, 0x9A7 + whole])
    groups = []
    for cone in cones:
        lattice = Lattice(replicates=cloud.replicates, points=cone.rays, seed=int(rng.integers(2**31)))
        direction = _directions(cone, *lattice.coordinates(0, 2, lattice.paths))
        count = len(direction)
        sent = Rays(
            number=np.arange(count),
            owner=np.zeros(count, np.intp),
            start=np.repeat(point.astype(np.float32)[None, :], count, axis=0),
            direction=direction.astype(np.float32),
            passed=np.ones(count),
            whole=np.full(count, whole),
            worth=np.ones((count, len(cloud.scene.others)), np.float32),
        )
        found = luminance(cloud, sent, lattice, wanted, rng, cones=() if whole else cones)
        lit = np.flatnonzero(found.luminance > 0)
        way = direction[found.number[lit]]
        groups.append(
            Arrivals(
                point=point,
                direction=way,
                origin=found.place[lit].astype(float),
                # Where cones overlap, rays of both stand for the same light.
                weight=found.luminance[lit] / crowd_of(cones, vector(way)),
                part=found.part[lit],
                straight=np.zeros(len(lit), bool),
                luminance=np.zeros(len(lit)),
                replicate=(found.number[lit] // cone.rays).astype(np.int32),
                worth=found.worth[lit],
                replicates=cloud.replicates,
            )
        )
    return merge(groups) if len(groups) > 1 else groups[0]


def _directions(cone: Cone, u: Floats, v: Floats) -> NDArray[np.float64]:
    height, turn = 1 - (1 - cone.least) * u.astype(float), (2 * np.pi) * v.astype(float)
    flat = np.sqrt(np.maximum(1 - height * height, 0))
    right, up = _square_to(cone.axis)
    ways = np.outer(flat * np.cos(turn), right) + np.outer(flat * np.sin(turn), up) + np.outer(height, cone.axis)
    return np.asarray(ways)


def _cones(scene: Scene, point: NDArray[np.float64], lobes: NDArray[np.bool_], *, rays: int) -> tuple[Cone, ...]:
    """Cones from point: one that holds the parts with sharp lobes, and one around each head that forward lobes blur."""
    if not lobes.any():
        return ()
    found = [_cone(point, scene.corner[lobes[scene.part]].reshape(-1, 3), 0.0, rays)]
    sharp = scene.sharp
    blurring = sharp.narrow[lobes & (sharp.forward > 0)]
    if len(blurring):
        # Three standard deviations of the widest.
        margin = float(np.arcsin(min(3 / np.sqrt(2 * float(blurring.min())), 1.0)))
        for number in scene.head_part:
            found.append(_cone(point, scene.corner[scene.part == number].reshape(-1, 3), margin, rays))
    return tuple(found)


def _cone(point: NDArray[np.float64], corners: NDArray[np.float64], margin: float, rays: int) -> Cone:
    """A cone from point that holds triangles of these corners (n, 3) and a margin in radians; all directions if they
    surround it."""
    reach = np.linalg.norm(corners - point, axis=1)
    ways = (corners - point) / np.maximum(reach, 1e-9)[:, None]
    middle = 0.5 * (ways.min(axis=0) + ways.max(axis=0))
    length = float(np.linalg.norm(middle))
    if length < 1e-6 or reach.min() < 1e-6:
        return Cone(_AHEAD, -1.0, rays)
    axis = middle / length
    angle = float(np.arccos(np.clip((ways @ axis).min(), -1, 1))) + margin + 1e-4
    # Wider than a half-space no cone is convex, and triangles may reach out of it.
    return Cone(axis, float(np.cos(angle)) if angle < np.pi / 2 else -1.0, rays)


def _square_to(axis: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    other = np.eye(3)[np.abs(axis).argmin()]
    right = np.cross(axis, other)
    right /= np.linalg.norm(right)
    return right, np.cross(axis, right)
