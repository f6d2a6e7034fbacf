"""Single light paths of a rig for the eye: how light gets to the subject, and where the rest of it goes.

Those that reach the subject end as the arrivals there do: in proportion to the light that they bring. Where such light
was last scattered is lit by one landing of a small tracing, chosen in proportion to what it sends there. The others
are as the heads emit them. Every leg is a line along which light truly goes; nothing is drawn to look well.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lightsim.light.arrivals import Arrivals
from lightsim.light.beam import intensity, off_axis
from lightsim.light.cast import MISS, OFFSET
from lightsim.light.cloud import Emission, ShapedHits, join, position, take
from lightsim.light.forward import Landed, Missed, emit, follow
from lightsim.light.gather import leaving
from lightsim.light.lattice import Lattice
from lightsim.light.light import SUBJECT, Light
from lightsim.light.scene import Scene
from lightsim.sheet.scatter import evaluate, shares
from lightsim.sheet.vectors import Floats, Vector, dot, taken, vector

AT_SUBJECT, MISSED, SWALLOWED, FADED = "subject", "missed everything", "swallowed", "too little left"
LEAST_LEFT = 1 / 64  # six stops: paths with less are followed no further
BLACK = 1 / 8  # a landing that leaves no more than this swallows the path
ONWARD = 10_000.0  # mm that a path goes on after it has left the rig
_TRACED = 1024  # paths of the tracing that lights the last landings
_CHOICES = 4  # times as many paths are traced as others are shown, as some weigh more
_TRIES = 16  # landings tried at a time, and
_ROUNDS = 4  # how often, until one is seen from the last landing
_NEAR = 0.02  # mm; where a ray from the subject must meet the landing that sent the light
_SHEETS = 40  # clear ones behind each other

Row = NDArray[np.float64]  # (3,) mm or a unit vector


@dataclass(frozen=True)
class LightPath:
    """One path of light from the window of a head to where it ends.

    Each point is where it left a head, landed on a part or passed straight through a sheet, in this order; the last one
    is the subject, where it was swallowed or given up, or a point far out. World coordinates.
    """

    points: NDArray[np.float64]  # (k, 3) mm
    left: NDArray[np.float64]  # (k - 1,) share of its light that it still carries on each leg; 1 on the first
    parts: tuple[int, ...]  # numbers in the scene of the parts at the points: k, or k - 1 where it ends on none
    names: tuple[str, ...]  # their names
    reaches: bool  # ends at the subject
    end: str  # AT_SUBJECT, MISSED, SWALLOWED by the part last named, or FADED

    def __post_init__(self) -> None:
        self.points.flags.writeable = False
        self.left.flags.writeable = False


@dataclass(frozen=True)
class _Traced:
    """Followed paths: where they left the heads, and each of their n landings, bounce by bounce."""

    emission: Emission
    hits: ShapedHits  # (n,)
    number: NDArray[np.int64]  # (n,) of the path
    after: NDArray[np.float64]  # (n,) share of its light that it carries after the landing
    out: dict[int, Row]  # direction in which a path left the rig
    weight: NDArray[np.float64]  # of each path as it set out on the last leg, 1 on average, without what was absorbed


@dataclass
class _Line:
    """A path in the making."""

    points: list[Row]
    left: list[float]
    parts: list[int]

    def land(self, scene: Scene, place: Row, triangle: int, heading: Row) -> None:
        """Go on to a landing, and lose what is absorbed there."""
        part = np.array([scene.part[triangle]])
        cosine = np.array([scene.normal[:, triangle] @ heading], np.float32)
        kept = float(shares(scene.sheets, part, cosine < 0, cosine).total[0])
        self.add(place, int(part[0]), self.left[-1] * min(kept, 1.0))

    def add(self, place: Row, part: int, left: float) -> None:
        """Go on to a landing after which so much is left."""
        self.points.append(place)
        self.parts.append(part)
        self.left.append(left)


def paths_of(light: Light, *, reaching: int = 24, others: int = 24) -> tuple[LightPath, ...]:
    """Light paths of a rig: so many that reach the subject, then so many as the heads emit them, whatever becomes of
    them.

    The first are chosen in proportion to the light that they bring to the subject, the second alike. Followed no
    further than to LEAST_LEFT or to where something black swallows them; ends on the last leg of those that leave the
    rig lie ONWARD away. The same light gives the same paths.
    """
    rng = np.random.default_rng([light.seed, 0x5EE])
    return (*_reaching(light, reaching, rng), *_others(light.scene, others, rng))


def _reaching(light: Light, count: int, rng: np.random.Generator) -> Iterator[LightPath]:
    scene, seen = light.scene, light.at(SUBJECT)
    if not count or not seen.weight.any():
        return
    traced = _trace(scene, _TRACED, rng, cut=False)
    # In order of part and place around the axis, so that an even choice takes of each its due.
    order = np.lexsort((np.arctan2(seen.direction[:, 1], seen.direction[:, 0]), seen.part, seen.straight))
    chosen = order[_evenly(seen.weight[order], count, rng)]
    spare = rng.choice(len(seen.weight), 4 * count, p=seen.weight / seen.weight.sum())
    found = 0
    for arrival in (*chosen, *spare):
        path = _to_subject(scene, traced, seen, int(arrival), rng)
        if path is not None:
            found += 1
            yield path
        if found == count:
            return


def _to_subject(
    scene: Scene, traced: _Traced, seen: Arrivals, arrival: int, rng: np.random.Generator
) -> LightPath | None:
    """The path of one arrival; None if nothing is found that sends light there."""
    origin, back = seen.origin[arrival], seen.direction[arrival]
    part = int(seen.part[arrival])
    if seen.straight[arrival]:
        line = _Line([origin], [1.0], [part])
    else:
        last = _met(scene, SUBJECT, back, part, float(np.linalg.norm(origin - SUBJECT)))
        if last is None:
            return None
        place, triangle = last
        lit = _lit(scene, traced, place, triangle, -back, rng)
        if lit is None:
            return None
        line = lit
        heading = place - line.points[-1]
        _pass(scene, line, place)
        line.land(scene, place, triangle, heading / np.linalg.norm(heading))
    _pass(scene, line, SUBJECT)
    return _finished(scene, line, SUBJECT, AT_SUBJECT)


def _lit(scene: Scene, traced: _Traced, place: Row, triangle: int, out: Row, rng: np.random.Generator) -> _Line | None:
    """A path to a landing that sends some of its light in direction out (unit): up to its last stop before."""
    emission, hits = traced.emission, traced.hits
    heads = len(emission.x)
    start = np.stack([np.concatenate(pair) for pair in zip(position(emission), position(hits), strict=True)], axis=1)
    apart = place.astype(np.float32) - start
    square = np.maximum((apart * apart).sum(axis=1), np.float32(1e-12))
    way = vector(apart / np.sqrt(square)[:, None])
    sent = np.concatenate(
        [
            _from_heads(scene, emission, taken(way, slice(heads))),
            leaving(scene, scene.sheets, hits, taken(way, slice(heads, None))),
        ]
    )
    normal = scene.normals(np.full(len(start), triangle, np.int32))
    towards: Vector = (-way[0], -way[1], -way[2])
    cosine = dot(normal, towards)
    part = scene.part.take(np.full(len(start), triangle))
    onward = vector(np.tile(out.astype(np.float32), (len(start), 1)))
    brought = sent / square * np.abs(cosine) * evaluate(scene.sheets, part, cosine > 0, normal, towards, onward)
    edge = np.cumsum(brought, dtype=float)
    if not edge[-1] > 0:
        return None
    ahead = np.array([lamp.forward for lamp in scene.heads])[emission.head]
    leaves = scene.normal[:, hits.triangle].T
    leaves = leaves * np.sign((leaves * apart[heads:]).sum(axis=1))[:, None]
    start = (start + OFFSET * np.concatenate([ahead, leaves])).astype(np.float32)
    for _ in range(_ROUNDS):
        tried = np.searchsorted(edge, rng.random(_TRIES) * edge[-1], side="right").clip(max=len(start) - 1)
        direction, reach = np.stack(taken(way, tried), axis=1), np.sqrt(square[tried]) - 2 * OFFSET
        free = np.flatnonzero(rng.random(_TRIES) < scene.transmission(start[tried], direction, reach))
        if len(free):
            first = int(tried[free[0]])
            return _begun(scene, traced, first) if first < heads else _up_to(scene, traced, first - heads)
    return None


def _from_heads(scene: Scene, emission: Emission, way: Vector) -> Floats:
    """Intensity that each point of the windows sends in a direction, 1/sr per lm s emitted, (n,)."""
    value = np.zeros(len(emission.x))
    for number, lamp in enumerate(scene.heads):
        own = np.flatnonzero(emission.head == number)
        cosine = sum(axis[own] * ahead for axis, ahead in zip(way, lamp.forward, strict=True))
        profile = intensity(lamp.beam, np.asarray(cosine), off_axis(lamp, way, own=own))
        value[own] = emission.light[own] * profile
    return value


def _begun(scene: Scene, traced: _Traced, number: int) -> _Line:
    """The path of this number as it leaves its head."""
    emission = traced.emission
    start = np.array([axis[number] for axis in position(emission)], float)
    return _Line([start], [1.0], [scene.head_part[emission.head[number]]])


def _up_to(scene: Scene, traced: _Traced, landing: int) -> _Line:
    """The path of this landing up to it."""
    number = int(traced.number[landing])
    line = _begun(scene, traced, number)
    own = np.flatnonzero(traced.number[: landing + 1] == number)
    place = np.stack(position(take(traced.hits, own)), axis=1).astype(float)
    for each, point in zip(own, place, strict=True):
        line.add(point, int(scene.part[traced.hits.triangle[each]]), float(traced.after[each]))
    return line


def _others(scene: Scene, count: int, rng: np.random.Generator) -> Iterator[LightPath]:
    if not count:
        return
    paths = 2 ** int(np.ceil(np.log2(max(_CHOICES * count, 64))))
    traced = _trace(scene, paths, rng, cut=True)
    for number in rng.permutation(_evenly(traced.weight, count, rng)):
        landings = np.flatnonzero(traced.number == number)
        line = _up_to(scene, traced, int(landings[-1])) if len(landings) else _begun(scene, traced, int(number))
        if int(number) in traced.out:
            yield _finished(scene, line, line.points[-1] + ONWARD * traced.out[int(number)], MISSED)
        else:
            end = SWALLOWED if line.left[-1] <= BLACK * line.left[-2] else FADED
            yield LightPath(
                points=np.array(line.points),
                left=np.array(line.left[:-1]),
                parts=tuple(line.parts),
                names=tuple(scene.parts[part].name for part in line.parts),
                reaches=False,
                end=end,
            )


def _trace(scene: Scene, paths: int, rng: np.random.Generator, *, cut: bool) -> _Traced:
    """Follow so many paths; cut: to where they are shown no further, and none ends at random before."""
    lattice = Lattice(replicates=1, points=paths, seed=int(rng.integers(2**31)))
    emission, sent = emit(scene, lattice, lattice.paths)
    left, weight = np.ones(paths), np.ones(paths)
    under_way = np.ones(paths, bool)
    hits: list[ShapedHits] = []
    numbers, afters = [np.zeros(0, np.int64)], [np.zeros(0)]
    out: dict[int, Row] = {}
    steps = follow(scene, lattice, sent, roulette_after=10**6) if cut else follow(scene, lattice, sent)
    for step in steps:
        number = step.paths.number.astype(np.int64)
        shown = under_way[number]
        weight[number[shown]] = (step.paths.weight * paths / np.maximum(left[number], 1e-30))[shown]
        if isinstance(step, Missed):
            gone = np.flatnonzero(step.out & shown)
            out |= dict(zip(number[gone].tolist(), step.paths.direction[gone].astype(float), strict=True))
            under_way[number[gone]] = False
        else:
            own = np.flatnonzero(shown)
            kept = np.minimum(step.share.total[own].astype(float), 1.0)
            left[number[own]] *= kept
            hits.append(take(_landings(step), own))
            numbers.append(number[own])
            afters.append(left[number[own]])
            if cut:
                ends = (kept <= BLACK) | (left[number[own]] < LEAST_LEFT)
                under_way[number[own[ends]]] = False
        if not under_way.any():
            break
    return _Traced(emission, join(ShapedHits, hits), np.concatenate(numbers), np.concatenate(afters), out, weight)


def _landings(step: Landed) -> ShapedHits:
    landing, paths = step.landing, step.paths
    x, y, z = landing.heading
    light, none = paths.weight.astype(np.float32), np.zeros(len(paths.number), np.int32)
    return ShapedHits(
        *landing.position, landing.triangle, landing.front, light, none, paths.worth, -x, -y, -z, paths.last
    )


def _evenly(weight: NDArray[np.float64], count: int, rng: np.random.Generator) -> NDArray[np.intp]:
    """Numbers of so many of n things, in proportion to their weight, at even steps."""
    edge = np.cumsum(weight)
    mark = (np.arange(count) + rng.random()) / count * edge[-1]
    return np.asarray(np.searchsorted(edge, mark, side="right").clip(max=len(weight) - 1))


def _pass(scene: Scene, line: _Line, end: Row) -> None:
    """Go on straight towards end, landing on each clear sheet between."""
    start = line.points[-1]
    reach = float(np.linalg.norm(end - start))
    heading = (end - start) / reach
    for place, triangle, far in _along(scene, start, heading):
        if far > reach - 2 * OFFSET or not scene.sheets.clear[scene.part[triangle]]:
            return
        if far > 2 * OFFSET:
            line.land(scene, place, triangle, heading)


def _met(scene: Scene, start: Row, heading: Row, part: int, reach: float) -> tuple[Row, int] | None:
    """Where on this part a ray lands at about this distance, and the triangle."""
    for place, triangle, far in _along(scene, start, heading):
        if abs(far - reach) < _NEAR and scene.part[triangle] == part:
            return place, triangle
        if far > reach + _NEAR:
            break
    return None


def _along(scene: Scene, start: Row, heading: Row) -> Iterator[tuple[Row, int, float]]:
    """Every triangle that a ray meets: where, its number, and the distance."""
    far = 0.0
    for _ in range(_SHEETS):
        place = start + (far + OFFSET) * heading
        hit, distance = scene.everything.nearest(place.astype(np.float32)[None, :], heading.astype(np.float32)[None, :])
        if hit[0] == MISS:
            return
        far += OFFSET + float(distance[0])
        yield start + far * heading, int(hit[0]), far


def _finished(scene: Scene, line: _Line, end: Row, how: str) -> LightPath:
    """A path whose last leg ends on no part."""
    return LightPath(
        points=np.array([*line.points, end]),
        left=np.array(line.left),
        parts=tuple(line.parts),
        names=tuple(scene.parts[part].name for part in line.parts),
        reaches=how == AT_SUBJECT,
        end=how,
    )
