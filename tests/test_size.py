"""Apparent size of the source: effective solid angle, equal cone, equivalent width and height, hot spot.

Samples are points of randomly shifted lattices, as the engine's are, in sources whose size is known. Every
check of bias runs over many seeds and is held to the spread of the runs.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from lightsim.light.arrivals import Arrivals, merge
from lightsim.light.estimate import Estimate
from lightsim.light.lattice import Lattice
from lightsim.measure.size import (
    axes_of,
    centre_direction,
    cone_angle,
    directions_of,
    effective_solid_angle,
    equivalent_width_height,
    hot_spot,
    map_of,
)

SOUTH_EAST = np.array([0.6, -0.3, 0.7]) / np.linalg.norm([0.6, -0.3, 0.7])
Source = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray, np.ndarray]]


def lattice(*, seed: int, points: int, replicates: int = 16) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    shifted = Lattice(replicates=replicates, points=points, seed=seed)
    u, v = (axis.astype(float) for axis in shifted.coordinates(0, 2, shifted.paths))
    return u, v, np.repeat(np.arange(replicates, dtype=np.int32), points)


def arrivals_from(
    source: Source,
    *,
    seed: int,
    points: int = 1024,
    replicates: int = 16,
    centre: np.ndarray = SOUTH_EAST,
    luminance: float = 0.0,
) -> Arrivals:
    """Samples of a source given on the equal-area map. luminance > 0: straight from a head."""
    u, v, replicate = lattice(seed=seed, points=points, replicates=replicates)
    x, y, weight = source(u, v)
    count = len(u)
    direction = directions_of(x, y, centre)
    return Arrivals(
        point=np.zeros(3),
        direction=direction,
        origin=100.0 * direction,
        weight=weight / count,
        part=np.zeros(count, np.int32),
        straight=np.full(count, luminance > 0),
        luminance=np.full(count, luminance),
        replicate=replicate,
        replicates=replicates,
    )


def disc(full_angle: float, *, at: tuple[float, float] = (0.0, 0.0), luminance: float = 1.0) -> Source:
    """Evenly bright disc around a place of the map, full angle in degrees."""
    return map_disc(2 * np.sin(np.radians(full_angle) / 4), at=at, luminance=luminance)


def map_disc(radius: float, *, at: tuple[float, float] = (0.0, 0.0), luminance: float = 1.0) -> Source:
    def source(u, v):
        reach = radius * np.sqrt(u)
        weight = np.full(len(u), luminance * np.pi * radius**2)
        return at[0] + reach * np.cos(2 * np.pi * v), at[1] + reach * np.sin(2 * np.pi * v), weight

    return source


def rectangle(width: float, height: float, *, slant: float = 0.0) -> Source:
    def source(u, v):
        x, y = (u - 0.5) * width, (v - 0.5) * height
        turned = np.cos(slant) * x - np.sin(slant) * y, np.sin(slant) * x + np.cos(slant) * y
        return *turned, np.full(len(u), width * height)

    return source


def cosine_power(power: float) -> Source:
    """L = cos^m of the angle to the centre, over a hemisphere; directions in proportion to L."""

    def source(u, v):
        cosine = (1 - u) ** (1 / (power + 1))
        reach = np.sqrt(2 * (1 - cosine))
        turn = 2 * np.pi * v
        return reach * np.cos(turn), reach * np.sin(turn), np.full(len(u), 2 * np.pi / (power + 1))

    return source


def normal_spot(sigma: float) -> Source:
    def source(u, v):
        reach = sigma * np.sqrt(-2 * np.log(1 - u))
        turn = 2 * np.pi * v
        return reach * np.cos(turn), reach * np.sin(turn), np.full(len(u), 2 * np.pi * sigma**2)

    return source


def bright_patch(u, v):
    """0.5 sr at L = 1, and on a square of 0.01 sr within it 9 more; samples in proportion to light."""
    panel, patch, share = np.sqrt(0.5), 0.1, 0.09 / 0.59
    on_patch = u < share
    x = np.where(on_patch, 0.1 + patch * (u / share - 0.5), panel * ((u - share) / (1 - share) - 0.5))
    y = np.where(on_patch, -0.07 + patch * (v - 0.5), panel * (v - 0.5))
    return x, y, np.full(len(u), 0.59)


def over_seeds(figure: Callable[[int], Estimate], *, seeds: int) -> tuple[np.ndarray, float, float]:
    """Values of many runs, their spread, and stated error / spread."""
    runs = [figure(seed) for seed in range(seeds)]
    value = np.array([run.value for run in runs])
    spread = float(value.std(ddof=1))
    stated = np.sqrt(np.mean([run.standard_error**2 for run in runs]))
    return value, spread, float(stated / spread)


# --- the map ---------------------------------------------------------------------------------------------


def test_map_is_lambert_equal_area_and_goes_back():
    # Snyder 1987, ch. 24 (from memory): a direction at angle a lies 2 sin(a/2) from the middle.
    rng = np.random.default_rng(5)
    direction = rng.normal(size=(500, 3))
    direction /= np.linalg.norm(direction, axis=1)[:, None]
    x, y = map_of(direction, SOUTH_EAST)
    angle = np.arccos(np.clip(direction @ SOUTH_EAST, -1, 1))
    assert np.hypot(x, y) == pytest.approx(2 * np.sin(angle / 2), abs=1e-9)
    assert directions_of(x, y, SOUTH_EAST) == pytest.approx(direction, abs=1e-9)


def test_axes_are_right_and_up_towards_the_lens_and_defined_overhead():
    # The project's frame: +z towards the lens, +x right, +y up.
    assert np.array(axes_of(np.array([0.0, 0.0, 1.0]))) == pytest.approx(np.eye(3)[:2])
    across, upward = axes_of(SOUTH_EAST)
    assert across[1] == pytest.approx(0, abs=1e-12)
    assert upward[1] > 0
    for vertical in (1.0, -1.0):
        across, upward = axes_of(np.array([0.0, vertical, 0.0]))
        assert across == pytest.approx([1, 0, 0])
        assert np.cross(across, upward) == pytest.approx([0, vertical, 0])


def test_centre_direction_is_against_the_illuminance_vector():
    # CIE S 017:2020: the illuminance vector points away from the light.
    found = centre_direction(arrivals_from(disc(40), seed=1))
    assert found == pytest.approx(SOUTH_EAST, abs=2e-3)
    assert np.linalg.norm(found) == pytest.approx(1, abs=1e-12)


# --- effective solid angle -------------------------------------------------------------------------------


@pytest.mark.parametrize("points", [512, 2048])
@pytest.mark.parametrize("full_angle", [1.0, 5.0, 20.0, 53.0, 90.0])
def test_discs_of_1_to_90_degrees_keep_their_solid_angle(full_angle, points):
    # Derived: any uniform source has its own solid angle, here 2 pi (1 - cos(a/2)).
    exact = 2 * np.pi * (1 - np.cos(np.radians(full_angle) / 2))
    value, spread, _ = over_seeds(
        lambda seed: effective_solid_angle(arrivals_from(disc(full_angle), seed=seed, points=points)),
        seeds=24,
    )
    assert abs(value.mean() / exact - 1) < 0.0005 + 4 * spread / exact / np.sqrt(24)
    assert abs(value.mean() / exact - 1) < 0.005


SOURCES = {
    # name: source, exact effective solid angle [sr], greatest relative bias of the method itself
    "square": (rectangle(0.8, 0.8), 0.64, 0.0005),
    "strip": (rectangle(1.2, 0.1), 0.12, 0.0005),
    "slanted strip": (rectangle(1.2, 0.1, slant=0.6), 0.12, 0.0005),
    "cosine": (cosine_power(1), 4.71238898, 0.004),
    "cosine squared": (cosine_power(2), 3.49065850, 0.004),
    "cosine to the tenth": (cosine_power(10), 1.09047018, 0.004),
    "normal spot": (normal_spot(0.1), 0.12566371, 0.003),
    "bright patch": (bright_patch, 0.23362416, 0.003),
}


@pytest.mark.parametrize("name", SOURCES)
def test_effective_solid_angle_is_unbiased_and_its_error_bar_honest(name):
    # Derived: cos^m gives 2 pi (2 m + 1) / (m + 1)^2, a normal spot 4 pi sigma^2 (exact on the equal-area map).
    source, exact, bias = SOURCES[name]
    value, spread, honesty = over_seeds(lambda seed: effective_solid_angle(arrivals_from(source, seed=seed)), seeds=64)
    assert abs(value.mean() - exact) < bias * exact + 4 * spread / np.sqrt(64)
    assert spread < 0.03 * exact
    assert 0.7 < honesty < 1.6


def test_two_uneven_discs():
    # Derived, (int L dO)^2 / int L^2 dO = 0.44545455 sr: 0.2 sr at L = 1 and 0.3 sr at L = 0.5.
    def figure(seed: int) -> Estimate:
        bright = arrivals_from(map_disc(np.sqrt(0.2 / np.pi), at=(-0.35, 0.0)), seed=seed)
        dim = map_disc(np.sqrt(0.3 / np.pi), at=(0.4, 0.1), luminance=0.5)
        return effective_solid_angle(merge([bright, arrivals_from(dim, seed=1000 + seed)]))

    value, spread, honesty = over_seeds(figure, seeds=64)
    assert abs(value.mean() - 0.44545455) < 0.001 * 0.445 + 4 * spread / 8
    assert 0.7 < honesty < 1.6


def test_light_straight_from_a_head_is_exact():
    # Derived here: samples of known luminance alone leave no windows and no error.
    found = effective_solid_angle(arrivals_from(rectangle(0.3, 0.2), seed=4, points=64, luminance=1.0))
    assert found.value == pytest.approx(0.06, rel=1e-9)
    assert found.standard_error < 1e-9


def test_head_seen_through_a_glowing_sheet():
    # Derived here: head 0.01 sr at L = 8, on a sheet of 0.5 sr at L = 1, so 9 where they overlap:
    # (0.5 + 0.08)^2 / (0.49 + 0.01 * 81). The cross term alone is 2 * 8 * 0.01.
    def figure(seed: int) -> Estimate:
        def head(u, v):
            return 0.1 * (u - 0.5) + 0.15, 0.1 * (v - 0.5) - 0.1, np.full(len(u), 0.08)

        straight = arrivals_from(head, seed=seed, points=64, luminance=8.0)
        sheet = arrivals_from(rectangle(np.sqrt(0.5), np.sqrt(0.5)), seed=500 + seed)
        return effective_solid_angle(merge([straight, sheet]))

    value, spread, honesty = over_seeds(figure, seeds=64)
    exact = 0.58**2 / (0.49 + 0.81)
    assert abs(value.mean() - exact) < 0.001 * exact + 4 * spread / 8
    assert spread < 0.01 * exact
    assert 0.7 < honesty < 1.6


def test_stray_arrivals_do_not_coarsen_the_map():
    # Derived here: 0.1 % of the light from everywhere round a disc of 1 degree; its square is nothing.
    def figure(seed: int) -> Estimate:
        small = arrivals_from(disc(1), seed=seed)
        area = small.weight.sum()
        stray = arrivals_from(map_disc(1.9), seed=900 + seed, points=16)
        scaled = stray.weight * (0.001 * area / stray.weight.sum())
        return effective_solid_angle(merge([small, Arrivals(**{**vars(stray), "weight": scaled})]))

    exact = 2 * np.pi * (1 - np.cos(np.radians(0.5))) * 1.001**2
    value, spread, _ = over_seeds(figure, seeds=24)
    assert abs(value.mean() / exact - 1) < 0.001 + 4 * spread / exact / np.sqrt(24)
    assert spread < 0.02 * exact


@pytest.mark.parametrize("chosen", ["none", "unlit"])
def test_no_light_says_so(chosen):
    arrivals = arrivals_from(disc(20), seed=1, points=16)
    if chosen == "none":
        arrivals = arrivals.only(np.zeros(len(arrivals.weight), bool))
    else:
        arrivals = Arrivals(**{**vars(arrivals), "weight": np.zeros(len(arrivals.weight))})
    for figure in (centre_direction, effective_solid_angle, equivalent_width_height):
        with pytest.raises(ValueError, match="no light arrives"):
            figure(arrivals)


def test_too_few_arrivals_say_so():
    # Derived here: light in one replicate only has no product with another.
    arrivals = arrivals_from(disc(20), seed=1, points=16)
    with pytest.raises(ValueError, match="more paths"):
        effective_solid_angle(arrivals.only(arrivals.replicate == 0))


# --- equal cone ------------------------------------------------------------------------------------------


def test_cone_of_a_solid_angle():
    # Derived here: 2 pi (1 - cos(a/2)): 180 degrees for a hemisphere; 2 sqrt(O/pi) for a small one.
    assert cone_angle(Estimate(2 * np.pi)).value == pytest.approx(180)
    assert cone_angle(Estimate(2 * np.pi * (1 - np.cos(np.pi / 6)))).value == pytest.approx(60)
    assert cone_angle(Estimate(1e-4)).value == pytest.approx(np.degrees(2 * np.sqrt(1e-4 / np.pi)), rel=1e-5)


def test_error_of_the_cone_is_the_difference_quotient():
    found = cone_angle(Estimate(0.8, 0.01, 16))
    step = cone_angle(Estimate(0.81)).value - cone_angle(Estimate(0.79)).value
    assert found.standard_error == pytest.approx(step / 2, rel=1e-3)
    assert found.replicates == 16


@pytest.mark.parametrize("solid_angle, angle", [(13.5, 360.0), (4 * np.pi, 360.0), (0.0, 0.0)])
def test_cone_at_the_ends_stays_finite(solid_angle, angle):
    found = cone_angle(Estimate(solid_angle, 0.05, 16))
    assert found.value == pytest.approx(angle)
    assert 0 < found.standard_error < 90


# --- width and height ------------------------------------------------------------------------------------


def spanned(length: float) -> float:
    return float(np.degrees(4 * np.arcsin(length / 4)))


# Derived here: an even rectangle on the map keeps its sides, an even disc has 3 pi^2 / 16 of its radius.
@pytest.mark.parametrize(
    "source, sides",
    [
        (rectangle(0.9, 0.3), (0.9, 0.3)),
        (map_disc(0.5), (3 * np.pi**2 / 32, 3 * np.pi**2 / 32)),
        (map_disc(0.01), (3 * np.pi**2 / 1600, 3 * np.pi**2 / 1600)),
        (normal_spot(0.1), (0.2 * np.sqrt(np.pi), 0.2 * np.sqrt(np.pi))),
    ],
)
@pytest.mark.parametrize("side", [0, 1])
def test_equivalent_width_and_height(source, sides, side):
    value, spread, honesty = over_seeds(
        lambda seed: equivalent_width_height(arrivals_from(source, seed=seed))[side], seeds=64
    )
    exact = spanned(sides[side])
    assert abs(value.mean() - exact) < 0.002 * exact + 4 * spread / 8
    assert spread < 0.02 * exact
    assert 0.6 < honesty < 1.6


def test_width_of_light_straight_from_a_head_beside_a_panel():
    # Derived here: panel 0.8 wide, 0.5 high at L = 1, head 0.04 x 0.04 at L = 50 more within it; across x
    # int P = 0.4 + 0.08, int P^2 = 0.76 * 0.25 + 0.04 * 2.5^2.
    def figure(seed: int) -> Estimate:
        def head(u, v):
            return 0.04 * u + 0.1, 0.04 * v, np.full(len(u), 0.08)

        straight = arrivals_from(head, seed=seed, points=64, luminance=50.0)
        panel = arrivals_from(rectangle(0.8, 0.5), seed=500 + seed)
        return equivalent_width_height(merge([straight, panel]))[0]

    value, spread, _ = over_seeds(figure, seeds=40)
    exact = spanned(0.48**2 / (0.76 * 0.25 + 0.04 * 2.5**2))
    # The centre of the map moves towards the head: its axes turn by less than a degree.
    assert abs(value.mean() - exact) < 0.004 * exact + 4 * spread / np.sqrt(40)


# --- hot spot --------------------------------------------------------------------------------------------


def spot_of(source: Source, seed: int, points: int = 1024) -> Estimate:
    arrivals = arrivals_from(source, seed=seed, points=points)
    found = hot_spot(arrivals, effective_solid_angle(arrivals))
    assert found is not None
    return found


@pytest.mark.parametrize("points", [256, 2048])
@pytest.mark.parametrize("full_angle", [15.0, 60.0])
def test_an_even_disc_has_no_hot_spot(full_angle, points):
    # Derived here: its mean over any circle inside is its mean, 0 stops.
    value, spread, honesty = over_seeds(lambda seed: spot_of(disc(full_angle), seed, points), seeds=64)
    assert abs(value.mean()) < 0.003 + 4 * spread / 8
    assert 0.7 < honesty < 1.6


def test_a_bright_patch_larger_than_the_circle_gives_its_ratio():
    # 10 against a mean of 0.59 sr / 0.23362416 sr; the patch is 5.7 degrees wide, the circle 5.
    value, spread, honesty = over_seeds(lambda seed: spot_of(bright_patch, seed), seeds=64)
    exact = np.log2(10 / (0.59 / 0.23362416))
    assert abs(value.mean() - exact) < 0.02 + 4 * spread / 8
    assert 0.6 < honesty < 1.6


def test_a_source_smaller_than_the_circle_has_no_hot_spot():
    arrivals = arrivals_from(disc(4.5), seed=2)
    assert hot_spot(arrivals, effective_solid_angle(arrivals)) is None
