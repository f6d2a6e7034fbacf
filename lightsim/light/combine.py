"""Two ways to the light of a sharp lobe, and how much of it each one counts.

A vertex on a sharp lobe can be connected to the point, or be met by a ray from the point that goes on along the lobe.
Where light comes from far or the lobe is narrow the ray does better, else the connection. Each counts a share of the
path in proportion to how densely it covers such paths (balance heuristic: Veach & Guibas, SIGGRAPH 1995, from memory).
The two shares add up to one whatever the densities are taken to be, so these may be rough where light was scattered
more than once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.light.beam import intensity, off_axis
from lightsim.light.cloud import Cloud
from lightsim.light.scene import Scene
from lightsim.sheet.scatter import density
from lightsim.sheet.vectors import Floats, Vector, dot, scaled


@dataclass(frozen=True)
class Cone:
    """Where rays from a point go: evenly into a cone."""

    axis: NDArray[np.float64]  # (3,) unit
    least: float  # cosine of its half-angle; -1: everywhere
    rays: int  # per replicate

    def crowd(self, way: Vector) -> Floats:
        """Rays per sr and replicate in these directions from the point (unit), (n,)."""
        axis = [np.float32(part) for part in self.axis]
        inside = way[0] * axis[0] + way[1] * axis[1] + way[2] * axis[2] >= self.least - 1e-6
        return np.where(inside, np.float32(self.rays / (2 * np.pi * (1 - self.least))), np.float32(0))


def crowd_of(cones: Sequence[Cone], way: Vector) -> Floats:
    """Rays per sr and replicate of several cones together in these directions (unit), (n,)."""
    return np.asarray(sum(cone.crowd(way) for cone in cones))


def rays_in(
    scene: Scene,
    cones: Sequence[Cone],
    triangle: NDArray[np.int32],
    distance: Floats,
    to_point: Vector,
    to_light: Vector,
) -> Floats:
    """How densely rays cover paths from the point over these landings towards the light, (n,) per mm^2 and sr.

    distance: from the point, mm; to_point, to_light: unit, away from the landing.
    """
    normal = scene.normals(triangle)
    cosine = dot(normal, to_point)
    part = scene.part.take(triangle)
    drawn = density(scene.sharp, part, cosine > 0, normal, to_point, to_light)
    crowd = crowd_of(cones, scaled(np.full(1, -1, np.float32), to_point))
    return np.asarray(crowd * np.abs(cosine) / np.maximum(distance * distance, 1e-12) * drawn)


def paths_in(cloud: Cloud, triangle: NDArray[np.int32], last: NDArray[np.int32], to_light: Vector) -> Floats:
    """How densely the cloud covers paths that come to these landings from the part left last, per mm^2 and sr, (n,)."""
    scene = cloud.scene
    cosine = np.abs(dot(scene.normals(triangle), to_light))
    # As if it had left that part evenly.
    crowd = (1 / (np.pi * cloud.spacing**2)).astype(np.float32).take(last)
    for number, lamp in zip(scene.head_part, scene.heads, strict=True):
        own = np.flatnonzero(last == number)
        ahead = np.maximum(-sum(way[own] * part for way, part in zip(to_light, lamp.forward, strict=True)), 1e-6)
        emitted = cloud.points * lamp.share / (lamp.width * lamp.height)
        crowd[own] = emitted * intensity(lamp.beam, ahead, off_axis(lamp, to_light, sign=-1.0, own=own)) / ahead
    return np.asarray(crowd * cosine)


def share_of_rays(rays: Floats, paths: Floats) -> Floats:
    """What rays count of paths that both ways cover so densely, (n,); connections count the rest."""
    return np.asarray(rays / np.maximum(rays + paths, 1e-30))
