"""A second estimator, from the point back to the heads. It exists to check the first.

It shares scene and materials with the forward cloud and nothing else: independent random numbers, paths from the
point, one connection to a random spot of each head's window at every bounce.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.light.beam import intensity, off_axis
from lightsim.light.cast import MISS, OFFSET
from lightsim.light.estimate import Estimate, mean_of
from lightsim.light.scene import Scene
from lightsim.rig.place import Head
from lightsim.sheet.scatter import Shares, chosen_shares, evaluate, sample, shares
from lightsim.sheet.vectors import Floats, Vector, lambertian, taken, vector

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
            light = lamp.share * _toward(lamp, way) / reach**2
            value += float((light * cosine * _passed(scene, lamp, start, way, reach)).mean())
        samples[replicate] = value
    return mean_of(samples)


def radiance(scene: Scene, start: Points, direction: Points, rng: np.random.Generator) -> NDArray[np.float64]:
    """Luminance seen from start along direction (unit), both (n, 3): scattered light only, one sample each.

    A connection to a head would seldom meet a sharp lobe, so there the ray itself has to land on the head.
    """
    seen = np.zeros(len(start))
    number = np.arange(len(start))
    throughput = np.ones(len(start))
    landing_counts = np.zeros(len(start), bool)
    for bounce in range(_MOST_BOUNCES):
        triangle, distance = scene.everything.nearest(start.astype(np.float32), direction.astype(np.float32))
        hit = np.flatnonzero(triangle != MISS)
        if not len(hit):
            break
        number, throughput, triangle = number[hit], throughput[hit], triangle[hit]
        direction, landing_counts = direction[hit], landing_counts[hit]
        part = scene.part[triangle]
        own = throughput * landing_counts * _window(scene, part, direction)
        place = start[hit] + distance[hit].astype(float)[:, None] * direction
        normal = scene.normal[:, triangle].T.astype(float)
        front = (normal * direction).sum(axis=1) < 0
        facing = np.where(front[:, None], normal, -normal)
        place = place + OFFSET * facing
        behind = place - 2 * OFFSET * facing
        at = _Surface(scene, part, front, facing, -direction)
        seen += np.bincount(number, own + throughput * at.from_heads(place, behind, rng), len(seen))
        choice = rng.random(len(number))
        if bounce < _ROULETTE_AFTER:
            choice *= at.share.total
            throughput = throughput * at.share.total
        going = np.flatnonzero(choice < at.share.total)
        direction, ahead, change, sharp = at.sample(choice, going, rng)
        straight = np.zeros(len(going), bool) if at.share.straight is None else (choice < at.share.straight)[going]
        landing_counts = sharp | (straight & landing_counts[going])
        number, throughput = number[going], throughput[going] * change
        start = np.where(ahead[:, None], behind[going], place[going])
    return seen


def _toward(lamp: Head, way: Points) -> NDArray[np.float64]:
    """Intensity per lumen of a head against directions that lead to it, (n,)."""
    return intensity(lamp.beam, -(way @ lamp.forward), off_axis(lamp, way, sign=-1.0))


def _window(scene: Scene, part: NDArray[np.int32], direction: Points) -> NDArray[np.float64]:
    """Luminance of the heads' windows against direction where part is one, else 0, (n,)."""
    value = np.zeros(len(part))
    for number, lamp in zip(scene.head_part, scene.heads, strict=True):
        cosine = np.maximum(-(direction @ lamp.forward), 1e-9)
        bright = lamp.share * _toward(lamp, direction) / (lamp.width * lamp.height * cosine)
        value = np.where(part == number, bright, value)
    return value


class _Surface:
    """What n points seen along -out do with light; facing is the unit normal on the seen side."""

    def __init__(
        self, scene: Scene, part: NDArray[np.int32], front: NDArray[np.bool_], facing: Points, out: Points
    ) -> None:
        self.scene, self.part, self.front, self.out = scene, part, front, vector(out)
        self.normal: Vector = vector(np.where(front[:, None], facing, -facing))
        self.facing = facing
        self.cos_out = np.maximum((facing * out).sum(axis=1), 1e-9)
        self.share: Shares = shares(scene.sheets, part, front, self.cos_out)

    def from_heads(self, place: Points, behind: Points, rng: np.random.Generator) -> NDArray[np.float64]:
        """Luminance by light straight from the heads, but for sharp lobes, (n,)."""
        value = np.zeros(len(place))
        for lamp in self.scene.heads:
            spot = _spots(lamp, rng, len(place))
            way, reach = _unit(spot - place)
            lit = (way * self.facing).sum(axis=1) > 0
            # Reciprocal: lit from out it would send to way what it sends to out lit from way.
            scattered = evaluate(self.scene.blunt, self.part, self.front, self.normal, self.out, vector(way))
            light = lamp.share * _toward(lamp, way) / reach**2 * scattered
            worth = np.flatnonzero(light)
            start = np.where(lit[worth, None], place[worth], behind[worth])
            value[worth] += light[worth] * _passed(self.scene, lamp, start, way[worth], reach[worth])
        return value

    def sample(
        self, choice: NDArray[np.float64], going: NDArray[np.intp], rng: np.random.Generator
    ) -> tuple[Points, NDArray[np.bool_], NDArray[np.float64], NDArray[np.bool_]]:
        """Where the light of those that go on came from: unit direction (k, 3), whether from behind, factor on the
        throughput, whether by a sharp lobe, (k,) each."""
        count = len(going)
        part, front = self.part[going], self.front[going]
        out, side, weight, shaped = sample(
            self.scene.sheets,
            part,
            front,
            taken(self.normal, going),
            taken(self.out, going),
            chosen_shares(self.share, going),
            choice[going],
            rng.random(count),
            rng.random(count),
        )
        behind = (side > 0) != front
        sharp = self.scene.sharp
        narrow = np.where(behind, sharp.forward[part] > 0, sharp.gloss[2 * part + ~front] > 0)
        return np.stack(out, axis=1), np.asarray(behind), np.asarray(weight, float), np.asarray(shaped & narrow)


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
