"""The mirror ball and the highlight read from sampled light, against exact mirror geometry."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from lightsim.light.arrivals import Arrivals, merge
from lightsim.light.estimate import Estimate, by_replicate, mean_of
from lightsim.light.lattice import Lattice
from lightsim.measure.highlight import Highlight, highlight, luminance_map
from lightsim.measure.mirror import camera_axes, mirror
from lightsim.measure.regions import labelled, outlines, separate
from lightsim.sheet.fresnel import fresnel

Floats = NDArray[np.float64]
FAR = 1e9  # mm: where a camera or a source counts as infinitely far
CENTRE = (0.0, 0.0, 0.0)
RADIUS = 1.5
REPLICATES = 16


def image(*points: tuple[float, float, float], camera: float = FAR) -> tuple[Floats, Floats]:
    """Right and up of the mirror images of some points, camera on the axis."""
    seen = mirror(np.array(points, float), centre=CENTRE, radius=RADIUS, camera=(0, 0, camera))
    return seen.right, seen.up


def toward(angle: float, turn: float = 0.0) -> tuple[float, float, float]:
    """A far point at an angle from the axis, turned about it."""
    return (
        FAR * np.sin(angle) * np.cos(turn),
        FAR * np.sin(angle) * np.sin(turn),
        FAR * np.cos(angle),
    )


def pairs(seed: int, points: int) -> tuple[Floats, Floats, NDArray[np.int32]]:
    lattice = Lattice(replicates=REPLICATES, points=points, seed=seed)
    across, along = (axis.astype(float) for axis in lattice.coordinates(0, 2, lattice.paths))
    return across, along, np.repeat(np.arange(REPLICATES, dtype=np.int32), points)


def sampled(origin: Floats, weight: Floats, replicate: NDArray[np.int32]) -> Arrivals:
    count = len(origin)
    return Arrivals(
        point=np.zeros(3),
        direction=origin / np.linalg.norm(origin, axis=1)[:, None],
        origin=origin,
        weight=weight,
        part=np.zeros(count, np.int32),
        straight=np.zeros(count, bool),
        luminance=np.zeros(count),
        replicate=replicate,
        replicates=REPLICATES,
    )


def flat(origin: Floats, area: float, replicate: NDArray[np.int32], luminance: float = 1.0) -> Arrivals:
    """Light of a flat source that faces the ball, spread evenly over it."""
    distance = np.linalg.norm(origin, axis=1)
    weight = luminance * area / len(origin) * origin[:, 2] / distance**3
    return sampled(origin, weight, replicate)


def ring(*, outer: float, height: float, inner: float = 0.0, seed: int = 1, points: int = 512) -> Arrivals:
    share, turn, replicate = pairs(seed, points)
    radius, turn = np.sqrt(inner**2 + (outer**2 - inner**2) * share), 2 * np.pi * turn
    origin = np.stack([radius * np.cos(turn), radius * np.sin(turn), np.full_like(radius, height)], axis=1)
    return flat(origin, np.pi * (outer**2 - inner**2), replicate)


def panel(
    *,
    width: float,
    height: float,
    distance: float,
    right: float = 0.0,
    luminance: float = 1.0,
    seed: int = 1,
    points: int = 512,
) -> Arrivals:
    across, up, replicate = pairs(seed, points)
    origin = np.stack([width * (across - 0.5) + right, height * (up - 0.5), np.full_like(up, distance)], axis=1)
    return flat(origin, width * height, replicate, luminance)


def spot(*, deviation: float, distance: float, seed: int = 1, points: int = 512) -> Arrivals:
    """A Gaussian spot on a flat sheet: its light is where its points are."""
    share, turn, replicate = pairs(seed, points)
    radius, turn = deviation * np.sqrt(-2 * np.log(1 - share * (1 - 1e-7))), 2 * np.pi * turn
    origin = np.stack([radius * np.cos(turn), radius * np.sin(turn), np.full_like(radius, distance)], axis=1)
    return flat(origin, 2 * np.pi * deviation**2, replicate)


def cone(*, half_angle: float, seed: int = 1, points: int = 512, tilt: float = 0.0) -> Arrivals:
    """A far source of luminance 1 that fills a cone about the axis, or about an axis tilted to the right."""
    share, turn, replicate = pairs(seed, points)
    cosine, turn = 1 - share * (1 - np.cos(half_angle)), 2 * np.pi * turn
    sine = np.sqrt(1 - cosine**2)
    axis = np.stack([sine * np.cos(turn), sine * np.sin(turn), cosine], axis=1)
    turned = np.array([[np.cos(tilt), 0, np.sin(tilt)], [0, 1, 0], [-np.sin(tilt), 0, np.cos(tilt)]])
    solid_angle = 2 * np.pi * (1 - np.cos(half_angle))
    return sampled(FAR * axis @ turned.T, np.full(len(axis), solid_angle / len(axis)), replicate)


def facing(arrivals: Arrivals) -> Floats:
    received = arrivals.weight * np.maximum(arrivals.direction[:, 2], 0)
    return by_replicate(received, arrivals.replicate, arrivals.replicates)


def read(arrivals: Arrivals, *, camera: float = FAR, pixel: float = 0.004) -> Highlight:
    return highlight(
        arrivals,
        centre=CENTRE,
        radius=RADIUS,
        refractive_index=1.56,
        camera=(0, 0, camera),
        pixel=pixel,
        illuminance=facing(arrivals),
    )


def value(estimate: Estimate | None) -> float:
    assert estimate is not None
    return estimate.value


# Mirror geometry, points and directions without sampling.


# derived from r sin a + (h - r cos a) tan 2a = 30.
@pytest.mark.parametrize(("distance", "diameter"), [(81.5, 0.530834), (80.0, 0.539937)])
def test_near_disc_has_the_derived_diameter(distance: float, diameter: float) -> None:
    right, _ = image((30, 0, distance), (-30, 0, distance))
    assert right[0] - right[1] == pytest.approx(diameter, abs=5e-7)


def test_far_disc_has_the_derived_diameter() -> None:
    right, _ = image(toward(np.arctan(30 / 80)))
    assert 2 * right[0] == pytest.approx(0.535274, abs=5e-7)  # 2 r sin(half-angle / 2), derived


# Derived: 2 asin(x / r); the edge of the front hemisphere's zone; sin 20 degrees.
@pytest.mark.parametrize(
    ("angle", "place", "tolerance"),
    [(60.0, 0.5, 5e-8), (73.73980, 0.6, 5e-8), (90.0, 0.70710678, 5e-9), (40.0, 0.34202014, 5e-9)],
)
def test_far_directions_are_mirrored_at_half_their_angle(angle: float, place: float, tolerance: float) -> None:
    right, up = image(toward(np.radians(angle)))
    assert right[0] / RADIUS == pytest.approx(place, abs=tolerance)
    assert up[0] == 0


# Equal solid angles cover equal areas, r^2 / 4 per sr wherever they lie: derived here.
def test_mirror_ball_rule() -> None:
    far = np.array([toward(angle, 1.0) for angle in np.radians([0, 1e-6, 20, 90, 150, 175])])
    seen = mirror(far, centre=CENTRE, radius=RADIUS, camera=(0, 0, FAR))
    assert seen.visible.all()
    assert seen.magnification * 4 / RADIUS**2 == pytest.approx(np.ones(len(far)), abs=1e-6)


# Law of reflection, checked with vectors: the normal halves the angle between light and camera.
@pytest.mark.parametrize("radius", [0.3, 5.0, 30.0])
def test_angle_of_incidence_equals_angle_of_reflection(radius: float) -> None:
    rng = np.random.default_rng(4)
    direction = rng.normal(size=(400, 3))
    direction /= np.linalg.norm(direction, axis=1)[:, None]
    origin = direction * radius * (1 + 10 ** rng.uniform(-2, 2, 400))[:, None]
    centre, camera = np.array([1.0, 2.0, -3.0]), np.array([10.0, 22.0, 48.0])
    seen = mirror(origin + centre, centre=centre, radius=radius, camera=camera)
    right, up, ahead, _ = camera_axes(centre, camera)
    depth = np.sqrt(radius**2 - seen.right**2 - seen.up**2)
    normal = (seen.right[:, None] * right + seen.up[:, None] * up + depth[:, None] * ahead) / radius
    place = centre + radius * normal
    to_light, to_camera = origin + centre - place, camera - place
    to_light /= np.linalg.norm(to_light, axis=1)[:, None]
    to_camera /= np.linalg.norm(to_camera, axis=1)[:, None]
    shown = seen.visible
    assert 100 < shown.sum() < 400
    mirrored = 2 * (to_camera * normal).sum(axis=1)[:, None] * normal - to_camera
    assert np.abs(mirrored - to_light)[shown].max() < 1e-8
    assert (to_camera * normal).sum(axis=1)[shown] == pytest.approx(seen.cosine[shown], abs=1e-9)
    assert (seen.cosine[shown] > 0).all()


# Finite differences of light displaced across its ray.
def test_magnification_is_the_jacobian() -> None:
    origin, step = np.array([[40.0, 15.0, 60.0]]), 1e-4
    distance = np.linalg.norm(origin)
    axis = origin[0] / distance
    across = np.cross(axis, [0, 1, 0])
    across /= np.linalg.norm(across)
    moves = [across * step, np.cross(axis, across) * step]

    def at(point: Floats) -> Floats:
        seen = mirror(point, centre=CENTRE, radius=5.0, camera=(3, -4, 70))
        return np.array([seen.right[0], seen.up[0]])

    columns = [(at(origin + move) - at(origin - move)) / (2 * step / distance) for move in moves]
    exact = mirror(origin, centre=CENTRE, radius=5.0, camera=(3, -4, 70)).magnification[0]
    assert exact == pytest.approx(abs(np.linalg.det(np.array(columns))), rel=1e-6)


def test_light_behind_the_ball_is_not_seen() -> None:
    seen = mirror(np.array([[0, 0, -50.0], [3, 0, -50.0], [0, 0, 1.0]]), centre=CENTRE, radius=5.0, camera=(0, 0, 80))
    assert not seen.visible.any()


def test_camera_sees_right_and_up() -> None:
    right, up, ahead, distance = camera_axes((1, 1, 1), (1, 1, 81))
    assert right.tolist() == [1, 0, 0]
    assert up.tolist() == [0, 1, 0]
    assert ahead.tolist() == [0, 0, 1]
    assert distance == 80


# Fresnel's equations, mean of both polarisations (derived).
@pytest.mark.parametrize(
    ("refractive_index", "angle", "share", "tolerance"),
    [
        (1.56, 0, 0.04785156, 5e-9),
        (1.5, 0, 0.0400000, 5e-8),
        (1.5, 15, 0.0400808, 5e-8),
        (1.5, 30, 0.0415226, 5e-8),
        (1.5, 45, 0.0502399, 5e-8),
        (1.5, 60, 0.0891867, 5e-8),
        (1.5, 75, 0.2530606, 5e-8),
        (1.5, 85, 0.6127996, 5e-8),
        (1.56, 15, 0.0479390, 5e-8),
        (1.56, 30, 0.0494881, 5e-8),
        (1.56, 45, 0.0587099, 5e-8),
        (1.56, 60, 0.0989428, 5e-8),
        (1.56, 75, 0.2634639, 5e-8),
        (1.56, 85, 0.6185811, 5e-8),
    ],
)
def test_fresnel(refractive_index: float, angle: float, share: float, tolerance: float) -> None:
    reflected = fresnel(refractive_index=refractive_index, cosine=np.cos(np.radians(angle)))
    assert float(reflected) == pytest.approx(share, abs=tolerance)


# The figure, from sampled light.


def runs(make: Callable[[int], Arrivals], figure: str, seeds: int = 40) -> tuple[Floats, Floats]:
    """Values and standard errors of a figure over so many seeds."""
    estimates = [getattr(read(make(seed)), figure) for seed in range(seeds)]
    return np.array([one.value for one in estimates]), np.array([one.standard_error for one in estimates])


# Exact places of the edges by mirror(), which the tests above hold to exact values. 0.5 % is what the figure promises.
@pytest.mark.parametrize(
    ("make", "figure", "exact"),
    [
        (lambda seed: ring(outer=30, height=81.5, seed=seed), "width", 0.530834),
        (lambda seed: ring(outer=30, height=81.5, seed=seed), "height", 0.530834),
        (lambda seed: ring(outer=30, inner=15, height=81.5, seed=seed), "width", 0.530834),
        (
            lambda seed: panel(width=120, height=60, distance=100, seed=seed),
            "width",
            2 * image((60, 0, 100))[0][0],
        ),
        (
            lambda seed: panel(width=120, height=60, distance=100, seed=seed),
            "height",
            2 * image((0, 30, 100))[1][0],
        ),
        (
            lambda seed: panel(width=60, height=40, distance=150, seed=seed),
            "width",
            2 * image((30, 0, 150))[0][0],
        ),
    ],
    ids=["disc width", "disc height", "ring", "panel width", "panel height", "bare window"],
)
def test_size_is_unbiased_and_its_error_bar_honest(make: Callable[[int], Arrivals], figure: str, exact: float) -> None:
    values, errors = runs(make, figure)
    spread = values.std(ddof=1)
    assert values.mean() == pytest.approx(exact, rel=0.005)
    # 40 seeds know a spread to 11 %: 3.5 of these.
    assert 0.6 < np.sqrt(np.mean(errors**2)) / spread < 1.6


# The disc of 60 mm, 80 mm before the ball, by one run: 0.530834 (derived above).
def test_near_disc_within_its_own_error() -> None:
    found = read(ring(outer=30, height=81.5, points=2048)).width
    assert found is not None
    assert abs(found.value - 0.530834) < 3 * found.standard_error
    assert found.standard_error < 0.005 * found.value


# Full width at half maximum of a Gaussian: 2 sqrt(2 ln 2) deviations. 3 %: no edge to hold on to (docstring).
def test_spot_without_edges() -> None:
    values, _ = runs(lambda seed: spot(deviation=5, distance=100, seed=seed), "width", seeds=20)
    exact = 2 * image((5 * np.sqrt(2 * np.log(2)), 0, 100))[0][0]
    assert values.mean() == pytest.approx(exact, rel=0.03)
    assert values.std(ddof=1) < 0.015 * exact  # the wide window; the narrow one leaves 4 %


# O / (4 pi), derived: 1 sr covers 0.0796 of the disc, whatever its place, 20 degrees 0.0302.
@pytest.mark.parametrize(
    ("half_angle", "tilt", "share"),
    [
        (np.arccos(1 - 1 / (2 * np.pi)), 0.0, 0.079577472),
        (np.arccos(1 - 1 / (2 * np.pi)), np.radians(60), 0.079577472),
        (np.radians(20), np.radians(25), 0.030153690),
    ],
)
def test_far_source_covers_its_share_of_the_disc(half_angle: float, tilt: float, share: float) -> None:
    values, errors = runs(lambda seed: cone(half_angle=half_angle, tilt=tilt, seed=seed), "disc_share", seeds=20)
    assert values.mean() == pytest.approx(share, rel=0.007)
    assert np.median(errors) < 0.02 * share


def test_hemisphere_covers_half_of_the_disc() -> None:
    found = read(cone(half_angle=np.pi / 2, points=1024))
    assert value(found.disc_share) == pytest.approx(0.5, rel=0.02)  # O / (4 pi) with 2 pi sr
    assert value(found.width) == pytest.approx(2 * RADIUS * 0.70710678, rel=0.01)  # sin 45 degrees


# Derived: a cone of 1 sr, -2.61416 with the Fresnel share of normal incidence; the true angles, up to 16.4 deg,
# add log2 of the mean share over the cone, a quadrature here. At 12.63563 degrees it equals white.
@pytest.mark.parametrize(
    ("half_angle", "stops"),
    [(np.arccos(1 - 1 / (2 * np.pi)), -2.61416), (np.radians(12.63563), 0.0)],
)
def test_cone_against_white(half_angle: float, stops: float) -> None:
    cosine = np.linspace(1, np.cos(half_angle), 20_001)
    share = fresnel(refractive_index=1.56, cosine=np.cos(np.arccos(cosine) / 2)).mean()
    exact = stops + np.log2(share / 0.04785156)
    values, errors = runs(lambda seed: cone(half_angle=half_angle, seed=seed), "stops_above_white", seeds=20)
    assert values.mean() == pytest.approx(exact, abs=0.006)
    assert 0.5 < np.sqrt(np.mean(errors**2)) / values.std(ddof=1) < 2


# Incidence of 45 and 60 degrees: 0.0587099 and 0.0989428 by Fresnel; white in 1 lx is 1 / pi. Small cone, so the
# angle hardly varies.
@pytest.mark.parametrize(("incidence", "share"), [(45, 0.0587099), (60, 0.0989428)])
def test_oblique_highlight_has_the_fresnel_share_of_its_angle(incidence: float, share: float) -> None:
    found = highlight(
        cone(half_angle=np.radians(3), tilt=np.radians(2 * incidence), points=1024),
        centre=CENTRE,
        radius=RADIUS,
        refractive_index=1.56,
        camera=(0, 0, FAR),
        pixel=0.004,
        illuminance=np.ones(REPLICATES),
    )
    assert value(found.stops_above_white) == pytest.approx(np.log2(share * np.pi), abs=0.015)


# Derived: log2(pi F / 0.11 sr) = 0.45063, by which the window of a bare head at 150 mm burns out. The window of
# 60 x 40 mm fills 0.1034 sr (4 atan); white sees its projected solid angle, by the samples of E themselves.
def test_bare_window_burns_out() -> None:
    window = panel(width=60, height=40, distance=150)
    found = read(window)
    exact = np.log2(np.pi * 0.04785156 / facing(window).mean())
    assert exact > 0.45063
    assert value(found.stops_above_white) == pytest.approx(exact, abs=0.015)


def test_white_with_an_estimate_instead_of_replicates() -> None:
    window = panel(width=60, height=40, distance=150)
    white = mean_of(facing(window))
    vague = Estimate(white.value, 0.1 * white.value, REPLICATES)
    both = [
        highlight(
            window,
            centre=CENTRE,
            radius=RADIUS,
            refractive_index=1.56,
            camera=(0, 0, FAR),
            pixel=0.004,
            illuminance=known,
        ).stops_above_white
        for known in (white, vague)
    ]
    assert value(both[0]) == pytest.approx(value(read(window).stops_above_white), abs=1e-9)
    assert both[1] is not None
    # 10 % are 0.144 stops.
    assert both[1].standard_error == pytest.approx(0.1 / np.log(2), rel=0.02)


def two(seed: int, luminance: float, apart: float = 50.0) -> Arrivals:
    return merge(
        [
            panel(width=40, height=60, distance=100, right=-apart, seed=seed),
            panel(width=40, height=60, distance=100, right=apart, luminance=luminance, seed=seed + 500),
        ]
    )


# The rule in the docstring: within three stops counts, three and a half does not.
@pytest.mark.parametrize(("luminance", "count"), [(1.0, 2), (0.4, 2), (0.2, 2), (0.09, 1)])
def test_two_panels_make_two_highlights(luminance: float, count: int) -> None:
    assert {read(two(seed, luminance)).count for seed in range(5)} == {count}


# The rule in the docstring: 2 % of the light. 6 x 6 mm beside 60 x 60 mm hold 1 %, 12 x 12 mm 4 %.
@pytest.mark.parametrize(("size", "count"), [(6, 1), (12, 2)])
def test_tiny_light_is_no_highlight_of_its_own(size: float, count: int) -> None:
    both = [
        panel(width=60, height=60, distance=100, seed=1),
        panel(width=size, height=size, distance=100, right=60, seed=2),
    ]
    assert read(merge(both)).count == count


def test_two_panels_are_measured_from_outer_edge_to_outer_edge() -> None:
    found = read(two(1, 0.9))
    assert value(found.width) == pytest.approx(2 * image((70, 0, 100))[0][0], rel=0.01)
    assert value(found.gap_share) == 0  # the space between them is no seam


@pytest.mark.parametrize(
    "make",
    [
        lambda seed: ring(outer=30, height=81.5, seed=seed),
        lambda seed: ring(outer=30, inner=15, height=81.5, seed=seed),
        lambda seed: panel(width=120, height=60, distance=100, seed=seed),
        lambda seed: panel(width=60, height=40, distance=150, seed=seed),
        lambda seed: spot(deviation=5, distance=100, seed=seed),
    ],
    ids=["disc", "ring", "panel", "bare window", "spot"],
)
def test_noise_makes_no_false_highlights_and_no_false_gaps(make: Callable[[int], Arrivals]) -> None:
    found = [read(make(seed)) for seed in range(40)]
    assert {one.count for one in found} == {1}
    gaps = [value(one.gap_share) for one in found]
    assert max(gaps) - min(gaps) < 0.08
    assert min(gaps) > 0.2 or max(gaps) == 0


# Inner and outer edge by mirror(): their squares are as the areas.
def test_gap_of_a_ring() -> None:
    values, _ = runs(lambda seed: ring(outer=30, inner=20, height=81.5, seed=seed), "gap_share", seeds=20)
    right, _ = image((20, 0, 81.5), (30, 0, 81.5))
    assert values.mean() == pytest.approx((right[0] / right[1]) ** 2, rel=0.02)


def test_seam_is_a_gap() -> None:
    halves = [panel(width=56, height=60, distance=100, right=side * 32, seed=3 + side, points=1024) for side in (-1, 1)]
    right, _ = image((4, 0, 100), (60, 0, 100))
    # Top and bottom of a mirrored seam are a little higher than the panels' corners.
    assert value(read(merge(halves)).gap_share) == pytest.approx(right[0] / right[1], rel=0.2)


def test_small_head_before_a_dim_wall_is_found() -> None:
    # The wall fills the ball's image; the window is 200 times brighter and 0.3 mm wide.
    wall = cone(half_angle=np.pi / 2, seed=8)
    window = panel(width=60, height=40, distance=150, luminance=200, seed=9)
    found = read(merge([wall, window]))
    assert value(found.width) == pytest.approx(2 * image((30, 0, 150))[0][0], rel=0.02)
    assert found.count == 1


def test_pixels_and_camera_distance() -> None:
    window = panel(width=60, height=40, distance=150)
    found = read(window, camera=60.0, pixel=0.01)
    exact = 2 * image((30, 0, 150), camera=60.0)[0][0]
    assert value(found.width) == pytest.approx(exact, rel=0.015)
    assert value(found.width_pixels) == pytest.approx(value(found.width) / 0.01)
    assert value(found.height_pixels) == pytest.approx(value(found.height) / 0.01)


def test_nothing_mirrored_has_no_figures() -> None:
    behind = panel(width=1, height=1, distance=100)
    behind = sampled(behind.origin * [1, 1, -1], behind.weight, np.array(behind.replicate))
    found = highlight(
        behind,
        centre=CENTRE,
        radius=RADIUS,
        refractive_index=1.56,
        camera=(0, 0, 80),
        pixel=0.004,
        illuminance=np.zeros(REPLICATES),
    )
    assert found == Highlight(None, None, None, None, None, None, 0, None)
    assert luminance_map(behind, centre=CENTRE, radius=RADIUS, refractive_index=1.56, camera=(0, 0, 80)) is None


@pytest.mark.parametrize("count, told", [(1, False), (2, False), (40, True)])
def test_few_arrivals_give_finite_figures_or_none(count: int, told: bool) -> None:
    few = panel(width=60, height=40, distance=150, points=16).only(np.arange(16 * REPLICATES) < count)
    found = read(few)
    assert (found.width is not None) is told
    if told:
        assert np.isfinite([value(found.width), value(found.height), value(found.disc_share)]).all()


# A few uneven arrivals can put half of the peak above all of the mean map: then there is nothing to measure, no NaN.
@pytest.mark.parametrize("seed", range(40))
def test_few_uneven_arrivals_give_no_nan(seed: int) -> None:
    rng = np.random.default_rng(seed)
    few = panel(width=60, height=40, distance=150, points=16)
    few = few.only(rng.random(len(few.weight)) < 20 / len(few.weight))
    found = read(replace(few, weight=few.weight * rng.exponential(size=len(few.weight)) ** 3))
    for figure in (found.width, found.height, found.disc_share, found.stops_above_white, found.gap_share):
        assert figure is None or np.isfinite([figure.value, figure.standard_error]).all()


def test_light_from_the_side_has_no_white_to_compare_with() -> None:
    side = cone(half_angle=0.2, tilt=np.radians(120))
    found = read(side)
    assert found.stops_above_white is None
    assert value(found.disc_share) == pytest.approx((1 - np.cos(0.2)) / 2, rel=0.03)  # O / (4 pi)


@pytest.mark.parametrize(
    ("changed", "word"),
    [({"radius": 0.0}, "radius"), ({"pixel": 0.0}, "pixel"), ({"camera": (0, 0, 1)}, "inside")],
)
def test_senseless_input_is_refused(changed: dict[str, float], word: str) -> None:
    window = panel(width=60, height=40, distance=150)
    given = {
        "centre": CENTRE,
        "radius": RADIUS,
        "refractive_index": 1.56,
        "camera": (0, 0, 80),
        "pixel": 0.004,
    }
    with pytest.raises(ValueError, match=word):
        highlight(window, illuminance=facing(window), **{**given, **changed})  # type: ignore[arg-type]


# Mean of F x luminance over the lit middle: F(0) x 1 for a small source of luminance 1.
def test_map_shows_the_mirrored_luminance() -> None:
    window = panel(width=60, height=40, distance=150)
    found = luminance_map(window, centre=CENTRE, radius=RADIUS, refractive_index=1.56, camera=(0, 0, FAR))
    assert found is not None
    middle = found.luminance[24:40, 24:40]
    assert middle.mean() == pytest.approx(0.04785156, rel=0.02)
    cell = (found.right - found.left) * (found.top - found.bottom) / found.luminance.size
    right, up = image((30, 0, 150), (0, 20, 150))
    assert found.luminance.sum() * cell == pytest.approx(4 * right[0] * up[1] * 0.04785156, rel=0.02)
    assert found.left < -right[0] < right[0] < found.right


# Counted by eye.
def test_islands() -> None:
    lit = np.array([[1, 0, 0, 1], [0, 1, 0, 1], [0, 0, 0, 0], [1, 1, 1, 0], [1, 0, 1, 0], [1, 1, 1, 0]], bool)
    label, found = labelled(lit)
    assert found == 3
    assert label[0, 0] == label[1, 1] != label[0, 3]
    assert len(set(label[3:][lit[3:]])) == 1
    assert outlines(lit) == 2  # three islands, one hole


def test_separate_needs_a_dark_way_between() -> None:
    place = np.arange(64)
    hills = np.exp(-((place - 18) ** 2) / 50) + 0.6 * np.exp(-((place - 45) ** 2) / 50)
    ridge = np.exp(-((place - 32) ** 2) / 50)[:, None] * hills
    rule = {"peak": 1.0, "faintest": 1 / 8, "least_share": 0.02}
    assert separate(ridge, **rule) == 2
    # Three and a half stops down is too faint to count.
    faint = np.exp(-((place - 18) ** 2) / 50) + 0.09 * np.exp(-((place - 45) ** 2) / 50)
    assert separate(np.exp(-((place - 32) ** 2) / 50)[:, None] * faint, **rule) == 1
    # A valley at 0.4 of the peak is above half of the smaller hill's 0.6.
    assert separate(np.maximum(ridge, 0.4 * (ridge.max(axis=1) / ridge.max())[:, None]), **rule) == 1
