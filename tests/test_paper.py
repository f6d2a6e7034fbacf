"""Paper from its data sheet: Kubelka-Munk and readings over two backings, against printed and derived values."""

from __future__ import annotations

import math

import pytest

from lightsim.sheet.paper import (
    at_grammage,
    coefficients,
    opacity,
    over_backing,
    over_two_backings,
    paper,
    reflectivity_of_lightness,
    transmittance,
    two_streams,
    warnings_of_paper,
)
from lightsim.sheet.slab import slab

# ISO 9416 (equations from memory), values derived: one sheet over black 0.80, a pile 0.87, 80 g/m2.
STUFF = coefficients(over_black=0.80, reflectivity=0.87, grammage=80)


def test_coefficients_of_a_worked_example() -> None:
    # ISO 9416: s and k [m2/kg], derived.
    assert STUFF.scattering == pytest.approx(59.4645, abs=5e-5)
    assert STUFF.absorption == pytest.approx(0.57756, abs=5e-6)
    assert STUFF.reflectivity == pytest.approx(0.87, abs=1e-12)


def test_transmittance_two_ways() -> None:
    # Kubelka (1948) through s and k, and ISO 22891 / DIN 53147 without them: the same figure, derived.
    found = at_grammage(STUFF, grammage=80)
    assert found.transmittance == pytest.approx(0.156396, abs=5e-7)
    assert transmittance(over_black=0.80, reflectivity=0.87) == pytest.approx(0.156396, abs=5e-7)
    assert found.reflectance == pytest.approx(0.80, abs=1e-12)
    assert 1 - found.reflectance - found.transmittance == pytest.approx(0.043604, abs=5e-7)
    assert -math.log2(found.transmittance) == pytest.approx(2.67672, abs=5e-6)
    # ISO 2471: luminance factor over black, over that of a pile.
    assert 100 * opacity(over_black=0.80, reflectivity=0.87) == pytest.approx(91.9540, abs=5e-5)


# Kubelka (1948), derived: more of the paper of the worked example; two sheets are adding's result too.
@pytest.mark.parametrize(
    ("grammage", "passed", "back", "digits"),
    [(160, 0.0679438, 0.8543550, 5e-8), (250, 0.030829, 0.866639, 5e-7)],
)
def test_other_grammages_of_the_same_paper(grammage: float, passed: float, back: float, digits: float) -> None:
    found = at_grammage(STUFF, grammage=grammage)
    assert found.transmittance == pytest.approx(passed, abs=digits)
    assert found.reflectance == pytest.approx(back, abs=digits)


# Kubelka (1948), derived: s = 60 and k = 0.3 m2/kg, one sheet of 80 g/m2, two, and an endless pile.
@pytest.mark.parametrize(
    ("sheets", "passed", "back"),
    [(1, 0.1631431, 0.8135825), (2, 0.0787251, 0.8776319), (1000, 0.0, 0.9048751)],
)
def test_piles_of_sheets(sheets: int, passed: float, back: float) -> None:
    found = two_streams(scattering=60 * 0.08 * sheets, absorption=0.3 * 0.08 * sheets)
    assert found.transmittance == pytest.approx(passed, abs=5e-8)
    assert found.reflectance == pytest.approx(back, abs=5e-8)


def test_limits_of_two_streams() -> None:
    # Derived: T = 1 / (1 + s w) without absorption; exp(-k w) without scattering; nothing at all changes nothing.
    assert two_streams(scattering=4, absorption=0).transmittance == pytest.approx(0.2, abs=5e-8)
    assert two_streams(scattering=4, absorption=1e-14).transmittance == pytest.approx(0.2, abs=5e-8)
    assert two_streams(scattering=0, absorption=1.5).transmittance == pytest.approx(math.exp(-1.5), rel=1e-12)
    assert two_streams(scattering=0, absorption=1.5).reflectance == 0
    assert two_streams(scattering=0, absorption=0).transmittance == 1
    # Thick: no overflow, and R-infinity = a - sqrt(a^2 - 1) with a = 1 + k/s.
    thick = two_streams(scattering=1e7, absorption=1e5)
    assert thick.transmittance == 0
    assert thick.reflectance == pytest.approx(1.01 - math.sqrt(1.01**2 - 1), abs=1e-12)
    # White without end: R0 / (1 - R0) by the same limit.
    white = coefficients(over_black=0.8, reflectivity=1.0, grammage=80)
    assert white.scattering * 0.08 == pytest.approx(4, abs=1e-12)
    assert white.absorption == 0
    near = coefficients(over_black=0.8, reflectivity=1 - 1e-9, grammage=80)
    assert near.scattering == pytest.approx(white.scattering, rel=1e-7)


@pytest.mark.parametrize("scattering", [0.01, 1.0, 5.0])
@pytest.mark.parametrize("absorption", [0.0, 1e-6, 0.1, 3.0])
def test_two_layers_add_to_one_of_twice_the_amount(scattering: float, absorption: float) -> None:
    # Stokes (1862), adding of equal layers, from memory: T1^2 / (1 - R1^2) and R1 + T1^2 R1 / (1 - R1^2).
    one = two_streams(scattering=scattering, absorption=absorption)
    two = two_streams(scattering=2 * scattering, absorption=2 * absorption)
    t, r = one.transmittance, one.reflectance
    assert two.transmittance == pytest.approx(t * t / (1 - r * r), rel=1e-12)
    assert two.reflectance == pytest.approx(r + t * t * r / (1 - r * r), rel=1e-12)


# ISO 2471 opacities of US Government paper standards JCP O-65 and O-63 (opened), R-infinity 0.87 and others assumed.
@pytest.mark.parametrize(
    ("stated", "pile", "passed"),
    [
        (0.86, 0.87, 0.221064),
        (0.90, 0.87, 0.178547),
        (0.92, 0.87, 0.155859),
        (0.93, 0.87, 0.143965),
        (0.90, 0.82, 0.198706),
        (0.90, 0.92, 0.154350),
    ],
)
def test_paper_from_opacity(stated: float, pile: float, passed: float) -> None:
    sheet = paper(opacity=stated, reflectivity=pile, grammage=80)
    assert sheet.diffuse_transmittance == pytest.approx(passed, abs=5e-7)
    assert sheet.reflectance_by_side == pytest.approx((stated * pile,) * 2, abs=1e-12)
    assert sheet.straight == sheet.forward_transmittance == 0


def test_range_of_a_paper() -> None:
    # White copier paper, opacity 90 to 92, R-infinity 0.82 to 0.92: T 0.13 to 0.20, R 0.73 to 0.85 (derived, rounded
    # outward).
    sheet = paper(opacity=(0.90, 0.91, 0.92), reflectivity=(0.82, 0.87, 0.92), grammage=80)
    passed, back = sheet.origins["diffuse_transmittance"], sheet.origins["diffuse_reflectance"]
    assert passed.low is not None
    assert passed.high is not None
    assert passed.high[0] == pytest.approx(0.198706, abs=5e-7)  # opacity 0.90, R-infinity 0.82
    assert 0.13 < passed.low[0] < 0.135
    assert back.low is not None
    assert back.high is not None
    assert back.low[0] == pytest.approx(0.90 * 0.82, abs=1e-12)
    assert back.high[0] == pytest.approx(0.92 * 0.92, abs=1e-12)
    assert passed.known == "derived"
    assert "ISO 2471" in passed.source
    exact = paper(opacity=0.91, reflectivity=0.87, grammage=80)
    assert exact.diffuse_transmittance == sheet.diffuse_transmittance
    assert not exact.origins["diffuse_transmittance"].has_range


def test_paper_of_another_grammage() -> None:
    # The worked example again: 80 g/m2 known, 250 g/m2 wanted.
    card = paper(opacity=0.80 / 0.87, reflectivity=0.87, grammage=80, wanted_grammage=250)
    assert card.diffuse_transmittance == pytest.approx(0.030829, abs=5e-7)
    assert card.reflectance_by_side[0] == pytest.approx(0.866639, abs=5e-7)
    same = paper(opacity=0.80 / 0.87, reflectivity=0.87, grammage=80, wanted_grammage=80)
    assert same.diffuse_transmittance == pytest.approx(0.156396, abs=5e-7)


def test_over_a_white_and_a_black_card() -> None:
    # ISO 22891 / DIN 53147 (second-hand), derived: T^2 = (Rw - R0)(1/Rb - R0), and its inverse.
    found = over_two_backings(over_white=0.740, over_black=0.620, white=0.880)
    assert found.transmittance == pytest.approx(0.248925, abs=5e-7)
    assert found.reflectance == pytest.approx(0.620, abs=1e-12)
    assert over_backing(transmittance=0.25, reflectance=0.62, backing=0.88) == pytest.approx(0.7410387, abs=5e-8)


@pytest.mark.parametrize("black", [0.0, 0.04, 0.2])
@pytest.mark.parametrize(("passed", "back"), [(0.25, 0.62), (0.6, 0.3), (0.9, 0.1), (0.0, 0.5), (0.3, 0.0)])
def test_backings_there_and_back(black: float, passed: float, back: float) -> None:
    # Round trip through the formula of Kubelka (1948) for a layer on a backing; a black card is not quite black.
    over_white, over_black = (
        over_backing(transmittance=passed, reflectance=back, backing=each) for each in (0.88, black)
    )
    found = over_two_backings(over_white=over_white, over_black=over_black, white=0.88, black=black)
    assert found.transmittance == pytest.approx(passed, abs=1e-7)
    assert found.reflectance == pytest.approx(back, abs=1e-12)


@pytest.mark.parametrize("depth", [2, 5, 10, 20])
@pytest.mark.parametrize("anisotropy", [0.0, 0.6])
def test_paper_optics_give_the_transmittance_of_a_beam(depth: float, anisotropy: float) -> None:
    # Adding-doubling stands in for the paper: its readings for light that comes squarely, put into the formula of
    # ISO 22891, give its transmittance for a beam, and not the fifth less of light from all around. Found here.
    stuff = {"scattering": 0.999 / (1 - anisotropy), "absorption": 0.001, "anisotropy": anisotropy}
    one, pile = slab(thickness=depth, **stuff), slab(thickness=900, **stuff)
    found = transmittance(over_black=one.beam_reflectance, reflectivity=pile.beam_reflectance)
    assert found == pytest.approx(one.beam_transmittance, rel=0.005)
    assert one.lambertian_transmittance < 0.82 * found


def test_lightness_of_the_pile() -> None:
    # CIE 15, from memory: L* 100 is Y 1, L* 50 is Y 0.1842.
    assert reflectivity_of_lightness(lightness=100) == pytest.approx(1, abs=1e-12)
    assert reflectivity_of_lightness(lightness=50) == pytest.approx(0.1842, abs=5e-5)


def test_brightened_paper_is_warned_of() -> None:
    # Common practice, no source: the text reaches the screen and, once, the material's sources.
    plain, white = warnings_of_paper(reflectivity=0.87), warnings_of_paper(reflectivity=0.96)
    (glowing,) = warnings_of_paper(reflectivity=0.87, brightened=True)
    assert plain == ()
    assert "brightener" in white[0]
    assert "ultraviolet" in glowing
    sheet = paper(opacity=0.9, reflectivity=0.87, grammage=80, brightened=True)
    assert sheet.origins["diffuse_transmittance"].source.endswith(glowing.rstrip("."))
    assert "ultraviolet" not in sheet.source + sheet.origins["diffuse_reflectance"].source
    assert "ultraviolet" not in paper(opacity=0.9, reflectivity=0.87, grammage=80).source


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"opacity": 86, "reflectivity": 0.87}, "86 looks like a percentage: try 0.86"),
        ({"opacity": 0.9, "reflectivity": 87}, "87 looks like a percentage: try 0.87"),
        ({"opacity": 0.9, "reflectivity": 160}, "CIE whiteness"),
        ({"opacity": 0.9, "iso_brightness": 0.94}, "457 nm"),
        ({"opacity": 0.9, "reflectivity": 0.87, "iso_brightness": 0.94}, "blue light"),
        ({"opacity": 0.9}, "reflectivity is missing"),
        ({"opacity": -0.1, "reflectivity": 0.87}, "Allowed: 0.01 to 1"),
        ({"opacity": math.nan, "reflectivity": 0.87}, "no number"),
        ({"opacity": True, "reflectivity": 0.87}, "no number"),
        ({"opacity": "0.9", "reflectivity": 0.87}, "no number"),
        ({"opacity": (0.92, 0.9, 0.94), "reflectivity": 0.87}, "does not lie between"),
        ({"opacity": (0.9, 0.92), "reflectivity": 0.87}, "or three"),
        ({"opacity": 0.9, "reflectivity": 0.87, "grammage": 0.08}, "Allowed: 1 to 2000 g/m2"),
        ({"opacity": 1.0, "reflectivity": 0.87, "wanted_grammage": 40}, "thinner sheet"),
    ],
)
def test_impossible_papers(given: dict[str, object], words: str) -> None:
    # What was given, what is allowed, what to try: the project's own rule for errors.
    with pytest.raises(ValueError, match="Allowed") as caught:
        paper(**{"grammage": 80, **given})  # type: ignore[arg-type]
    assert words in str(caught.value)
    assert "try" in str(caught.value).lower()


def test_impossible_readings() -> None:
    # One sheet cannot outshine the pile; black cannot lighten; shares sum to 1 at most. Definitions.
    with pytest.raises(ValueError, match="cannot send back more than a thick pile"):
        transmittance(over_black=0.9, reflectivity=0.87)
    with pytest.raises(ValueError, match="cannot send back more than a thick pile"):
        coefficients(over_black=0.9, reflectivity=0.87, grammage=80)
    with pytest.raises(ValueError, match="does not tell how much it scatters"):
        coefficients(over_black=0.87, reflectivity=0.87, grammage=80)
    with pytest.raises(ValueError, match="no scattering"):
        coefficients(over_black=0, reflectivity=0.87, grammage=80)
    with pytest.raises(ValueError, match="no sheet looks lighter over black"):
        over_two_backings(over_white=0.6, over_black=0.7, white=0.88)
    with pytest.raises(ValueError, match="black below white"):
        over_two_backings(over_white=0.6, over_black=0.5, white=0.1, black=0.2)
    with pytest.raises(ValueError, match="no such sheet"):
        over_two_backings(over_white=0.99, over_black=0.3, white=0.5)
    with pytest.raises(ValueError, match="at most 1"):
        over_backing(transmittance=0.5, reflectance=0.6, backing=0.8)
    with pytest.raises(ValueError, match="scattering"):
        two_streams(scattering=-1, absorption=0)
