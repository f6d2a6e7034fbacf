"""Rays traced back from a point: how bright is what they meet, with the cloud connected to where they land.

A landing's even and wide lobes are lit by links to the cloud and the heads. Sharp lobes would meet such links too
seldom, so their light is looked for along a ray drawn from the lobe itself, which may land on a head. What the links
leave out, light sent to the landing by somebody else's sharp lobe, is looked for along a ray as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from lightsim.light.beam import intensity, off_axis
from lightsim.light.cast import MISS, OFFSET
from lightsim.light.cloud import Cloud, Hits, LightByReplicate, ShapedHits, take
from lightsim.light.combine import Cone, paths_in, rays_in, share_of_rays
from lightsim.light.gather import leaving
from lightsim.light.lattice import Lattice
from lightsim.light.scene import Scene
from lightsim.sheet.scatter import chosen_shares, interaction, sample, shares, straight_through
from lightsim.sheet.tables import Sheets
from lightsim.sheet.vectors import Floats, Vector, dot, scaled, taken, vector

_LINKS, _FEWER_LINKS = 8, 2  # of each landing to scattered light: at first, and later when they are many
_HEAD_LINKS = 4  # of each landing to the heads
_FIRST = 2  # lattice dimensions before those of the scattering, three for each time
_ROULETTE_AFTER = 3
_MOST_BOUNCES = 200


@dataclass(frozen=True)
class Rays:
    """Rays on their way back, (n,) each but for start and direction (n, 3)."""

    number: NDArray[np.intp]  # of the ray as it left the point
    owner: NDArray[np.intp]  # of its first landing, once it has landed
    start: NDArray[np.float32]  # mm
    direction: NDArray[np.float32]
    passed: NDArray[np.float64]  # factor on the light found from here on
    whole: NDArray[np.bool_]  # all light of what they meet counts, the heads too; else only what sharp lobes send
    worth: Floats  # (n, others) under the scene's other materials


@dataclass(frozen=True)
class Found:
    """What each first landing sends to the point, (n,) each; one ray may land on several sheets."""

    number: NDArray[np.intp]  # of the ray
    place: NDArray[np.float32]  # (n, 3) mm
    part: NDArray[np.int32]
    luminance: NDArray[np.float64]  # per lm s emitted
    worth: NDArray[np.float32]  # (n, others) what it is worth under the scene's other materials


def luminance(
    cloud: Cloud,
    rays: Rays,
    lattice: Lattice,
    wanted: NDArray[np.bool_],
    rng: np.random.Generator,
    *,
    cones: Sequence[Cone] = (),
) -> Found:
    """Luminance of the wanted parts (p,) where rays meet them.

    lattice: has one path for each ray's number; its dimensions 0 and 1 are taken. cones: where rays go, if
    connections count their own share of the same paths.
    """
    scene = cloud.scene
    rays_a_replicate = len(lattice.paths) // cloud.replicates
    landing, hits = _land(scene, rays)
    first = np.flatnonzero(wanted[scene.part[hits.triangle]])
    landing, hits = replace(_taken(landing, first), owner=np.arange(len(first))), take(hits, first)
    number, place, part = landing.number, np.stack([hits.x, hits.y, hits.z], axis=1), scene.part[hits.triangle]
    found, worth = np.zeros(len(first)), landing.worth
    start, point = hits, rays.start[0]
    for bounce in range(_MOST_BOUNCES):
        lit = np.flatnonzero(landing.whole)
        if len(lit):
            links = _LINKS if bounce == 0 else _FEWER_LINKS
            replicate = (landing.number[lit] // rays_a_replicate).astype(np.int32)
            sent, lit_worth = _lit_by_links(cloud, take(hits, lit), landing.direction[lit], replicate, rng, links)
            if bounce == 0:
                # Scenes with other materials have no sharp lobes, so each landing is lit once.
                worth[lit] *= lit_worth
            found += np.bincount(landing.owner[lit], landing.passed[lit] * sent, len(found))
        if not scene.has_sharp or not len(landing.number):
            break
        rays = _onward(scene, landing, hits, lattice, bounce)
        if not len(rays.number):
            break
        if bounce == 0 and cones:
            rays = _shared(cloud, rays, take(start, rays.owner), landing.direction[rays.owner], point, cones)
        landing, hits = _land(scene, rays)
        # Links bring the light of one replicate, the share that it has in all of it; so must the heads.
        bright = landing.passed * _of_heads(scene, landing, hits) / cloud.replicates
        found += np.bincount(landing.owner, bright, len(found))
        counts = np.flatnonzero(landing.whole | scene.sharp_parts[scene.part[hits.triangle]])
        landing, hits = _taken(landing, counts), take(hits, counts)
    return Found(number, place, part, found, worth)


def _taken(rays: Rays, chosen: NDArray[np.intp]) -> Rays:
    return Rays(*(getattr(rays, field.name)[chosen] for field in fields(Rays)))


def _land(scene: Scene, rays: Rays) -> tuple[Rays, Hits]:
    """Where rays land, once for each sheet that they pass straight through and once where they end: the rays as they
    come there, and the landings, without light."""
    found: list[tuple[Rays, NDArray[np.float32], NDArray[np.int32]]] = []
    while len(rays.number):
        triangle, distance = scene.everything.nearest(rays.start, rays.direction)
        hit = np.flatnonzero(triangle != MISS)
        rays, triangle = _taken(rays, hit), triangle[hit]
        place = rays.start + distance[hit][:, None] * rays.direction
        found.append((rays, place, triangle))
        part = scene.part[triangle]
        clear = np.flatnonzero(scene.sheets.clear[part])
        rays, part, triangle = _taken(rays, clear), part[clear], triangle[clear]
        cosine = (scene.normal[:, triangle].T * rays.direction).sum(axis=1)
        passed = rays.passed * straight_through(scene.sheets, part, cosine)
        worth = rays.worth * scene.crossing_weighed(part, cosine)
        rays = replace(rays, start=place[clear] + np.float32(OFFSET) * rays.direction, passed=passed, worth=worth)
    landed = Rays(*(np.concatenate([getattr(each, f.name) for each, _, _ in found]) for f in fields(Rays)))
    place, triangle = (np.concatenate([each[column] for each in found]) for column in (1, 2))
    facing = (scene.normal[:, triangle].T * landed.direction).sum(axis=1) < 0
    dark = np.zeros(len(triangle), np.float32)
    unlit = np.zeros((len(triangle), 0), np.float32)
    return landed, Hits(place[:, 0], place[:, 1], place[:, 2], triangle, facing, dark, dark.astype(np.int32), unlit)


def _onward(scene: Scene, landing: Rays, hits: Hits, lattice: Lattice, bounce: int) -> Rays:
    """Rays on from where they landed, each along a lobe: any lobe where all light counts, else a sharp one."""
    choice, u, v = lattice.coordinates(_FIRST + 3 * bounce, 3, lattice.paths[landing.number])
    gone: list[Rays] = []
    for sheets, own in (
        (scene.sheets, np.flatnonzero(landing.whole)),
        (scene.sharp, np.flatnonzero(~landing.whole)),
    ):
        if not len(own):
            continue
        part, front = scene.part[hits.triangle[own]], hits.front[own]
        normal = scene.normals(hits.triangle[own])
        heading = vector(landing.direction[own])
        share = shares(sheets, part, front, dot(normal, heading))
        # Straight-through light is followed at every landing, so a lobe is chosen among the others.
        straight = np.float32(0) if share.straight is None else share.straight
        scattered = share.scattered
        alive = scattered > (0 if bounce < _ROULETTE_AFTER else choice[own])
        chosen = choice[own] * scattered if bounce < _ROULETTE_AFTER else choice[own]
        change = scattered if bounce < _ROULETTE_AFTER else np.ones_like(scattered)
        going = np.flatnonzero(alive)
        back = scaled(np.full(1, -1, np.float32), taken(heading, going))
        out, side, weight, shaped = sample(
            sheets,
            part[going],
            front[going],
            taken(normal, going),
            back,
            chosen_shares(share, going),
            (straight + chosen)[going],
            u[own][going],
            v[own][going],
        )
        sharply = shaped & _is_sharp(scene, part[going], front[going], side)
        # The even lobes' own light is linked to; along the ray only what sharp lobes send there is left to find.
        came = _taken(landing, own[going])
        step = scaled(np.float32(OFFSET) * side, taken(normal, going))
        place = taken((hits.x, hits.y, hits.z), own[going])
        gone.append(
            Rays(
                number=came.number,
                owner=came.owner,
                start=np.stack([at + by for at, by in zip(place, step, strict=True)], axis=1).astype(np.float32),
                direction=np.stack(out, axis=1).astype(np.float32),
                passed=came.passed * change[going] * weight,
                whole=sharply,
                worth=came.worth,
            )
        )
    rays = Rays(*(np.concatenate([getattr(each, f.name) for each in gone]) for f in fields(Rays)))
    return _taken(rays, np.flatnonzero(rays.passed > 0))


def _shared(
    cloud: Cloud, rays: Rays, left: Hits, came: NDArray[np.float32], point: NDArray[np.float32], cones: Sequence[Cone]
) -> Rays:
    """Rays that go on from first landings (left, met from point along came), with what they count of paths that
    connections cover too."""
    scene = cloud.scene
    # The part that the light would have left last is the first that the ray meets on its way back.
    met, _ = scene.everything.nearest(rays.start, rays.direction)
    last = scene.part[np.maximum(met, 0)]
    far = np.sqrt((left.x - point[0]) ** 2 + (left.y - point[1]) ** 2 + (left.z - point[2]) ** 2)
    to_light = vector(rays.direction)
    crowd = rays_in(scene, cones, left.triangle, far, vector(-came), to_light)
    counted = share_of_rays(crowd, paths_in(cloud, left.triangle, last, to_light))
    return replace(rays, passed=rays.passed * counted)


def _is_sharp(scene: Scene, part: NDArray[np.int32], front: NDArray[np.bool_], side: Floats) -> NDArray[np.bool_]:
    """Whether the facets, or on the other side the forward lobe, of these landings are sharp, (n,)."""
    same = (side > 0) == front
    facets = scene.sharp.gloss.take(part * 2 + ~front) > 0
    return np.asarray(np.where(same, facets, scene.sharp.forward.take(part) > 0))


def _of_heads(scene: Scene, landing: Rays, hits: Hits) -> NDArray[np.float64]:
    """Luminance of the heads where rays for which they count land on their windows, else 0, (n,)."""
    sent = np.zeros(len(landing.number))
    part = scene.part[hits.triangle]
    for number, lamp in zip(scene.head_part, scene.heads, strict=True):
        own = np.flatnonzero((part == number) & landing.whole)
        cosine = -(landing.direction[own] @ lamp.forward.astype(np.float32)).astype(float)
        profile = intensity(lamp.beam, cosine, off_axis(lamp, landing.direction, sign=-1.0, own=own))
        sent[own] = lamp.share * profile / (lamp.width * lamp.height * np.maximum(cosine, 1e-9))
    return sent


def _lit_by_links(
    cloud: Cloud,
    landing: Hits,
    direction: NDArray[np.float32],
    replicate: NDArray[np.int32],
    rng: np.random.Generator,
    links: int,
) -> tuple[NDArray[np.float64], Floats]:
    """Luminance of each landing against direction (n, 3), by links of all but the sharp lobes, (n,), and what it is
    worth under the scene's other materials, (n, others).

    links: to scattered light of each kind.
    """
    scene = cloud.scene
    found, changed = np.zeros(len(landing.x)), np.zeros((len(landing.x), len(scene.others)))
    normal, out = scene.normals(landing.triangle), vector(-direction)
    cos_out = np.abs(dot(normal, out))
    for group, count in ((cloud.emission, _HEAD_LINKS), (cloud.diffuse, links), (cloud.shaped, links)):
        if not len(group.x):
            continue
        which, owner, scale = _resample(cloud.by_replicate(group), replicate, count, rng)
        source, target = take(group, which), take(landing, owner)
        dx, dy, dz = target.x - source.x, target.y - source.y, target.z - source.z
        square = np.maximum(dx * dx + dy * dy + dz * dz, np.float32(1e-6))
        reach = np.sqrt(square)
        way = (dx / reach, dy / reach, dz / reach)
        if isinstance(source, Hits):
            sent = leaving(scene, scene.blunt, source, way)
            facing = scene.normals(source.triangle)
            away = np.stack(scaled(np.float32(OFFSET) * np.sign(dot(facing, way)), facing), axis=1)
        else:
            sent = np.zeros(len(which), np.float32)
            for lamp_number, lamp in enumerate(scene.heads):
                own = source.head == lamp_number
                cosine = np.stack(taken(way, own), axis=1) @ lamp.forward
                sent[own] = source.light[own] * intensity(lamp.beam, cosine, off_axis(lamp, way, own=own))
            away = OFFSET * np.array([lamp.forward for lamp in scene.heads])[source.head]
        cos_in = -dot(way, taken(normal, owner))
        received = sent * scale * np.abs(cos_in) / square
        worth = np.flatnonzero(received > 0)
        start = (np.stack([source.x, source.y, source.z], axis=1)[worth] + away[worth]).astype(np.float32)
        ray = np.stack(way, axis=1, dtype=np.float32)[worth]
        # Stops short of the landing, so that its own surface does not block it: by more where the light grazes it.
        short = np.minimum(4 * OFFSET / np.abs(cos_in[worth]), 0.5 * reach[worth])
        received = received[worth] * scene.transmission(start, ray, reach[worth] - short)
        towards = vector(-ray)
        target, source, owner, towards = take(target, worth), take(source, worth), owner[worth], vector(-ray)
        sent_on = partial(_sent_on, scene, target, received, cos_in[worth], towards, taken(out, owner))
        value = sent_on(scene.blunt, np.arange(len(worth))) / np.maximum(cos_out[owner], 1e-6)
        found += np.bincount(owner, value, len(found))
        if scene.others:
            ratio = scene.weighed(scene.part[target.triangle], sent_on)
            ratio *= scene.transmission_weighed(start, ray, reach[worth] - short)
            if isinstance(source, Hits):
                ratio *= source.worth * _leaving_weighed(scene, source, taken(way, worth))
            for column in range(len(scene.others)):
                changed[:, column] += np.bincount(owner, value * ratio[:, column], len(found))
    return found, np.where(found[:, None] > 0, changed / np.maximum(found, 1e-30)[:, None], 1).astype(np.float32)


def _leaving_weighed(scene: Scene, source: Hits, way: Vector) -> Floats:
    def sent(sheets: Sheets, own: NDArray[np.intp]) -> Floats:
        return leaving(scene, sheets, take(source, own), taken(way, own))

    return scene.weighed(scene.part[source.triangle], sent)


def _sent_on(
    scene: Scene,
    target: Hits,
    received: Floats,
    cos_in: Floats,
    towards: Vector,
    out: Vector,
    sheets: Sheets,
    own: NDArray[np.intp],
) -> NDArray[np.float64]:
    """Intensity per area in direction out of light received per area, of the landings at these places, (k,)."""
    target, received, cos_in = take(target, own), received[own], cos_in[own]
    towards, out = taken(towards, own), taken(out, own)
    part, lit = scene.part[target.triangle], cos_in > 0
    value = np.zeros(len(part))
    shaped = scene.sheets.shaped.take(part)
    even = np.flatnonzero(~shaped)
    seen = received[even] * interaction(sheets, part[even] * 2 + ~lit[even], cos_in[even])
    some = take(target, even)
    plain = Hits(some.x, some.y, some.z, some.triangle, lit[even], seen, some.replicate, some.worth)
    value[even] = leaving(scene, sheets, plain, taken(out, even))
    if shaped.any():
        other = np.flatnonzero(shaped)
        some = take(target, other)
        x, y, z = taken(towards, other)
        place = (some.x, some.y, some.z, some.triangle, lit[other], received[other], some.replicate, some.worth)
        value[other] = leaving(scene, sheets, ShapedHits(*place, x, y, z, part[other]), taken(out, other))
    return value


def _resample(
    light: LightByReplicate, wanted: NDArray[np.int32], links: int, rng: np.random.Generator
) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """links sources for each landing, from its own replicate, in proportion to their light.

    wanted: (n,) replicate of each landing. Returns source numbers, landing numbers and the factor that keeps the sum
    unbiased, all (k,).
    """
    order = np.argsort(wanted, kind="stable")
    landings = np.bincount(wanted, minlength=len(light.total))
    landings = np.where(light.total > 0, landings, 0)
    owner = np.repeat(order[light.total[wanted[order]] > 0], links)
    replicate = wanted[owner]
    # Systematic sampling: equal steps through the light of a replicate from a random start.
    step = light.total / np.maximum(landings * links, 1)
    rank = np.arange(len(owner)) - np.repeat(np.cumsum(landings * links) - landings * links, landings * links)
    at = light.before[replicate] + (rank + rng.random(len(light.total))[replicate]) * step[replicate]
    place = np.searchsorted(light.edge, at, side="right")
    place = np.clip(place, light.first[replicate], light.first[replicate + 1] - 1)
    # Shuffled within each replicate, or neighbours in the list would all light the same landing.
    place = place[np.lexsort((rng.random(len(place)), replicate))]
    picked = light.order[place]
    scale = light.total[replicate] / (light.light[place] * links)
    return picked, owner, scale.astype(np.float32)
