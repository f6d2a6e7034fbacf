"""Ray casters: Embree and plain numpy against each other, what they call a hit, and leaks of a closed box."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from lightsim.light.cast import MISS, OFFSET, Caster, EmbreeCaster, NumpyCaster, caster
from lightsim.sheet.vectors import lambertian

CASTERS = [EmbreeCaster, NumpyCaster]
Rays = NDArray[np.float32]


def make(kind: type, corners: NDArray[np.float64]) -> Caster:
    """Caster of triangles (m, 3, 3)."""
    if kind is EmbreeCaster:
        pytest.importorskip("embreex", reason="no Embree on this machine")
    made: Caster = kind(corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3))
    return made


def random_rays(count: int, reach: float, seed: int) -> tuple[Rays, Rays]:
    rng = np.random.default_rng(seed)
    way = rng.standard_normal((count, 3))
    way /= np.linalg.norm(way, axis=1)[:, None]
    return rng.uniform(-reach, reach, (count, 3)).astype(np.float32), way.astype(np.float32)


def to_edge(corners: NDArray[np.float64], start: Rays, way: Rays) -> NDArray[np.float64]:
    """Least barycentric coordinate of where rays meet the planes of their triangles (n, 3, 3): 0 on an edge."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    normal = np.cross(b - a, c - a)
    along = ((a - start) * normal).sum(axis=1) / (way * normal).sum(axis=1)
    place = start + along[:, None] * way
    square = (normal * normal).sum(axis=1)
    parts = [(np.cross(q - p, place - p) * normal).sum(axis=1) / square for p, q in ((a, b), (b, c), (c, a))]
    return np.asarray(np.min(parts, axis=0))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_casters_agree_but_on_edges(seed: int) -> None:
    # Two independent methods on one scene: 200 random triangles, 4,000 rays.
    rng = np.random.default_rng(seed)
    corners = rng.uniform(-100, 100, (200, 1, 3)) + rng.uniform(-40, 40, (200, 3, 3))
    corners = corners.astype(np.float32).astype(float)
    embree, plain = make(EmbreeCaster, corners), make(NumpyCaster, corners)
    start, way = random_rays(4000, 120, seed + 10)
    triangle, distance = embree.nearest(start, way)
    expected, length = plain.nearest(start, way)
    assert np.count_nonzero(expected != MISS) > 1500
    both = (triangle == expected) & (expected != MISS)
    # float32 at 240 mm steps by 1.5e-5 mm; grazing rays stretch that by 1 / cosine.
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    cosine = np.abs((way * normal[expected]).sum(axis=1))
    assert np.abs(distance - length)[both & (cosine > 0.3)].max() < 1e-4
    assert (np.abs(distance - length) * cosine)[both].max() < 1e-4
    odd = np.flatnonzero(triangle != expected)
    assert len(odd) <= 2
    for ray in odd:
        claimed = [found for found in (triangle[ray], expected[ray]) if found != MISS]
        gap = [to_edge(corners[[number]], start[[ray]], way[[ray]])[0] for number in claimed]
        assert min(np.abs(gap)) < 1e-4

    reach = rng.uniform(1, 200, len(start)).astype(np.float32)
    clear = np.abs(length - reach) > 1e-3
    clear[odd] = False
    assert (embree.blocked(start, way, reach) == plain.blocked(start, way, reach))[clear].all()
    assert (embree.nearest_within(start, way, reach) == plain.nearest_within(start, way, reach))[clear].all()


# A stack of triangles at heights 10, 20 and 30 over the origin, one of them turned over.
STACK = np.array([[[-5, -5, z], [5, -5, z], [0, 9, z]] for z in (20.0, 10.0, 30.0)])
STACK[2] = STACK[2, ::-1]
UP, DOWN = (0.0, 0.0, 1.0), (0.0, 0.0, -1.0)


def ray(height: float, way: tuple[float, float, float]) -> tuple[Rays, Rays]:
    return np.array([[0, 0, height]], np.float32), np.array([way], np.float32)


@pytest.mark.parametrize("kind", CASTERS)
@pytest.mark.parametrize(
    ("height", "way", "number", "expected"),
    [(0, UP, 1, 10), (15, UP, 0, 5), (25, UP, 2, 5), (25, DOWN, 0, 5), (40, DOWN, 2, 10), (35, UP, MISS, None)],
)
def test_first_triangle_ahead_from_either_side(
    kind: type, height: float, way: tuple[float, float, float], number: int, expected: float | None
) -> None:
    # By hand. Neither side is transparent and nothing behind the start counts.
    triangle, distance = make(kind, STACK).nearest(*ray(height, way))
    assert triangle[0] == number
    if expected is not None:
        assert distance[0] == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("kind", CASTERS)
@pytest.mark.parametrize(
    ("height", "way", "reach", "number"),
    [
        (0, UP, 9.9, MISS),
        (0, UP, 10.1, 1),
        (0, UP, 1000, 1),
        (15, UP, 4.9, MISS),
        (15, DOWN, 5.1, 1),
        (35, UP, 100, MISS),
    ],
)
def test_only_what_is_nearer_than_the_reach_blocks(
    kind: type, height: float, way: tuple[float, float, float], reach: float, number: int
) -> None:
    made, limit = make(kind, STACK), np.array([reach], np.float32)
    assert made.nearest_within(*ray(height, way), limit)[0] == number
    assert made.blocked(*ray(height, way), limit)[0] == (number != MISS)


@pytest.mark.parametrize("kind", CASTERS)
def test_answers_have_the_stated_types_also_for_no_rays(kind: type) -> None:
    made = make(kind, STACK)
    for count in (0, 3):
        start, way = np.zeros((count, 3), np.float32), np.tile(np.array([UP], np.float32), (count, 1))
        triangle, distance = made.nearest(start, way)
        reach = np.full(count, 50, np.float32)
        assert triangle.dtype == np.int32
        assert distance.dtype == np.float32
        assert made.nearest_within(start, way, reach).dtype == np.int32
        assert made.blocked(start, way, reach).dtype == np.bool_
        assert triangle.shape == distance.shape == (count,)


@pytest.mark.parametrize("kind", CASTERS)
def test_a_ray_that_left_by_the_offset_does_not_hit_where_it_was(kind: type) -> None:
    # 300 mm from the origin, where a float32 step is 3e-5 mm.
    sheet = np.array([[[-200, -200, 300], [200, -200, 300], [0, 300, 300.0]]])
    start, way = random_rays(20_000, 50, 2)
    start[:, 2] = 0
    way[:, 2] = np.abs(way[:, 2]) + 1
    way /= np.linalg.norm(way, axis=1)[:, None]
    made = make(kind, sheet)
    triangle, distance = made.nearest(start, way)
    hit = triangle != MISS
    place = start[hit] + distance[hit, None] * way[hit]
    place[:, 2] -= np.float32(OFFSET)
    out = random_rays(len(place), 1, 3)[1]
    assert hit.sum() > 5000
    again = made.nearest(place, out)[0]
    assert (again[out[:, 2] < 0] == MISS).all()
    assert (again[out[:, 2] > 0.5] == 0).mean() > 0.9  # the sheet is still there on the way back


def tapered_box() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Closed box, 60 x 40 at one end and 120 x 100 at the other: triangles (12, 3, 3) and normals inward (12, 3)."""
    v = np.array([[x * w, y * h, z] for w, h, z in ((30, 20, 0), (60, 50, 80)) for y in (-1, 1) for x in (-1, 1)])
    sides = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    corners = np.array([[v[a], v[b], v[c]] for a, b, c, d in sides for a, b, c in ((a, b, c), (a, c, d))], float)
    corners = corners @ np.linalg.qr(np.random.default_rng(7).standard_normal((3, 3)))[0] + [17.3, -41.9, 133.7]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    inward = ((corners.mean(axis=(0, 1)) - corners.mean(axis=1)) * normal).sum(axis=1)
    normal *= (np.sign(inward) / np.linalg.norm(normal, axis=1))[:, None]
    return corners, normal


@pytest.mark.parametrize(("kind", "rays", "bounces"), [(EmbreeCaster, 125_000, 8), (NumpyCaster, 12_500, 8)])
def test_closed_box_leaks_hardly_a_ray(kind: type, rays: int, bounces: int) -> None:
    # Design target: below 1e-5 of the rays a bounce, leaving walls by OFFSET in float32 as the engine does.
    corners, normal = tapered_box()
    made, side = make(kind, corners), normal.astype(np.float32)
    rng = np.random.default_rng(5)
    way = random_rays(rays, 1, 6)[1]
    start = np.tile(corners.mean(axis=(0, 1)), (rays, 1)).astype(np.float32)
    leaked = cast = 0
    for _ in range(bounces):
        triangle, distance = made.nearest(start, way)
        inside = triangle != MISS
        leaked, cast = leaked + int(np.count_nonzero(~inside)), cast + len(start)
        start, way, triangle, distance = start[inside], way[inside], triangle[inside], distance[inside]
        up = side[triangle]
        start = start + distance[:, None] * way + np.float32(OFFSET) * up
        u, v = rng.random((2, len(start)), dtype=np.float32)
        way = np.stack(lambertian((up[:, 0], up[:, 1], up[:, 2]), u, v), axis=1).astype(np.float32)
    assert cast > 0.99 * rays * bounces
    assert leaked < max(1e-5 * cast, 2)


def test_box_without_a_wall_does_leak() -> None:
    # The counterpart: the same count sees a missing triangle.
    corners, _ = tapered_box()
    made = make(NumpyCaster, corners[1:])
    start = np.tile(corners.mean(axis=(0, 1)), (5000, 1)).astype(np.float32)
    assert np.count_nonzero(made.nearest(start, random_rays(5000, 1, 6)[1])[0] == MISS) > 50


def test_fastest_caster_is_chosen_where_there_is_one() -> None:
    pytest.importorskip("embreex", reason="no Embree on this machine")
    made = caster(STACK.reshape(-1, 3), np.arange(9).reshape(-1, 3))
    assert isinstance(made, EmbreeCaster)


def test_plain_caster_serves_where_embree_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(*_: object) -> None:
        raise ImportError

    monkeypatch.setattr("lightsim.light.cast.EmbreeCaster", missing)
    made = caster(STACK.reshape(-1, 3), np.arange(9).reshape(-1, 3))
    assert isinstance(made, NumpyCaster)
    assert "slower" in made.name
