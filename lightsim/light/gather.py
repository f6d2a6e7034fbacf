"""From the light cloud to the arrivals at a point: every vertex connected to it.

Scattering function x geometry x straight-through transmittance of what lies between. Vertices whose lit or
leaving side cannot send light to the point are dropped before any ray is cast.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lightsim.light.arrivals import Arrivals, merge
from lightsim.light.beam import intensity, off_axis
from lightsim.light.cast import OFFSET
from lightsim.light.cloud import Cloud, Emission, Hits, ShapedHits, position, take
from lightsim.light.combine import Cone, paths_in, rays_in, share_of_rays
from lightsim.light.hidden import hidden
from lightsim.light.scene import Scene
from lightsim.sheet.scatter import evaluate, interaction, mean_interaction
from lightsim.sheet.tables import Sheets
from lightsim.sheet.vectors import Floats, Vector, dot, scaled, taken

_CHUNK = 32_768  # vertices at a time


def connect(
    cloud: Cloud,
    point: NDArray[np.float64],
    *,
    leave_out: NDArray[np.bool_] | None = None,
    cones: Sequence[Cone] = (),
) -> Arrivals:
    """Arrivals at point (3,) mm by connecting each vertex of the cloud to it.

    leave_out: (p,) bool, parts whose scattered light is counted elsewhere; cones: where rays count their share of what
    sharp lobes send.
    """
    scene = cloud.scene
    point = np.asarray(point, float)
    silent = np.zeros(len(scene.part), bool)
    silent[cloud.landed_on] = hidden(scene.covers, scene.corner[cloud.landed_on], point)
    if leave_out is not None:
        silent |= leave_out[scene.part]
    groups = [_from_heads(scene, cloud.emission, point, cloud.replicates)]
    for hits in (cloud.diffuse, cloud.shaped):
        for first in range(0, len(hits.x), _CHUNK):
            chosen = first + np.flatnonzero(~silent[hits.triangle[first : first + _CHUNK]])
            if len(chosen):
                groups.append(_from_hits(cloud, take(hits, chosen), point, cones))
    return merge(groups)


def leaving(scene: Scene, sheets: Sheets, hits: Hits, out: Vector) -> Floats:
    """Intensity that each landing sends out in direction out (unit), 1/sr per lm s emitted, (n,).

    sheets: those of the scene, or some of their lobes. The cosine at which light leaves is in it.
    """
    part = scene.part.take(hits.triangle)
    normal = scene.normals(hits.triangle)
    if isinstance(hits, ShapedHits):
        towards = (hits.towards_x, hits.towards_y, hits.towards_z)
        return np.asarray(hits.light * evaluate(sheets, part, hits.front, normal, towards, out))
    cosine = dot(out, normal)
    side = part * 2 + ~hits.front
    same_side = (cosine > 0) == hits.front
    share = np.where(same_side, sheets.back.take(side), sheets.through.take(part))
    value: Floats = hits.light * share * np.abs(cosine) * np.float32(1 / np.pi)
    if sheets.tables is not None:
        value = value * interaction(sheets, side, cosine) / mean_interaction(sheets, side)
    return value


def _from_hits(cloud: Cloud, hits: Hits, point: NDArray[np.float64], cones: Sequence[Cone]) -> Arrivals:
    scene = cloud.scene
    px, py, pz = (np.float32(axis) for axis in point)
    dx, dy, dz = px - hits.x, py - hits.y, pz - hits.z
    square = dx * dx + dy * dy + dz * dz
    reach = np.sqrt(square)
    scale = 1 / np.maximum(reach, np.float32(1e-9))
    out = (dx * scale, dy * scale, dz * scale)
    sent = leaving(scene, scene.sheets, hits, out)
    if cones and isinstance(hits, ShapedHits):
        sent = sent - _left_to_rays(cloud, hits, out, reach, cones)
    weight = sent / np.maximum(square, np.float32(1e-18))
    sends = np.flatnonzero(weight > 0)
    hits, weight, reach = take(hits, sends), weight[sends], reach[sends]
    out, normal = taken(out, sends), scene.normals(hits.triangle)
    step = scaled(np.where(dot(out, normal) > 0, np.float32(OFFSET), np.float32(-OFFSET)), normal)
    start = np.stack([hits.x + step[0], hits.y + step[1], hits.z + step[2]], axis=1, dtype=np.float32)
    direction = np.stack(out, axis=1, dtype=np.float32)
    weight = weight * scene.transmission(start, direction, reach - 2 * OFFSET)
    seen = np.flatnonzero(weight)
    hits, out = take(hits, seen), taken(out, seen)
    part = scene.part.take(hits.triangle)
    worth = hits.worth
    if scene.others:
        worth = worth * scene.weighed(
            part, lambda sheets, own: leaving(scene, sheets, take(hits, own), taken(out, own))
        )
        worth = worth * scene.transmission_weighed(start[seen], direction[seen], reach[seen] - 2 * OFFSET)
    return Arrivals(
        point=point,
        direction=-direction[seen].astype(float),
        origin=np.stack([hits.x, hits.y, hits.z], axis=1).astype(float),
        weight=weight[seen].astype(float),
        part=part,
        straight=np.zeros(len(seen), bool),
        luminance=np.zeros(len(seen)),
        replicate=hits.replicate,
        worth=worth,
        replicates=cloud.replicates,
    )


def _left_to_rays(cloud: Cloud, hits: ShapedHits, out: Vector, reach: Floats, cones: Sequence[Cone]) -> Floats:
    """What rays count of the light that these landings send out, (n,)."""
    scene = cloud.scene
    value = np.zeros(len(hits.x), np.float32)
    own = np.flatnonzero(scene.sharp_parts[scene.part.take(hits.triangle)])
    if not len(own):
        return value
    hits, out = take(hits, own), taken(out, own)
    towards = (hits.towards_x, hits.towards_y, hits.towards_z)
    rays = rays_in(scene, cones, hits.triangle, reach[own], out, towards)
    paths = paths_in(cloud, hits.triangle, hits.last, towards)
    value[own] = leaving(scene, scene.sharp, hits, out) * share_of_rays(rays, paths)
    return value


def _from_heads(scene: Scene, emission: Emission, point: NDArray[np.float64], replicates: int) -> Arrivals:
    dx, dy, dz = (np.float32(axis) - start for axis, start in zip(point, position(emission), strict=True))
    square = np.maximum(dx * dx + dy * dy + dz * dz, np.float32(1e-18))
    reach = np.sqrt(square)
    out = (dx / reach, dy / reach, dz / reach)
    weight, luminance = np.zeros(len(reach)), np.zeros(len(reach))
    start = np.stack(position(emission), axis=1, dtype=np.float32)
    for number, lamp in enumerate(scene.heads):
        own = slice(None) if len(scene.heads) == 1 else np.flatnonzero(emission.head == number)
        x, y, z = (np.float32(axis) for axis in lamp.forward)
        cosine = out[0][own] * x + out[1][own] * y + out[2][own] * z
        profile = intensity(lamp.beam, cosine, off_axis(lamp, out, own=own))
        weight[own] = emission.light[own] * profile / square[own]
        luminance[own] = lamp.share * profile / (lamp.width * lamp.height * np.maximum(cosine, 1e-9))
        start[own] += np.float32(OFFSET) * lamp.forward.astype(np.float32)
    sends = np.flatnonzero(weight)
    direction = np.stack(out, axis=1, dtype=np.float32)[sends]
    passed = scene.transmission(start[sends], direction, reach[sends] - 2 * OFFSET)
    seen = np.flatnonzero(passed)
    chosen, passed = sends[seen], passed[seen]
    return Arrivals(
        point=point,
        direction=-direction[seen].astype(float),
        origin=np.stack(position(emission), axis=1, dtype=float)[chosen],
        weight=weight[chosen] * passed,
        part=np.array(scene.head_part, np.int32)[emission.head[chosen]],
        straight=np.ones(len(seen), bool),
        luminance=luminance[chosen] * passed,
        replicate=emission.replicate[chosen],
        worth=scene.transmission_weighed(start[chosen], direction[seen], reach[chosen] - 2 * OFFSET),
        replicates=replicates,
    )
