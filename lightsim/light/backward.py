"""A second estimator, from the point back to the heads. It exists to check the first.

It shares scene and materials with the forward cloud and nothing else: independent random numbers, paths from the
point, one connection to a random spot of each head's window at every bounce.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.light.beam import intensity
from lightsim.light.cast import MISS, OFFSET
from lightsim.light.estimate import Estimate, mean_of
from lightsim.light.scene import Scene
from lightsim.rig.place import Head
from lightsim.sheet.scatter import (
    Floats,
    interaction,
    lambertian,
    metal_lobe,
    reflect_off_metal,
    straight_through,
    vector,
)

_ROULETTE_AFTER = 4
_MOST_BOUNCES = 1000
Points = NDArray[np.float64]  # (n, 3)


def illuminance(
    scene: Scene, point: Points, normal: Points, *, paths: int = 8192, replicates: int = 16, seed: int = 0
) -> Estimate:
    """Illuminance at point (3,) on a plane of unit normal (3,), 1/mm^2 per lm s emitted.

    paths: per replicate.
    """
    rng = np.random.default_rng([seed, 0xBAC])
    samples = np.empty(replicates)
    point, normal = np.asarray(point, float), np.asarray(normal, float)
    for replicate in range(replicates):
        start = np.repeat(point[None, :], paths, axis=0)
        sky = lambertian(vector(np.tile(normal, (paths, 1))), _strata(rng, paths), rng.random(paths))
        value = np.pi * radiance(scene, start, np.stack(sky, axis=1), rng).mean()
        for lamp in scene.heads:
            spot = _spots(lamp, rng, paths)
            way, reach = _unit(spot - start)
            cosine = np.maximum(way @ normal, 0)
            light = lamp.share * intensity(lamp.beam, -(way @ lamp.forward)) / reach**2
            value += float((light * cosine * _passed(scene, lamp, start, way, reach)).mean())
        samples[replicate] = value
    return mean_of(samples)


def radiance(scene: Scene, start: Points, direction: Points, rng: np.random.Generator) -> NDArray[np.float64]:
    """Luminance seen from start along direction (unit), both (n, 3): scattered light only, one sample each."""
    seen = np.zeros(len(start))
    number = np.arange(len(start))
    throughput = np.ones(len(start))
    for bounce in range(_MOST_BOUNCES):
        triangle, distance = scene.everything.nearest(start.astype(np.float32), direction.astype(np.float32))
        hit = np.flatnonzero(triangle != MISS)
        if not len(hit):
            break
        number, throughput, triangle = number[hit], throughput[hit], triangle[hit]
        direction = direction[hit]
        place = start[hit] + distance[hit].astype(float)[:, None] * direction
        normal = scene.normal[:, triangle].T.astype(float)
        front = (normal * direction).sum(axis=1) < 0
        facing = np.where(front[:, None], normal, -normal)
        surface = _Surface(scene, scene.part[triangle], front, facing, -direction)
        place = place + OFFSET * facing
        behind = place - 2 * OFFSET * facing
        seen += np.bincount(number, throughput * surface.from_heads(place, behind, rng), len(seen))
        choice = rng.random(len(number))
        if bounce < _ROULETTE_AFTER:
            choice *= surface.total
            throughput = throughput * surface.total
        going = np.flatnonzero(choice < surface.total)
        direction, ahead, change = surface.sample(choice, rng)
        number, throughput = number[going], (throughput * change)[going]
        direction = direction[going]
        start = np.where(ahead[going, None], behind[going], place[going])
    return seen


class _Surface:
    """What n points seen along -out do with light; facing is the unit normal on the seen side."""

    def __init__(
        self, scene: Scene, part: NDArray[np.int32], front: NDArray[np.bool_], facing: Points, out: Points
    ) -> None:
        sheets, side = scene.sheets, 2 * part + ~front
        self.scene, self.facing, self.out = scene, facing, out
        self.cos_out = np.maximum((facing * out).sum(axis=1), 1e-9)
        self.normal_incidence = sheets.straight[part].astype(float)
        self.straight = straight_through(self.normal_incidence, self.cos_out)
        self.lobe = interaction(self.normal_incidence, self.cos_out)
        self.mean = sheets.mean_interaction[part].astype(float)
        self.back = sheets.reflectance[side].astype(float)
        self.through = sheets.transmittance[part].astype(float)
        self.metal = sheets.metal[side].astype(float)
        self.roughness = sheets.roughness[part].astype(float)
        self.total = self.straight + self.metal + self.lobe * (self.back + self.through)

    def from_heads(self, place: Points, behind: Points, rng: np.random.Generator) -> NDArray[np.float64]:
        """Luminance by light straight from the heads, (n,)."""
        value = np.zeros(len(place))
        for lamp in self.scene.heads:
            spot = _spots(lamp, rng, len(place))
            way, reach = _unit(spot - place)
            cosine = (way * self.facing).sum(axis=1)
            lit = cosine > 0
            lobe = self.lobe * interaction(self.normal_incidence, cosine) / self.mean / np.pi
            scattered = np.where(lit, self.back, self.through) * lobe * np.abs(cosine)
            shiny = metal_lobe(self.metal, self.roughness, vector(self.facing), vector(way), vector(self.out))
            scattered += shiny * np.maximum(cosine, 0) / self.cos_out
            light = lamp.share * intensity(lamp.beam, -(way @ lamp.forward)) / reach**2 * scattered
            worth = np.flatnonzero(light)
            start = np.where(lit[worth, None], place[worth], behind[worth])
            value[worth] += light[worth] * _passed(self.scene, lamp, start, way[worth], reach[worth])
        return value

    def sample(
        self, choice: NDArray[np.float64], rng: np.random.Generator
    ) -> tuple[Points, NDArray[np.bool_], NDArray[np.float64]]:
        """Where light came from: unit direction (n, 3), whether from behind (n,), factor on the throughput (n,)."""
        count = len(choice)
        onward = choice < self.straight
        shiny = ~onward & (choice < self.straight + self.metal)
        behind = onward | (choice >= self.straight + self.metal + self.lobe * self.back)
        side = np.where(behind, -1.0, 1.0)[:, None] * self.facing
        u, v = rng.random(count), rng.random(count)
        direction = np.stack(lambertian(vector(side), u, v), axis=1)
        cosine = (direction * self.facing).sum(axis=1)
        change = interaction(self.normal_incidence, cosine) / self.mean
        turned, weight = reflect_off_metal(self.roughness, vector(self.facing), vector(self.out), u, v)
        direction = np.where(shiny[:, None], np.stack(turned, axis=1), direction)
        direction = np.where(onward[:, None], -self.out, direction)
        factor = np.asarray(np.where(onward, 1.0, np.where(shiny, weight, change)))
        return np.asarray(direction), np.asarray(behind), factor


def _unit(apart: Points) -> tuple[Points, NDArray[np.float64]]:
    reach = np.maximum(np.sqrt((apart * apart).sum(axis=1)), 1e-9)
    return apart / reach[:, None], reach


def _spots(lamp: Head, rng: np.random.Generator, count: int) -> Points:
    across, upward = (rng.random((2, count)) - 0.5) * [[lamp.width], [lamp.height]]
    return np.asarray(lamp.centre + across[:, None] * lamp.right + upward[:, None] * lamp.up)


def _strata(rng: np.random.Generator, count: int) -> NDArray[np.float64]:
    return (rng.permutation(count) + rng.random(count)) / count


def _passed(scene: Scene, lamp: Head, start: Points, way: Points, reach: NDArray[np.float64]) -> Floats:
    # Stops short of the window, which would block its own light; reach may be from the far side of a thin sheet.
    short = 4 * OFFSET / np.maximum(-(way @ lamp.forward), 1e-3)
    return scene.transmission(start.astype(np.float32), way.astype(np.float32), reach - short)
