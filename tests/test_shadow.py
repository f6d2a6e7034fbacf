"""Shadows of edges and hairs: small-angle closed forms to the printed digit, near sources by quadrature."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.optimize import brentq

from lightsim.light.arrivals import Arrivals, merge
from lightsim.light.estimate import Estimate
from lightsim.measure.shadow import (
    Direction,
    edge_places,
    edge_profile,
    edge_width,
    hair_contrast,
    hair_places,
    hair_profile,
)

TAN_10 = float(np.tan(np.radians(10)))
FAR = 1e9  # mm; the edge's height then no longer counts in the distance


def arriving(
    origin: NDArray[np.float64], lit: NDArray[np.float64], replicate: NDArray[np.int32], replicates: int
) -> Arrivals:
    """Light from origin (n, 3) that gives the plane the illuminance lit (n,)."""
    direction = origin / np.linalg.norm(origin, axis=1)[:, None]
    count = len(lit)
    return Arrivals(
        point=np.zeros(3),
        direction=direction,
        origin=origin,
        weight=lit / np.abs(direction[:, 2]),
        part=np.zeros(count, np.int32),
        straight=np.zeros(count, bool),
        luminance=np.zeros(count),
        replicate=replicate,
        replicates=replicates,
    )


def exactly(origin: NDArray[np.float64], lit: NDArray[np.float64], replicates: int = 2) -> Arrivals:
    """The same light in each replicate: without spread."""
    count = len(lit)
    number = np.repeat(np.arange(replicates, dtype=np.int32), count)
    return arriving(np.tile(origin, (replicates, 1)), np.tile(lit, replicates) / replicates, number, replicates)


def cells(half_width: float, count: int, *, distance: float = FAR, axis: int = 0) -> NDArray[np.float64]:
    """Middles of equal cells of a source along one axis, (count, 3)."""
    origin = np.zeros((count, 3))
    origin[:, axis] = half_width * ((np.arange(count) + 0.5) / count * 2 - 1)
    origin[:, 2] = distance
    return origin


def slit(half_width: float, count: int = 1000, *, distance: float = FAR, axis: int = 0) -> Arrivals:
    return exactly(cells(half_width, count, distance=distance, axis=axis), np.full(count, 1 / count))


def far_disc(half_width: float, count: int = 60_000) -> Arrivals:
    """Light of an even disc in strips, each strip exact, dealt out to two replicates."""
    lit = np.diff(disc_profile(np.linspace(-1, 1, count + 1)))
    return arriving(cells(half_width, count), lit, np.arange(count, dtype=np.int32) % 2, 2)


def disc_profile(x: NDArray[np.float64]) -> NDArray[np.float64]:
    return 0.5 + (x * np.sqrt(1 - x * x) + np.arcsin(x)) / np.pi


def near_disc(*, radius: float, distance: float, seed: int, replicates: int = 8, points: int = 256) -> Arrivals:
    """Even Lambertian disc on the axis at a finite distance, at random."""
    rng = np.random.default_rng(seed)
    count = replicates * points
    out, turn = radius * np.sqrt(rng.random(count)), 2 * np.pi * rng.random(count)
    origin = np.stack([out * np.cos(turn), out * np.sin(turn), np.full(count, distance)], axis=1)
    lit = distance**2 / (out**2 + distance**2) ** 2 * np.pi * radius**2 / count
    return arriving(origin, lit, np.repeat(np.arange(replicates, dtype=np.int32), points), replicates)


def strip_share(low: float, high: float, *, radius: float, distance: float) -> float:
    """Share of the illuminance by a Lambertian disc that its strip from low to high gives (cos^2 / r^2 by dA)."""

    def column(x: float) -> float:
        top = np.sqrt(radius**2 - x * x)
        return float(quad(lambda y: distance**2 / (x * x + y * y + distance**2) ** 2, -top, top)[0])

    return float(quad(column, low, high)[0]) / (np.pi * radius**2 / (radius**2 + distance**2))


def value(found: Estimate | None) -> float:
    assert found is not None
    return found.value


def test_full_width_and_its_share_for_a_slit() -> None:
    # Derived: full width 2 h tan(a/2) = 0.705308 for h = 2, a = 20 degrees; a straight ramp has 0.8 of it.
    width = value(edge_width(slit(FAR * TAN_10), height=2.0))
    assert width / 0.8 == pytest.approx(0.705308, abs=5e-7)
    assert width / (4 * TAN_10) == pytest.approx(0.80000000, abs=5e-9)


def test_share_of_the_full_width_for_a_disc() -> None:
    # Derived: root of 1/2 + (x sqrt(1 - x^2) + asin x)/pi at 0.9.
    width = value(edge_width(far_disc(FAR * TAN_10), height=2.0))
    assert width / (4 * TAN_10) == pytest.approx(0.68704883, abs=5e-9)


def test_profile_of_a_disc() -> None:
    # Derived, same formula: half way from the centre line to full light; slope 4/pi per full width in the middle;
    # dark and full beyond the ends.
    half = 2 * TAN_10
    profile = edge_profile(far_disc(FAR * TAN_10), places=half * np.array([0.5, -1e-4, 1e-4, -1.01, 1.01]), height=2.0)
    assert profile is not None
    assert profile[0] == pytest.approx(0.80449889, abs=5e-9)
    assert (profile[2] - profile[1]) / 1e-4 == pytest.approx(1.27323954, abs=2e-8)
    assert profile[3:] == pytest.approx([0, 1], abs=1e-12)


@pytest.mark.parametrize("direction", ["x", "y"])
def test_two_directions_are_those_of_the_source(direction: Direction) -> None:
    # Derived: slit 40 long at 100, edge at 4: 0.8 * 40 * 4 / (100 - 4) along it, a sharp shadow across it.
    along = slit(20.0, distance=100.0, axis="xy".index(direction))
    assert value(edge_width(along, height=4.0, direction=direction)) == pytest.approx(0.8 * 40 / 24, abs=1e-9)
    across: Direction = "y" if direction == "x" else "x"
    assert value(edge_width(along, height=4.0, direction=across)) == pytest.approx(0.0, abs=1e-12)


def test_light_off_to_one_side_moves_the_shadow_to_the_other() -> None:
    # Derived: a beam from x = 30 at 100 over an edge 10 high, which hides smaller x, clears it from
    # s = -30 * 10 / 90 on.
    beam = exactly(np.array([[30.0, 0, 100]]), np.ones(1))
    profile = edge_profile(beam, places=[-10 / 3 - 0.01, -10 / 3 + 0.01], height=10.0)
    assert profile is not None
    assert profile.tolist() == [0.0, 1.0]


def test_what_the_edge_cannot_hide_does_not_count() -> None:
    # Derived: light from lower than the edge and from behind the plane leaves the width alone.
    above = slit(20.0, distance=100.0)
    low = exactly(np.array([[50.0, 0, 3], [1, 0, -9]]), np.array([5.0, 5.0]))
    assert value(edge_width(merge([above, low]), height=4.0)) == value(edge_width(above, height=4.0))
    assert edge_width(low, height=4.0) is None
    assert edge_profile(low, places=[0.0], height=4.0) is None


def test_point_of_the_arrivals_is_where_the_plane_lies() -> None:
    # Derived: everything moved by the same vector casts the same shadow.
    here = near_disc(radius=60, distance=70, seed=1)
    moved = np.array([7.0, -3, 11])
    there = Arrivals(**{**vars(here), "point": moved, "origin": here.origin + moved})
    assert value(edge_width(there, height=2.0)) == pytest.approx(value(edge_width(here, height=2.0)), rel=1e-12)
    hairs = [hair_contrast(arrivals, diameter=0.1, height=0.3) for arrivals in (here, there)]
    assert value(hairs[1]) == pytest.approx(value(hairs[0]), rel=1e-9)


def test_edge_under_a_near_disc_is_unbiased_and_its_error_bar_honest() -> None:
    # Independent quadrature: the 90 % quantile of the disc's light across x, carried down past the edge.
    radius, distance, height = 60.0, 70.0, 2.0
    far = brentq(lambda x: strip_share(0, x, radius=radius, distance=distance) - 0.4, 0, radius - 1e-6)
    runs = [edge_width(near_disc(radius=radius, distance=distance, seed=seed), height=height) for seed in range(200)]
    assert_honest(runs, 2 * far * height / (distance - height), bias=0.0)


def assert_honest(runs: list[Estimate | None], exact: float, *, bias: float) -> None:
    """Mean within four of its errors and so many of one run's, the error bar right, 95 % intervals that cover."""
    rows = [(run.value, run.standard_error, run.half_interval) for run in runs if run is not None]
    figure, error, half = np.array(rows).T
    assert len(figure) == len(runs)
    spread = figure.std(ddof=1)
    assert abs(figure.mean() - exact) < (4 / np.sqrt(len(runs)) + bias) * spread
    assert 0.8 < np.sqrt(np.mean(error**2)) / spread < 1.25
    # Binomial: 200 honest 95 % intervals hit 179 to 198 times in 999 of 1000 tests.
    assert 179 <= int((np.abs(figure - exact) < half).sum()) <= 198


def cells_for(share: float) -> int:
    """Number of equal cells in which a window of this share of the slit covers a whole number, and hardly less."""
    return next(
        count
        for count in (Fraction(share).limit_denominator(most).denominator for most in range(1000, 60_000, 500))
        if 0 <= np.ceil(share * count) / count - share < 1e-7
    )


def test_greatest_loss_behind_a_hair() -> None:
    # Derived, small angles: w / (2 h tan(a/2)) = 0.283564 for w = 0.1, h = 1, a = 20 degrees. Source and hair are
    # a thousandth of that here, so that the angles are small and the quotient the same.
    small = 1e-3
    source = slit(FAR * TAN_10 * small, cells_for(0.1 / (2 * TAN_10)))
    assert value(hair_contrast(source, diameter=0.1 * small, height=1.0)) == pytest.approx(0.283564, abs=5e-7)


def test_length_of_the_full_shadow_behind_a_hair() -> None:
    # Derived, small angles: w / (2 tan(a/2)) = 0.283564; full shadow at its end, and past it the loss of above.
    small = 1e-3
    source = slit(FAR * TAN_10 * small, 5000)
    inside, outside = (
        hair_contrast(source, diameter=0.1 * small, height=height) for height in (0.283564 - 5e-7, 0.283564 * 1.02)
    )
    assert value(inside) == 1.0
    assert value(outside) == pytest.approx(1 / 1.02, abs=1 / 5000)


def test_a_round_hair_hides_more_of_oblique_light() -> None:
    # Derived: a hair of radius 1, 10 above the place, hides light within asin(1/10) of the vertical: tan = 0.1005.
    edge = 100 * 0.1 / np.sqrt(0.99)
    for across, expected in ((edge - 1e-6, 1.0), (edge + 1e-6, 0.5)):
        pair = exactly(np.array([[-across, 0, 100], [across, 0, 100]]), np.ones(2))
        assert value(hair_contrast(pair, diameter=2.0, height=10.0)) == pytest.approx(expected, abs=1e-12)


def test_shadow_of_a_hair_is_paler_for_light_from_below_it() -> None:
    # Derived: full shadow of a beam that gives 3 of 4 parts of the light; what comes from behind is no light here.
    beams = exactly(np.array([[0.0, 0, 100], [9, 0, 0.2], [1, 0, -9]]), np.array([3.0, 1, 5]))
    assert value(hair_contrast(beams, diameter=0.1, height=0.5)) == pytest.approx(0.75, abs=1e-12)
    below = exactly(np.array([[9, 0, 0.2]]), np.ones(1))
    assert value(hair_contrast(below, diameter=0.1, height=0.5)) == 0.0
    behind = exactly(np.array([[1.0, 0, -9]]), np.ones(1))
    assert hair_contrast(behind, diameter=0.1, height=0.5) is None


@pytest.mark.parametrize("direction", ["x", "y"])
def test_hair_lies_across_the_direction(direction: Direction) -> None:
    # Derived: a slit along the hair is hidden at once, a slit across it hardly at all.
    other: Direction = "y" if direction == "x" else "x"
    source = slit(50.0, distance=100.0, axis="xy".index(direction))
    assert value(hair_contrast(source, diameter=0.1, height=1.0, direction=other)) == 1.0
    assert value(hair_contrast(source, diameter=0.1, height=1.0, direction=direction)) < 0.15


def test_hair_under_a_near_disc_is_not_darkened_by_noise_and_its_error_bar_honest() -> None:
    # Independent quadrature: darkest below the hair's middle, where it hides the strip that passes it within its
    # radius. The bias allowed is that of choosing the place on noisy light (see the module).
    radius, distance, diameter, height = 60.0, 70.0, 0.1, 0.3
    sine = diameter / 2 / height
    edge = distance * sine / np.sqrt(1 - sine**2)
    exact = strip_share(-edge, edge, radius=radius, distance=distance)
    runs = [
        hair_contrast(near_disc(radius=radius, distance=distance, seed=seed), diameter=diameter, height=height)
        for seed in range(200)
    ]
    assert_honest(runs, exact, bias=0.15)


def trapezoid(places: NDArray[np.float64], *, hair: float, source: float) -> NDArray[np.float64]:
    """Light behind a hair of width hair under an even slit whose own shadow edge is source wide, small angles.

    Derived here by similar triangles: a place sees the hair hide the stretch of hair around it out of source.
    """
    low, high = np.maximum(places - hair / 2, -source / 2), np.minimum(places + hair / 2, source / 2)
    return np.asarray(1 - np.maximum(high - low, 0) / source)


@pytest.mark.parametrize("wide", [0.4, 1.0, 2.5])
def test_profile_of_a_hair_has_umbra_and_penumbra_by_similar_triangles(wide: float) -> None:
    # Derived, small angles: flat over abs(hair - source), nothing lost beyond hair + source, straight between; full
    # shadow where the hair is wider than source = 2 h tan(a/2).
    small, height = 1e-3, 1.0
    source = 2 * height * TAN_10 * small
    light = slit(FAR * TAN_10 * small, 20_000)
    places = source * np.linspace(-2, 2, 81)
    found = hair_profile(light, places=places, diameter=wide * source, height=height)
    assert found is not None
    assert found == pytest.approx(trapezoid(places, hair=wide * source, source=source), abs=1 / 20_000 + 1e-6)
    if wide > 1:
        assert found[40] == 0.0


def test_light_lost_behind_a_hair_is_its_width() -> None:
    # Derived: under distant light each direction loses the hair's diameter, whatever the source; at slope t from the
    # vertical diameter sqrt(1 + t^2).
    diameter, height = 0.05, 0.5
    places = np.linspace(-2, 2, 40_001)
    for origin, lit, expected in (
        (cells(FAR * 1e-3, 500), np.full(500, 1 / 500), diameter),
        (np.array([[FAR, 0, FAR]]), np.ones(1), diameter * np.sqrt(2)),
    ):
        found = hair_profile(exactly(origin, lit), places=places, diameter=diameter, height=height)
        assert found is not None
        # A step of 1e-4 mm at either end of each shadow.
        assert (1 - found).sum() * 1e-4 == pytest.approx(expected, abs=1e-4)


def test_shadow_of_a_hair_lies_opposite_to_the_light() -> None:
    # Derived: light from 45 degrees at x casts the shadow of a hair at height h to -h.
    beam = exactly(np.array([[FAR, 0, FAR]]), np.ones(1))
    profile = hair_profile(beam, places=[-0.5, 0.0, 0.5], diameter=0.05, height=0.5)
    assert profile is not None
    assert profile.tolist() == [0.0, 1.0, 1.0]
    middle = hair_places(beam, shares=[0.5], diameter=0.05, height=0.5)
    assert middle is not None
    assert middle == pytest.approx([-0.5], abs=2e-3)  # the round hair's shadow is not quite even about its middle


def test_darkest_place_of_the_profile_is_the_contrast_of_the_hair() -> None:
    diameter, height, places = 0.1, 0.3, np.linspace(-1, 1, 2001)
    for seed in range(5):
        light = near_disc(radius=60, distance=70, seed=seed)
        profile = hair_profile(light, places=places, diameter=diameter, height=height)
        contrast = hair_contrast(light, diameter=diameter, height=height)
        assert profile is not None
        assert contrast is not None
        assert abs(1 - profile.min() - contrast.value) < 3 * contrast.standard_error


def test_profile_under_a_near_disc() -> None:
    # Independent quadrature, as above: below the hair's middle it hides the strip that passes within its radius.
    radius, distance, diameter, height = 60.0, 70.0, 0.1, 0.3
    sine = diameter / 2 / height
    edge = distance * sine / np.sqrt(1 - sine**2)
    exact = 1 - strip_share(-edge, edge, radius=radius, distance=distance)
    found = [
        hair_profile(near_disc(radius=radius, distance=distance, seed=seed), places=[0.0], diameter=0.1, height=0.3)
        for seed in range(100)
    ]
    values = np.array([each[0] for each in found if each is not None])
    assert len(values) == 100
    assert abs(values.mean() - exact) < 4 * values.std(ddof=1) / 10


def test_light_from_below_the_hair_fills_its_shadow() -> None:
    # Derived: of 4 parts of light 3 come as a beam from above and are hidden; what comes from behind does not count.
    beams = exactly(np.array([[0.0, 0, 100], [9, 0, 0.2], [1, 0, -9]]), np.array([3.0, 1, 5]))
    profile = hair_profile(beams, places=[-0.2, 0.0, 0.2], diameter=0.1, height=0.5)
    assert profile is not None
    assert profile == pytest.approx([1, 0.25, 1], abs=1e-12)
    behind = exactly(np.array([[1.0, 0, -9]]), np.ones(1))
    assert hair_profile(behind, places=[0.0], diameter=0.1, height=0.5) is None
    assert hair_places(behind, shares=[0.5], diameter=0.1, height=0.5) is None
    with pytest.raises(ValueError, match="Allowed: a diameter above 0"):
        hair_profile(beams, places=[0.0], diameter=0.0, height=0.5)


def test_places_of_an_edge_are_its_profile_the_other_way() -> None:
    light = near_disc(radius=60, distance=70, seed=4)
    shares = np.array([0.1, 0.37, 0.5, 0.9])
    places = edge_places(light, shares=shares, height=2.0)
    assert places is not None
    profile = edge_profile(light, places=places, height=2.0)
    assert profile is not None
    assert profile == pytest.approx(shares, abs=1e-9)
    assert places[-1] - places[0] == value(edge_width(light, height=2.0))
    # Derived: a slit's profile is a straight ramp 40 * 4 / (100 - 4) wide.
    ramp = edge_places(slit(20.0, distance=100.0), shares=[0.25, 0.5], height=4.0)
    assert ramp == pytest.approx([-40 / 24 / 4, 0], abs=2e-3)
    assert edge_places(exactly(np.array([[1.0, 0, -9]]), np.ones(1)), shares=[0.5], height=4.0) is None


def test_heights_and_diameters_that_make_no_sense() -> None:
    source = slit(20.0, distance=100.0)
    with pytest.raises(ValueError, match=r"height = 0\.0: the edge must be above the surface\. Allowed: above 0"):
        edge_width(source, height=0.0)
    with pytest.raises(ValueError, match=r"Allowed: a diameter above 0 and a height of its middle above 0\.5"):
        hair_contrast(source, diameter=1.0, height=0.5)
    with pytest.raises(ValueError, match="Allowed: a diameter above 0"):
        hair_contrast(source, diameter=0.0, height=0.5)
