"""Colour of flash and day together, against mixtures of the radiation of black bodies; light in a watt of it.

CIE 1931 colour matching functions here: the analytic fit of Wyman, Sloan & Shirley, J. Comput. Graph. Tech. 2(2), 1
(2013), multi-lobe, from memory. Planck's law with the second radiation constant of CODATA 2018, from memory.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from lightsim.rig.keys import with_value
from lightsim.rig.library import design_path
from lightsim.rig.load import load, load_data, placed
from lightsim.shot.colour import SEEN, colour_of, flash_kelvin, luminous_efficacy, mired, mixed

WAVELENGTH = np.arange(360.0, 831.0)  # nm
FIT = (
    ((1.056, 599.8, 37.9, 31.0), (0.362, 442.0, 16.0, 26.7), (-0.065, 501.1, 20.4, 26.2)),
    ((0.821, 568.8, 46.9, 40.5), (0.286, 530.9, 16.3, 31.1)),
    ((1.217, 437.0, 11.8, 36.0), (0.681, 459.0, 26.0, 13.8)),
)  # height, middle, width below and above it [nm], of x, y and z


def matching(lobes: tuple[tuple[float, ...], ...]) -> Any:
    total = np.zeros_like(WAVELENGTH)
    for height, middle, below, above in lobes:
        width = np.where(middle > WAVELENGTH, below, above)
        total += height * np.exp(-0.5 * ((WAVELENGTH - middle) / width) ** 2)
    return total


EYE = np.array([matching(lobes) for lobes in FIT])


def black_body(kelvin: float) -> Any:
    """X, Y, Z of a black body, Y = 1."""
    spectrum = WAVELENGTH**-5.0 / np.expm1(1.438776877e7 / (WAVELENGTH * kelvin))
    tristimulus = EYE @ spectrum
    return tristimulus / tristimulus[1]


def plane(tristimulus: Any) -> Any:
    """u and v of the CIE 1960 diagram, in which correlated colour temperatures are defined (CIE 15, from memory)."""
    x, y, z = tristimulus
    return np.array([4 * x, 6 * y]) / (x + 15 * y + 3 * z)


LOCUS = np.linspace(50, 400, 3501)  # mired, in tenths
ON_LOCUS = np.array([plane(black_body(1e6 / each)) for each in LOCUS])


def correlated(tristimulus: Any) -> float:
    """Reciprocal correlated colour temperature [mired]: the nearest black body."""
    return float(LOCUS[np.argmin(((ON_LOCUS - plane(tristimulus)) ** 2).sum(axis=1))])


def rig_of(**shot: float) -> Any:
    loaded = load(design_path("flat-paper"))
    data = loaded.data
    for key, value in shot.items():
        data = with_value(data, key.replace("__", "."), value)
    return placed(load_data(data))


# --- mixtures


def test_the_fit_finds_the_colours_it_is_given() -> None:
    # CIE illuminant A, 2856 K by today's constants, has x, y = 0.4476, 0.4074 (CIE 15, from memory).
    x, y, z = black_body(2856)
    assert (x / (x + y + z), y / (x + y + z)) == pytest.approx((0.4476, 0.4074), abs=2e-3)
    assert correlated(black_body(5500)) == pytest.approx(1e6 / 5500, abs=0.06)


# The errors told in the docstring of mixed: by shares of luminous exposure, Y, at nine shares.
@pytest.mark.parametrize("other, most", [(6500, 0.3), (9000, 1.5), (5000, 0.2)])
def test_mixtures_in_mired_are_near_those_of_the_radiation(other: float, most: float) -> None:
    apart = []
    for share in np.arange(1, 10) / 10:
        mixture = (1 - share) * black_body(5500) + share * black_body(other)
        apart.append(1e6 / mixed(kelvin=5500, other_kelvin=other, other_share=share) - correlated(mixture))
    assert max(map(abs, apart)) <= most
    assert max(map(abs, apart)) > most / 2  # so that the number told stays the size of the error


def test_the_ends_of_a_mixture_are_the_lights_themselves() -> None:
    assert mixed(kelvin=5500, other_kelvin=6500, other_share=0) == pytest.approx(5500, rel=1e-12)
    assert mixed(kelvin=5500, other_kelvin=6500, other_share=1) == pytest.approx(6500, rel=1e-12)
    # By hand: 181.818 and 153.846 mired; a quarter of the way 174.825 mired, 5720 K.
    assert mixed(kelvin=5500, other_kelvin=6500, other_share=0.25) == pytest.approx(5720.0, abs=0.05)
    assert mired(5500) == pytest.approx(181.818, abs=5e-4)
    for share in (-0.1, 1.5, float("nan")):
        with pytest.raises(ValueError, match=r"share of the light: .*Allowed: 0 to 1"):
            mixed(kelvin=5500, other_kelvin=6500, other_share=share)
    for kelvin in (0.0, -5500.0, float("nan")):
        with pytest.raises(ValueError, match=r"Allowed: above 0 K.*Try 5500 K"):
            mired(kelvin)


# --- of a rig


def test_the_day_shifts_the_subject_and_lights_what_lies_behind() -> None:
    rig = rig_of(head__flash__kelvin=5500, shot__ambient_kelvin=6500)
    found = colour_of(rig, flash_exposure=300, ambient_exposure=100)
    assert found.ambient_share == pytest.approx(0.25)
    assert found.mixed_kelvin == pytest.approx(5720, abs=0.05)
    assert found.shift == pytest.approx(174.825 - 181.818, abs=1e-3)
    assert found.behind == pytest.approx(153.846 - 174.825, abs=1e-3)
    assert found.white_balance == 5500  # 7 mired are not seen
    alone = colour_of(rig, flash_exposure=300, ambient_exposure=0)
    assert (alone.shift, alone.white_balance) == (pytest.approx(0, abs=1e-9), 5500)
    assert colour_of(rig, flash_exposure=0, ambient_exposure=2).mixed_kelvin == pytest.approx(6500)


def test_the_white_balance_is_that_of_the_flash_until_the_day_shows() -> None:
    # By hand, 5500 K with shade of 9000 K, 181.818 and 111.111 mired: a tenth of the day is 7.07 mired, which hardly
    # anyone sees (10, common practice), a fifth is 14.14 mired and makes 167.677 mired, 5963.9 K.
    rig = rig_of(head__flash__kelvin=5520, shot__ambient_kelvin=9000)
    little = colour_of(rig, flash_exposure=90, ambient_exposure=10)
    less = colour_of(rig, flash_exposure=97, ambient_exposure=3)
    assert little.white_balance == less.white_balance == 5500  # in steps of 100 K
    assert SEEN == 10
    rig = rig_of(head__flash__kelvin=5500, shot__ambient_kelvin=9000)
    much = colour_of(rig, flash_exposure=80, ambient_exposure=20)
    assert much.shift == pytest.approx(-14.141, abs=5e-4)
    assert much.white_balance == 6000


def test_no_colour_without_light() -> None:
    rig = rig_of()
    for flash, ambient in ((0, 0), (-1, 5), (5, -1), (float("nan"), 1), (float("inf"), 1)):
        with pytest.raises(ValueError, match=r"light on the subject: .*Allowed: 0 or more each"):
            colour_of(rig, flash_exposure=flash, ambient_exposure=ambient)


def test_heads_of_unlike_colour_mix_by_their_light() -> None:
    # By hand: three quarters of 5000 K (200 mired) and a quarter of 10,000 K (100) make 175 mired, 5714.3 K.
    heads = (SimpleNamespace(share=0.75), SimpleNamespace(share=0.25))
    specs = (SimpleNamespace(kelvin=5000.0), SimpleNamespace(kelvin=10_000.0))
    two: Any = SimpleNamespace(heads=heads, rig=SimpleNamespace(head=specs))
    assert flash_kelvin(two) == pytest.approx(1e6 / 175, rel=1e-12)
    assert flash_kelvin(rig_of(head__flash__kelvin=5200)) == pytest.approx(5200, rel=1e-12)


# --- light in a watt


def efficacy_apart(kelvin: float) -> float:
    """The same by the fit of the eye's curve and the constants of Planck's law written out (CODATA 2018)."""
    h, c, k, sigma = 6.62607015e-34, 299792458.0, 1.380649e-23, 5.670374419e-8
    metres = WAVELENGTH * 1e-9
    exitance = 2 * np.pi * h * c**2 / metres**5 / np.expm1(h * c / (metres * k * kelvin))  # W/m3
    return float(683.002 * (EYE[1] * exitance).sum() * 1e-9 / (sigma * kelvin**4))


@pytest.mark.parametrize("kelvin", [2856, 4000, 5500, 6600, 10_000])
def test_light_in_a_watt_agrees_with_the_fit_of_the_eye(kelvin: float) -> None:
    assert luminous_efficacy(kelvin) == pytest.approx(efficacy_apart(kelvin), rel=0.01)


def test_light_in_a_watt_of_black_bodies_as_encyclopaedias_have_it() -> None:
    # Luminous efficacy of radiation, quoted second-hand: 4000 K 54.7 lm/W, 7000 K 95 lm/W, the sun (5800 K) 93 lm/W,
    # and the most of any black body about 95 to 96 near 6600 K (from memory).
    assert luminous_efficacy(4000) == pytest.approx(54.7, abs=0.05)
    assert luminous_efficacy(7000) == pytest.approx(95, abs=0.5)
    assert luminous_efficacy(5800) == pytest.approx(93, abs=1)
    best = max(range(5000, 9000, 50), key=luminous_efficacy)
    assert 6500 <= best <= 6700
    assert 88 < luminous_efficacy(5500) < 92
