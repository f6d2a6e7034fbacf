"""Illuminance on planes and bodies, the illuminance vector, and ratios, against closed forms."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from lightsim.light.arrivals import Arrivals
from lightsim.light.estimate import Estimate
from lightsim.measure.illuminance import (
    cylindrical_illuminance,
    hemispherical_illuminance,
    illuminance,
    illuminance_vector,
    scalar_illuminance,
    share,
    spherical_illuminance,
    top_to_underside,
    vector_scalar_ratio,
)
from lightsim.measure.ratio import ratio, ratio_in_stops

Z = (0.0, 0.0, 1.0)


def arriving(direction: NDArray[np.float64], weight: NDArray[np.float64], replicates: int = 4) -> Arrivals:
    """The same light in each replicate: exact, without spread."""
    count = len(weight)
    return Arrivals(
        point=np.zeros(3),
        direction=np.tile(direction, (replicates, 1)),
        origin=np.tile(direction, (replicates, 1)) * 100.0,
        weight=np.tile(weight, replicates) / replicates,
        part=np.zeros(count * replicates, np.int32),
        straight=np.zeros(count * replicates, bool),
        luminance=np.zeros(count * replicates),
        replicate=np.repeat(np.arange(replicates, dtype=np.int32), count),
        replicates=replicates,
    )


def noisy(values: dict[tuple[float, float, float], list[float]]) -> Arrivals:
    """One beam a direction, of its own value in each replicate."""
    replicates = len(next(iter(values.values())))
    direction = np.repeat(np.array(list(values)), replicates, axis=0)
    count = len(direction)
    return Arrivals(
        point=np.zeros(3),
        direction=direction,
        origin=direction * 100.0,
        weight=np.concatenate(list(values.values())) / replicates,
        part=np.zeros(count, np.int32),
        straight=np.zeros(count, bool),
        luminance=np.zeros(count),
        replicate=np.tile(np.arange(replicates, dtype=np.int32), len(values)),
        replicates=replicates,
    )


def cap(half_angle: float) -> Arrivals:
    """Cap about +z of luminance 1, half-angle in degrees: Gauss points in angle, even steps of azimuth."""
    node, weight = np.polynomial.legendre.leggauss(48)
    angle = np.radians(half_angle) * (node + 1) / 2
    turn = (np.arange(16) + 0.5) * 2 * np.pi / 16
    sine, cosine = np.sin(angle)[:, None], np.cos(angle)[:, None]
    axes = [sine * np.cos(turn), sine * np.sin(turn), np.repeat(cosine, 16, axis=1)]
    ring = weight * np.radians(half_angle) / 2 * np.sin(angle) * 2 * np.pi / 16
    return arriving(np.stack(axes, axis=2).reshape(-1, 3), np.repeat(ring, 16))


def beams(*given: tuple[tuple[float, float, float], float]) -> Arrivals:
    direction = np.array([direction for direction, _ in given])
    return arriving(direction / np.linalg.norm(direction, axis=1)[:, None], np.array([weight for _, weight in given]))


def half_last_digit(printed: str) -> float:
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


def length_over_spherical(arrivals: Arrivals) -> float:
    return float(np.linalg.norm(illuminance_vector(arrivals).value)) / spherical_illuminance(arrivals).value


def ratio_of(arrivals: Arrivals) -> float:
    found = vector_scalar_ratio(arrivals)
    assert found is not None
    return found.value


# E = pi L sin^2 of the half-angle and S0 = 2 pi L (1 - cos), derived here: a uniform cone of 30 degrees, discs of
# radius = height and 30 at 80, a hemisphere, a full sphere, a Lambertian sphere of radius 20 at 100.
# Vector/scalar 4 (1 + cos)/2 after Lynes and Cuttle (from memory); means over the curved surface after
# CIE S 017:2020 (17-21-066 note 2, 17-21-055).
EXACT: list[tuple[str, Callable[[], float], str]] = [
    ("cone: vector", lambda: -illuminance_vector(cap(30)).value[2], "0.78539816"),
    ("cone: plane", lambda: illuminance(cap(30), Z).value, "0.78539816"),
    ("cone: spherical", lambda: spherical_illuminance(cap(30)).value, "0.84178721"),
    ("cone: vector over spherical", lambda: length_over_spherical(cap(30)), "0.93301270"),
    ("cone: vector/scalar", lambda: ratio_of(cap(30)), "3.73205081"),
    ("disc of radius = height", lambda: length_over_spherical(cap(45)), "0.85355339"),
    ("disc 30 at 80", lambda: length_over_spherical(cap(float(np.degrees(np.arctan2(30, 80))))), "0.96816459"),
    ("disc 30 at 80, plane", lambda: illuminance(cap(float(np.degrees(np.arctan2(30, 80)))), Z).value, "0.38731964"),
    ("two beams at right angles", lambda: length_over_spherical(beams(((1, 0, 0), 1), ((0, 1, 0), 1))), "0.70710678"),
    ("key 3 : fill 1, opposite", lambda: length_over_spherical(beams(((0, 0, 1), 3), ((0, 0, -1), 1))), "0.50000000"),
    ("full sphere", lambda: spherical_illuminance(cap(180)).value, "12.56637061"),
    ("full sphere, mean over a ball", lambda: scalar_illuminance(cap(180)).value, "3.14159265"),
    ("hemisphere on a plane", lambda: illuminance(cap(90), Z).value, "3.14159265"),
    ("hemisphere on a cylinder", lambda: cylindrical_illuminance(cap(90), Z).value, "1.57079633"),
    ("beam across a cylinder", lambda: cylindrical_illuminance(beams(((1, 0, 0), 1)), Z).value, "0.31830989"),
    ("hemisphere on a half-ball", lambda: hemispherical_illuminance(cap(90), Z).value, "2.35619449"),
    ("beam on a half-ball's top", lambda: hemispherical_illuminance(beams(((0, 0, 1), 1)), Z).value, "0.50000000"),
    ("beam on a half-ball's side", lambda: hemispherical_illuminance(beams(((1, 0, 0), 1)), Z).value, "0.25000000"),
    ("sphere 20 at 100", lambda: illuminance(cap(float(np.degrees(np.arcsin(0.2)))), Z).value, "0.12566371"),
]  # fmt: skip


@pytest.mark.parametrize(("computed", "printed"), [row[1:] for row in EXACT], ids=[row[0] for row in EXACT])
def test_closed_forms(computed: Callable[[], float], printed: str) -> None:
    assert computed() == pytest.approx(float(printed), abs=half_last_digit(printed))


def test_tilted_plane_gets_the_cosine_and_nothing_from_behind() -> None:
    # Lambert's cosine law: the vector's component while the whole source is in front (30 + 30 degrees are).
    normal = (np.sin(np.radians(30)), 0.0, np.cos(np.radians(30)))
    expected = np.pi / 4 * np.cos(np.radians(30))
    assert illuminance(cap(30), normal).value == pytest.approx(expected, abs=1e-9)
    assert illuminance(cap(30), (0, 0, -1)).value == 0.0


def test_normals_need_no_unit_length() -> None:
    # Derived here: a plane is turned, not lit more strongly, by a longer normal.
    assert illuminance(cap(30), (0, 0, 7.0)).value == pytest.approx(np.pi / 4, abs=1e-9)
    assert cylindrical_illuminance(cap(90), (0, 3.0, 0)).value == pytest.approx(
        cylindrical_illuminance(cap(90), (0, 1.0, 0)).value, abs=1e-12
    )


@pytest.mark.parametrize("figure", [illuminance, cylindrical_illuminance, hemispherical_illuminance])
def test_direction_of_no_length_is_refused(figure: Callable[..., Estimate]) -> None:
    with pytest.raises(ValueError, match=r"needs a length above 0\. Try"):
        figure(cap(30), (0, 0, 0))


def test_vector_points_away_from_the_light() -> None:
    # CIE S 017:2020, illuminance vector: away from the side with the greater illuminance.
    found = illuminance_vector(beams(((1, 0, 0), 2), ((0, 0, -1), 1)))
    assert found.value == pytest.approx([-2, 0, 1], abs=1e-12)


def test_vector_errors_are_those_of_its_components() -> None:
    # Derived here: beams along the axes, so each component is minus one beam, or the difference of two.
    x, up, down = [1.0, 2.0, 4.0], [3.0, 3.0, 5.0], [1.0, 2.0, 2.0]
    found = illuminance_vector(noisy({(1, 0, 0): x, (0, 0, 1): up, (0, 0, -1): down}))
    differences = np.array(up) - np.array(down)
    expected = [np.std(x, ddof=1) / np.sqrt(3), 0, np.std(differences, ddof=1) / np.sqrt(3)]
    assert found.standard_error == pytest.approx(expected, abs=1e-12)
    # NIST TN 1297, table B.1: 4.30 for 2 degrees of freedom.
    assert found.half_interval / found.standard_error.clip(1e-30) == pytest.approx([4.30, 0, 4.30], abs=0.005)


def test_top_to_underside_in_stops() -> None:
    # Derived here: 8 : 1 is three stops; light from the side or the front reaches neither edge-on plane.
    found = top_to_underside(beams(((0, 1, 0), 8), ((0, -1, 0), 1), ((0, 0, 1), 5)))
    assert found is not None
    assert found.value == pytest.approx(3.0, abs=1e-12)
    assert found.standard_error == pytest.approx(0.0, abs=1e-12)


def test_top_to_underside_has_no_meaning_without_both() -> None:
    assert top_to_underside(beams(((0, 1, 0), 8))) is None
    assert top_to_underside(beams(((0, -1, 0), 8))) is None


def test_vector_scalar_ratio_has_no_meaning_in_the_dark() -> None:
    assert vector_scalar_ratio(beams(((0, 0, 1), 0))) is None


def test_fill_is_a_share_of_the_same_plane() -> None:
    # Derived here: 1 cos 60 out of 1 cos 60 + 2; what comes from behind is in neither.
    arrivals = beams(((0, np.sqrt(3), 1), 1), ((0, 0, 1), 2), ((0, 0, -1), 9))
    chosen = arrivals.direction[:, 1] > 0.1
    found = share(arrivals, chosen, Z)
    assert found is not None
    assert found.value == pytest.approx(0.5 / 2.5, abs=1e-12)
    assert share(arrivals, chosen, (0, -1, 0)) is None
    nothing = share(arrivals, np.zeros(len(chosen), bool), Z)
    assert nothing is not None
    assert nothing.value == 0.0


def test_ratio_of_what_rises_and_falls_together_is_sharp() -> None:
    # Derived here: within each replicate the second is half of the first, so the error cancels.
    samples = np.array([1.0, 1.3, 0.8, 1.1])
    stops, plain = ratio_in_stops(samples, samples / 2), ratio(samples / 2, samples)
    assert stops is not None
    assert plain is not None
    assert stops.value == pytest.approx(1.0, abs=1e-12)
    assert plain.value == pytest.approx(0.5, abs=1e-12)
    assert max(stops.standard_error, plain.standard_error) < 1e-12


def test_one_percent_in_stops() -> None:
    # log2(1.01), derived.
    found = ratio_in_stops(np.full(4, 1.01), np.ones(4))
    assert found is not None
    assert found.value == pytest.approx(0.014355, abs=5e-7)


def test_error_of_a_ratio_in_stops() -> None:
    # Delta method, derived here: 1 % of relative error of the one is 1.4427 % of a stop; 4,000 replicates make the
    # spread itself good to 1 %.
    rng = np.random.default_rng(3)
    a, b = 2 + 0.02 * rng.standard_normal((2, 4000)) * [[1.0], [0.0]]
    found = ratio_in_stops(a, b)
    assert found is not None
    assert found.standard_error * np.sqrt(4000) == pytest.approx(0.01 / np.log(2), rel=0.04)


@pytest.mark.parametrize("reference", [[0.0, 0.0, 0.0], [5.0, 0.0, 0.0]])
def test_no_ratio_without_a_reference_in_two_replicates(reference: list[float]) -> None:
    # Leaving out the one lit replicate would divide by nothing.
    assert ratio(np.ones(3), np.array(reference)) is None
    assert ratio_in_stops(np.ones(3), np.array(reference)) is None
    assert ratio_in_stops(np.array(reference), np.ones(3)) is None


def test_sampled_light_is_unbiased_and_its_error_bar_honest() -> None:
    # A disc of radius = height sampled evenly in solid angle: E = pi/2 per unit luminance, derived here.
    low, exact, runs = np.sqrt(0.5), np.pi / 2, []
    for seed in range(200):
        rng = np.random.default_rng(seed)
        cosine, turn = low + (1 - low) * rng.random(8 * 64), 2 * np.pi * rng.random(8 * 64)
        sine = np.sqrt(1 - cosine**2)
        arrivals = Arrivals(
            point=np.zeros(3),
            direction=np.stack([sine * np.cos(turn), sine * np.sin(turn), cosine], axis=1),
            origin=np.zeros((512, 3)),
            weight=np.full(512, 2 * np.pi * (1 - low) / 512),
            part=np.zeros(512, np.int32),
            straight=np.zeros(512, bool),
            luminance=np.zeros(512),
            replicate=np.repeat(np.arange(8, dtype=np.int32), 64),
            replicates=8,
        )
        runs.append(illuminance(arrivals, Z))
    value, error, half = np.array([(run.value, run.standard_error, run.half_interval) for run in runs]).T
    spread = value.std(ddof=1)
    assert abs(value.mean() - exact) < 4 * spread / np.sqrt(200)
    assert 0.8 < np.sqrt(np.mean(error**2)) / spread < 1.25
    # Binomial: 200 honest 95 % intervals hit 179 to 198 times in 999 of 1000 tests.
    assert 179 <= int((np.abs(value - exact) < half).sum()) <= 198
