"""Slabs of foam and opal plastic: adding-doubling against printed values, closed forms and an installed library."""

from __future__ import annotations

import itertools
import math

import iadpython
import pytest

from lightsim.sheet.foam import Stuff, foam, foam_from_transmittance, stuff_from_transmittance
from lightsim.sheet.paper import two_streams
from lightsim.sheet.slab import Slab, slab


def test_van_de_hulsts_slab() -> None:
    # van de Hulst (1980), vol. 2, table 35 (0.09739 and 0.66096, from memory); further digits and Lambertian light
    # derived by discrete ordinates, 40 streams a side. Henyey-Greenstein 0.75, albedo 0.9, optical depth 2.
    found = slab(thickness=2, scattering=0.9, absorption=0.1, anisotropy=0.75)
    assert found.beam_reflectance == pytest.approx(0.0973946, abs=5e-8)
    assert found.beam_transmittance == pytest.approx(0.6609577, abs=5e-8)
    assert found.straight == pytest.approx(0.1353353, abs=5e-8)
    assert found.beam_transmittance - found.straight == pytest.approx(0.5256224, abs=5e-8)
    assert found.lambertian_reflectance == pytest.approx(0.1910902, abs=5e-8)
    assert found.lambertian_transmittance == pytest.approx(0.5018161, abs=5e-8)


# No absorption, scattering to all sides alike, Lambertian light: discrete ordinates; the gray-gas flux between black
# plates of Heaslet & Warming (1965, from memory).
@pytest.mark.parametrize(
    ("depth", "passed"), [(0.1, 0.915703), (0.5, 0.704169), (1, 0.553406), (2, 0.390060), (5, 0.207657)]
)
def test_slabs_that_lose_nothing(depth: float, passed: float) -> None:
    found = slab(thickness=depth, scattering=1)
    assert found.lambertian_transmittance == pytest.approx(passed, abs=5e-7)
    assert found.lambertian_transmittance + found.lambertian_reflectance == pytest.approx(1, abs=1e-9)


def test_beam_on_a_slab_that_loses_nothing() -> None:
    # Discrete ordinates, optical depth 1, derived.
    found = slab(thickness=1, scattering=1)
    assert found.beam_transmittance == pytest.approx(0.658671, abs=5e-7)
    assert found.beam_reflectance == pytest.approx(0.341329, abs=5e-7)


@pytest.mark.parametrize("depth", [20, 100, 1e4])
def test_thick_slabs_pass_what_diffusion_says(depth: float) -> None:
    # Lambertian light through a thick slab: (4/3) / (depth + 2 x 0.710446), the extrapolated ends of Milne's problem
    # (Hopf's constant, from memory);
    found = slab(thickness=depth / 100, scattering=100)
    assert found.lambertian_transmittance == pytest.approx(4 / 3 / (depth + 1.420892), rel=2e-4)


# Albedo, optical depth and anisotropy of iadpython's slabs (an adding-doubling library), 48 without faces; its own
# quadrature is sound at 16 points there and at 32 with faces. Its angles limit the agreement: with faces it is 1.1e-4
# off Fresnel's diffuse reflectance, which test_faces_of_a_black_plate holds ours to.
GRID = list(itertools.product((0.5, 0.9, 0.99, 1.0), (0.3, 1, 4, 16), (0.0, 0.5, 0.9)))


def by_library(albedo: float, depth: float, anisotropy: float, index: float, points: int) -> tuple[float, ...]:
    sample = iadpython.Sample(a=albedo, b=depth, g=anisotropy, n=index, quad_pts=points)
    return tuple(float(share) for share in sample.rt())


def shares(of: Slab) -> tuple[float, ...]:
    return of.beam_reflectance, of.beam_transmittance, of.lambertian_reflectance, of.lambertian_transmittance


@pytest.mark.parametrize(("albedo", "depth", "anisotropy"), GRID)
def test_slabs_against_a_library(albedo: float, depth: float, anisotropy: float) -> None:
    found = slab(thickness=depth, scattering=albedo, absorption=1 - albedo, anisotropy=anisotropy)
    assert shares(found) == pytest.approx(by_library(albedo, depth, anisotropy, 1.0, 16), abs=1e-4)


@pytest.mark.parametrize("index", [1.33, 1.49])
@pytest.mark.parametrize(("albedo", "depth", "anisotropy"), GRID[::3] + GRID[1::3])
def test_slabs_with_faces_against_a_library(albedo: float, depth: float, anisotropy: float, index: float) -> None:
    found = slab(
        thickness=depth, scattering=albedo, absorption=1 - albedo, anisotropy=anisotropy, refractive_index=index
    )
    assert shares(found) == pytest.approx(by_library(albedo, depth, anisotropy, index, 32), abs=1.5e-4)


def test_clear_plate() -> None:
    # Fresnel, all bounces, derived: (1 - F) / (1 + F) at normal incidence, n = 1.49. Nothing scatters.
    found = slab(thickness=3, scattering=0, refractive_index=1.49)
    assert found.straight == pytest.approx(0.925437, abs=5e-7)
    assert found.beam_transmittance == pytest.approx(found.straight, abs=1e-12)
    assert found.beam_reflectance == pytest.approx(1 - 0.925437, abs=5e-7)
    assert found.lambertian_transmittance + found.lambertian_reflectance == pytest.approx(1, abs=1e-9)
    assert found.half_value_angle == 0


def test_faces_of_a_black_plate() -> None:
    # Nothing comes back from inside: what is left is Fresnel's diffuse reflectance of n = 1.5, 0.0918 in Duntley and
    # Judd (from memory); 0.04 at normal incidence.
    found = slab(thickness=50, scattering=0, absorption=100, refractive_index=1.5)
    assert found.lambertian_reflectance == pytest.approx(0.0917780, abs=5e-8)
    assert found.beam_reflectance == pytest.approx(0.04, abs=1e-12)
    assert found.beam_transmittance < 1e-12


def test_nothing_there() -> None:
    # Definition: no thickness, no effect.
    found = slab(thickness=0, scattering=5, absorption=1, anisotropy=0.5)
    assert shares(found) == pytest.approx((0, 1, 0, 1), abs=1e-12)
    clear = slab(thickness=3, scattering=0, absorption=0.2)
    assert clear.beam_transmittance == pytest.approx(math.exp(-0.6), abs=1e-9)


@pytest.mark.parametrize(("half_way", "stuff"), [(0.3, (1, 0, 0.0)), (1, (0.9, 0.1, 0.75)), (2, (1, 0.01, 0.9))])
def test_half_value_angle_of_what_is_scattered(half_way: float, stuff: tuple[float, float, float]) -> None:
    # Thick slabs: luminance goes with 1 + 1.5 cos (Eddington, from memory), so the intensity is half at acos of the
    # root of 1.5 c^2 + c = 1.25, 50.4 degrees; thin ones that scatter forward are narrower.
    scattering, absorption, anisotropy = stuff
    kind = {"scattering": scattering, "absorption": absorption, "anisotropy": anisotropy}
    thick = slab(thickness=100, **kind | {"absorption": 0.0})
    assert thick.half_value_angle == pytest.approx(50.4, abs=1.0)
    thin = slab(thickness=half_way, **kind)
    assert (0 < thin.half_value_angle < 35) == (anisotropy > 0.5)


def test_two_flux_bound_of_a_white_film() -> None:
    # T = 1 / (1 + s d), s from T = 0.02 at 10 mm and from T = 0.075 at 5 mm of PTFE (published, abstracts opened).
    assert two_streams(scattering=4.9 * 0.25, absorption=0).transmittance == pytest.approx(0.4494, abs=5e-5)
    assert two_streams(scattering=(1 / 0.075 - 1) / 5 * 0.25, absorption=0).transmittance == pytest.approx(
        0.6186, abs=5e-5
    )


@pytest.mark.parametrize(("passed", "thickness", "bound"), [(0.02, 10, 0.4494), (0.075, 5, 0.6186)])
def test_two_flux_agrees_with_adding_doubling_on_lambertian_light(
    passed: float, thickness: float, bound: float
) -> None:
    # From the same thick piece, turning light to all sides alike: two streams know no thin layer, so they pass more.
    stuff = stuff_from_transmittance(transmittance=passed, thickness=thickness, anisotropy=0, light="lambertian")
    found = slab(thickness=0.25, scattering=stuff.scattering)
    assert bound - 0.02 < found.lambertian_transmittance < bound


@pytest.mark.parametrize("light", ["beam", "lambertian"])
@pytest.mark.parametrize("given", [Stuff(2.0, 0.0, 0.8), Stuff(0.4, 0.02, 0.0), Stuff(30.0, 0.001, 0.9, 1.49)])
def test_coefficient_there_and_back(given: Stuff, light: str) -> None:
    # Round trip: the transmittance of a known slab gives its scattering coefficient.
    found = slab(
        thickness=1.5,
        scattering=given.scattering,
        absorption=given.absorption,
        anisotropy=given.anisotropy,
        refractive_index=given.refractive_index,
    )
    back = stuff_from_transmittance(
        transmittance=found.beam_transmittance if light == "beam" else found.lambertian_transmittance,
        thickness=1.5,
        absorption=given.absorption,
        anisotropy=given.anisotropy,
        refractive_index=given.refractive_index,
        light=light,  # type: ignore[arg-type]
    )
    assert back.scattering == pytest.approx(given.scattering, rel=1e-6)


def test_foam_as_a_sheet() -> None:
    # What feeds what (the module's own rule): a beam's light to the numbers, Lambertian light to the range.
    kind = {"scattering": 0.9, "absorption": 0.1, "anisotropy": 0.75}
    sheet, of = foam(thickness=2, **kind), slab(thickness=2, **kind)
    assert sheet.straight == of.straight == pytest.approx(math.exp(-2), abs=1e-12)
    assert sheet.diffuse_transmittance == pytest.approx(0.5256224, abs=5e-8)
    assert sheet.reflectance_by_side[0] == pytest.approx(0.0973946, abs=5e-8)
    passed, back = sheet.origins["diffuse_transmittance"], sheet.origins["diffuse_reflectance"]
    assert passed.low is not None
    assert back.high is not None
    # A Sheet's straight light at all angles is 2 E3(2) = 0.0602676 of Lambertian light, and its shares grow by
    # (1 - 2 E3) / (1 - T0) = 1.0868 (E3: Abramowitz & Stegun, table 5.4 from memory, checked by scipy).
    from scipy.special import expn

    straight = 2 * expn(3, 2.0)
    more = (1 - straight) / (1 - math.exp(-2))
    assert passed.low[0] == pytest.approx((0.5018161 - straight) / more, abs=1e-6)
    assert back.high[0] == pytest.approx(0.1910902 / more, abs=1e-6)
    assert passed.high == pytest.approx((sheet.diffuse_transmittance,) * 2, abs=1e-12)
    assert "the head shows through" in sheet.source
    assert sheet.about == "2 mm thick"
    assert sheet.origins["straight"].known == "derived"


def test_opal_plastic_has_gloss() -> None:
    # Fresnel at normal incidence, n = 1.49: 0.0387, from the front face alone where nothing comes back unscattered.
    sheet = foam(thickness=3, scattering=10, absorption=0, anisotropy=0.8, refractive_index=1.49)
    assert sheet.gloss_by_side[0] == pytest.approx((0.49 / 2.49) ** 2, abs=1e-9)
    total = sheet.diffuse_transmittance + sheet.reflectance_by_side[0] + sheet.gloss_by_side[0]
    assert total == pytest.approx(1, abs=1e-9)
    assert sheet.straight == 0  # exp(-30)
    assert "shows through" not in sheet.source


def test_foam_of_another_thickness() -> None:
    # The reading itself comes back at its own thickness; without absorption R = 1 - T; more foam passes less.
    same = foam_from_transmittance(transmittance=0.6, measured_thickness=1)
    assert same.straight + same.diffuse_transmittance == pytest.approx(0.6, abs=1e-8)
    assert same.reflectance_by_side[0] == pytest.approx(0.4, abs=1e-8)
    assert same.origins["straight"].known == "assumed"
    twice = foam_from_transmittance(transmittance=(0.55, 0.6, 0.65), measured_thickness=1, thickness=2)
    stuff = stuff_from_transmittance(transmittance=0.6, thickness=1)
    direct = slab(thickness=2, scattering=stuff.scattering, anisotropy=stuff.anisotropy)
    assert twice.straight + twice.diffuse_transmittance == pytest.approx(direct.beam_transmittance, abs=1e-8)
    passed = twice.origins["diffuse_transmittance"]
    assert passed.low is not None
    assert passed.high is not None
    assert passed.low[0] < twice.diffuse_transmittance < passed.high[0]
    assert twice.about == "2 mm thick"


def test_range_of_coefficients_reaches_the_sheet() -> None:
    # Monotone: less scattering passes most, with the least absorption. The ends by slab itself.
    sheet = foam(thickness=2, scattering=(4, 5, 6), absorption=(0, 0.01, 0.02), anisotropy=0.8)
    passed = sheet.origins["diffuse_transmittance"]
    assert passed.low is not None
    assert passed.high is not None
    most = slab(thickness=2, scattering=4, absorption=0, anisotropy=0.8)
    assert passed.high[0] == pytest.approx(most.beam_transmittance - most.straight, abs=1e-9)
    darkest = slab(thickness=2, scattering=6, absorption=0.02, anisotropy=0.8)
    assert passed.low[0] == pytest.approx(darkest.lambertian_transmittance, rel=1e-3)


def test_impossible_foams() -> None:
    # The project's own rule for errors: what was given, what is allowed, what to try.
    def refused(words: str, call: object, **given: object) -> None:
        with pytest.raises(ValueError, match="Allowed") as caught:
            call(**given)  # type: ignore[operator]
        assert words in str(caught.value)
        assert "try" in str(caught.value).lower()

    refused("thickness = -1", slab, thickness=-1, scattering=1)
    refused("anisotropy = 1", foam, thickness=1, scattering=1, anisotropy=1)
    refused("0 to 100000", slab, thickness=100, scattering=5000)
    refused("refractive_index = 0.5", slab, thickness=1, scattering=1, refractive_index=0.5)
    refused("scattering = nan", slab, thickness=1, scattering=math.nan)
    refused("60 looks like a percentage: try 0.6", foam_from_transmittance, transmittance=60, measured_thickness=1)
    refused("less absorption", foam_from_transmittance, transmittance=0.6, measured_thickness=1, absorption=1.0)
    refused("measured_thickness", foam_from_transmittance, transmittance=0.6, measured_thickness=0)
    refused("'lambertian'", stuff_from_transmittance, transmittance=0.6, thickness=1, light="sun")
    refused("does not lie between", foam, thickness=1, scattering=(3, 2, 4))
