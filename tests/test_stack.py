"""Sheets in contact as one: the adding formula against printed values, Kubelka-Munk, and bounces summed one by one."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import expn

from lightsim.sheet import Sheet
from lightsim.sheet.foam import foam
from lightsim.sheet.haze import half_value_angle_of, variance_of
from lightsim.sheet.paper import at_grammage, coefficients, paper, two_streams
from lightsim.sheet.slab import slab
from lightsim.sheet.stack import stack

SHARES = ("straight", "pores", "forward_transmittance", "diffuse_transmittance")


def diffuse(passed: float, back: float | tuple[float, float], **more: Any) -> Sheet:
    return Sheet(diffuse_transmittance=passed, diffuse_reflectance=back, **more)


def of_two_streams(scattering: float, absorption: float) -> Sheet:
    found = two_streams(scattering=scattering, absorption=absorption)
    return diffuse(found.transmittance, found.reflectance)


def totals(sheet: Sheet) -> tuple[float, float]:
    """What becomes of a beam on the front, on the back, but for absorption."""
    passed = [getattr(sheet, key) for key in SHARES]
    back = zip(sheet.reflectance_by_side, sheet.gloss_by_side, sheet.metal_by_side, strict=True)
    front, rear = (math.fsum([*passed, *each]) for each in back)
    return front, rear


def test_two_sheets_of_a_worked_example() -> None:
    # ISO 9416 and adding, derived: R0 0.80, R-infinity 0.87, 80 g/m2.
    sheet = paper(opacity=0.80 / 0.87, reflectivity=0.87, grammage=80)
    two = stack([sheet, sheet])
    assert two.diffuse_transmittance == pytest.approx(0.0679438, abs=5e-8)
    assert two.reflectance_by_side == pytest.approx((0.8543550,) * 2, abs=5e-8)
    doubled = at_grammage(coefficients(over_black=0.80, reflectivity=0.87, grammage=80), grammage=160)
    assert two.diffuse_transmittance == pytest.approx(doubled.transmittance, abs=1e-12)
    assert two.reflectance_by_side[0] == pytest.approx(doubled.reflectance, abs=1e-12)


def test_piles_of_one_paper() -> None:
    # Kubelka (1948), derived: s = 60, k = 0.3 m2/kg, 80 g/m2; two sheets, twenty, and an endless pile.
    one = of_two_streams(60 * 0.08, 0.3 * 0.08)
    assert one.diffuse_transmittance == pytest.approx(0.1631431, abs=5e-8)
    assert one.reflectance_by_side[0] == pytest.approx(0.8135825, abs=5e-8)
    two = stack([one, one])
    assert two.diffuse_transmittance == pytest.approx(0.0787251, abs=5e-8)
    assert two.reflectance_by_side[0] == pytest.approx(0.8776319, abs=5e-8)
    twenty = stack([one] * 20)
    thick = two_streams(scattering=60 * 1.6, absorption=0.3 * 1.6)
    assert twenty.diffuse_transmittance == pytest.approx(thick.transmittance, rel=1e-10)
    assert stack([twenty] * 20).reflectance_by_side[0] == pytest.approx(0.9048751, abs=5e-8)
    # Without absorption T = 1 / (1 + s w): four layers of s w = 1.
    assert stack([of_two_streams(1, 0)] * 4).diffuse_transmittance == pytest.approx(0.2, abs=5e-8)


def test_unlike_sheets_either_way_round() -> None:
    # Adding, derived: T1 0.60, R1 0.30, then T2 0.20, R2 0.75. Turned over, only the sides change.
    first, second = diffuse(0.60, 0.30), diffuse(0.20, 0.75)
    found, turned = stack([first, second]), stack([second, first])
    assert found.diffuse_transmittance == pytest.approx(0.1548387, abs=5e-8)
    assert found.reflectance_by_side[0] == pytest.approx(0.6483871, abs=5e-8)
    assert found.reflectance_by_side[1] == pytest.approx(0.7654839, abs=5e-8)
    assert turned.diffuse_transmittance == pytest.approx(found.diffuse_transmittance, abs=1e-15)
    assert turned.reflectance_by_side == pytest.approx(found.reflectance_by_side[::-1], abs=1e-15)


def test_one_sheet_is_itself() -> None:
    sheet = diffuse(0.5, (0.4, 0.3))
    assert stack([sheet]) is sheet  # definition


def bounced(sheets: list[Sheet]) -> tuple[float, float, float]:
    """Direct light, diffuse light through and back of a beam on the front, followed bounce by bounce.

    Sheets of straight, diffuse light and reflectance alone. Lambertian light passes straight with 2 E3(tau).
    """
    count = len(sheets)
    passed = [2 * expn(3, -math.log(sheet.straight)) if sheet.straight else 0.0 for sheet in sheets]
    more = [(1 - each) / (1 - sheet.straight) for each, sheet in zip(passed, sheets, strict=True)]
    beam, down, up = 1.0, [0.0] * (count + 1), [0.0] * (count + 1)  # light below each face, above each face
    for i, sheet in enumerate(sheets):
        up[i] += beam * sheet.reflectance_by_side[0]
        down[i + 1] += beam * sheet.diffuse_transmittance
        beam *= sheet.straight
    through = back = 0.0
    for _ in range(4000):
        through, back = through + down[count], back + up[0]
        down[count] = up[0] = 0.0
        new_down, new_up = [0.0] * (count + 1), [0.0] * (count + 1)
        for i, sheet in enumerate(sheets):
            open_share = passed[i] + more[i] * sheet.diffuse_transmittance
            new_down[i + 1] += down[i] * open_share + up[i + 1] * more[i] * sheet.reflectance_by_side[1]
            new_up[i] += up[i + 1] * open_share + down[i] * more[i] * sheet.reflectance_by_side[0]
        down, up = new_down, new_up
    return beam, through, back


@pytest.mark.parametrize("count", [2, 3, 4])
def test_bounces_summed_one_by_one(count: int) -> None:
    # Derived: the series itself in place of its sum, straight light by scipy's exponential integral.
    kinds = [
        diffuse(0.3, (0.4, 0.2), straight=0.2),
        diffuse(0.5, 0.45),
        diffuse(0.1, (0.1, 0.3), straight=0.5),
        diffuse(0.35, 0.6, straight=0.02),
    ]
    for sheets in itertools.permutations(kinds, count):
        found = stack(sheets)
        direct, through, back = bounced([*sheets])
        assert found.straight == pytest.approx(direct, abs=1e-12)
        turned = [sheet.model_copy(update={"diffuse_reflectance": sheet.reflectance_by_side[::-1]}) for sheet in sheets]
        _, other_way, _ = bounced(turned[::-1])
        # One transmittance for both ways, their mean; what that adds to a side it takes from the reflectance.
        assert found.diffuse_transmittance == pytest.approx((through + other_way) / 2, abs=1e-9)
        assert found.reflectance_by_side[0] == pytest.approx(back + through - found.diffuse_transmittance, abs=1e-9)
        origin = found.origins["diffuse_transmittance"]
        if abs(through - other_way) > 1e-9:
            assert origin.low is not None
            assert origin.high is not None
            assert origin.low[0] == pytest.approx(min(through, other_way), abs=1e-9)
            assert origin.high[0] == pytest.approx(max(through, other_way), abs=1e-9)


def test_grey_film_over_paper() -> None:
    # Derived: nothing bounces off the film, so light passes paper and film: T0 t for a beam, t 2 E3 the other way.
    found = stack([Sheet(straight=0.5), diffuse(0.2, 0.0)])
    assert found.straight == 0
    mean = 0.2 * (0.5 + 2 * expn(3, math.log(2))) / 2
    # The other way no light comes back that could make up for more, so the lesser of both stands.
    assert found.diffuse_transmittance == pytest.approx(0.2 * 2 * expn(3, math.log(2)), abs=1e-9)
    assert found.diffuse_transmittance < mean


def test_two_slabs_make_one_of_twice_the_thickness() -> None:
    # Adding-doubling knows all angles; a stack knows a beam and Lambertian light, and comes within a hundredth.
    for depth, anisotropy in ((0.3, 0.0), (1.0, 0.0), (3.0, 0.0), (6.0, 0.5)):
        one = foam(thickness=depth, scattering=1, anisotropy=anisotropy)
        two, true = stack([one, one]), slab(thickness=2 * depth, scattering=1, anisotropy=anisotropy)
        assert two.straight == pytest.approx(true.straight, abs=1e-6)
        assert two.straight + two.diffuse_transmittance == pytest.approx(true.beam_transmittance, abs=0.011)
        assert sum(totals(two)) == pytest.approx(2, abs=1e-9)


def test_forward_lobes_combine() -> None:
    # Derived: straight light of each through the lobe of the other, and both lobes, whose sigma^2 add.
    film = Sheet(straight=0.3, forward_transmittance=0.6, half_value_angle=10, diffuse_reflectance=0.05)
    wide = Sheet(straight=0.1, forward_transmittance=0.7, half_value_angle=20, diffuse_reflectance=0.1)
    found = stack([film, wide])
    assert found.straight == pytest.approx(0.3 * 0.1, abs=1e-15)
    assert found.forward_transmittance == pytest.approx(0.3 * 0.7 + 0.6 * 0.1 + 0.6 * 0.7, abs=1e-15)
    first, second = variance_of(10), variance_of(20)
    mean = (0.21 * second + 0.06 * first + 0.42 * (first + second)) / 0.69
    assert found.half_value_angle == pytest.approx(half_value_angle_of(variance=mean), abs=1e-9)
    # Narrow lobes of angles a and b make one of sqrt(a^2 + b^2), as Gaussians do.
    pure = [Sheet(forward_transmittance=1.0, half_value_angle=angle) for angle in (3, 4)]
    assert stack(pure).half_value_angle == pytest.approx(5, abs=0.005)
    assert stack(pure).forward_transmittance == 1
    # Through clear film a lobe stays what it is; a lobe of no width is straight light with another name.
    assert stack([Sheet(straight=1.0), wide]).half_value_angle == pytest.approx(20, abs=1e-6)


def test_a_lobe_of_sixty_degrees_is_diffuse_light() -> None:
    # Limit: intensity half at 60 degrees is Lambertian.
    lobe = Sheet(forward_transmittance=0.5, half_value_angle=60, diffuse_reflectance=0.4)
    card = diffuse(0.2, 0.7)
    found, same = stack([lobe, card]), stack([diffuse(0.5, 0.4), card])
    assert found.diffuse_transmittance == pytest.approx(same.diffuse_transmittance, abs=1e-12)
    assert found.reflectance_by_side == pytest.approx(same.reflectance_by_side, abs=1e-12)
    assert found.forward_transmittance == 0


def test_forward_light_becomes_diffuse_in_paper() -> None:
    # Derived: a lobe on paper is light that the paper scatters; the paper's light then meets film from all around.
    film = Sheet(forward_transmittance=0.9, half_value_angle=20, diffuse_reflectance=0.1)
    found = stack([film, diffuse(0.3, 0.5)])
    assert found.straight == found.forward_transmittance == 0
    assert found.diffuse_transmittance == pytest.approx(0.9 * 0.3 / (1 - 0.1 * 0.5), abs=1e-12)
    assert found.reflectance_by_side[0] == pytest.approx(0.1 + 0.9 * 0.5 * 0.9 / (1 - 0.1 * 0.5), abs=1e-12)


def test_pores_multiply() -> None:
    # Assumption of the module: holes of two cloths do not line up. What passes one hole and one fabric is straight.
    cloth = Sheet(pores=0.2, pore_depth=0.5, straight=0.1, diffuse_transmittance=0.3, diffuse_reflectance=0.35)
    net = Sheet(pores=0.4, pore_depth=1.5, diffuse_reflectance=0.5)
    found = stack([cloth, net])
    assert found.pores == pytest.approx(0.08, abs=1e-15)
    assert found.pore_depth == 2.0
    assert found.straight == pytest.approx(0.1 * 0.4, abs=1e-15)
    assert stack([cloth, diffuse(0.2, 0.7)]).pores == 0
    assert "pores" not in stack([cloth, diffuse(0.2, 0.7)]).origins
    assert stack([net] * 20).pore_depth == 20


def test_lambertian_light_through_pores() -> None:
    # Derived: a net over paper sends back what the paper returns through its holes, each seen at its own angle.
    net, card = Sheet(pores=0.4, pore_depth=1.0), diffuse(0.0, 0.8)

    def seen(angle: float) -> float:
        apart = min(math.tan(angle), 1.0)
        return 2 / math.pi * (math.acos(apart) - apart * math.sqrt(1 - apart**2)) * math.sin(2 * angle)

    open_share = quad(seen, 0, math.pi / 4)[0]
    assert stack([net, card]).reflectance_by_side[0] == pytest.approx(0.4 * 0.8 * 0.4 * open_share, rel=1e-3)


def test_shine_stays_outside_and_is_diffuse_inside() -> None:
    # The module's own rule: coats and metal keep to the outer faces; inside they are diffuse reflectance.
    coated = diffuse(0.3, (0.4, 0.5), glossy_reflectance=(0.04, 0.06), roughness=0.1)
    foil = Sheet(metallic_reflectance=(0.85, 0.8), roughness=0.3)
    found = stack([coated, foil])
    assert found.gloss_by_side == (0.04, 0)
    assert found.metal_by_side == (0, 0.8)
    assert found.roughness == 0.3
    assert found.diffuse_transmittance == 0
    expected = 0.4 + 0.3 * 0.85 * 0.3 / (1 - 0.56 * 0.85)
    assert found.reflectance_by_side == pytest.approx((expected, 0), abs=1e-12)
    assert stack([foil, coated]).gloss_by_side == (0, 0.06)
    assert stack([foil, coated]).roughness == 0.3
    assert stack([coated, diffuse(0.3, 0.4)]).roughness == 0.1


def test_mirrors_face_to_face() -> None:
    # Limit: nothing gets between two perfect mirrors, and no number comes out as none.
    mirror = diffuse(0.0, 1.0)
    found = stack([mirror, mirror])
    assert found.diffuse_transmittance == 0
    assert found.reflectance_by_side == (1, 1)


def random_sheet(rng: np.random.Generator, absorbing: bool) -> Sheet:
    """A sheet of any lobes; without absorption its shares sum to 1 on both sides."""
    parts = rng.dirichlet(np.ones(7 if absorbing else 6)) * (1 - 1e-15)
    straight, pores, forward, passed, back, gloss = (float(each) for each in parts[:6])
    return Sheet(
        straight=straight,
        pores=pores,
        pore_depth=float(rng.uniform(0, 3)),
        forward_transmittance=forward,
        half_value_angle=float(rng.uniform(0, 60)),
        diffuse_transmittance=passed,
        diffuse_reflectance=(back + gloss - min(gloss, 0.3), back + gloss),
        glossy_reflectance=(min(gloss, 0.3), 0.0),
    )


def test_no_light_is_made_and_none_is_lost() -> None:
    # Conservation: stacks of sheets that absorb nothing absorb nothing; no stack sends out more than it gets; and
    # turned over, a stack passes the same.
    rng = np.random.default_rng(20)
    for trial in range(200):
        absorbing = trial % 2 == 0
        sheets = [random_sheet(rng, absorbing) for _ in range(int(rng.integers(2, 7)))]
        found = stack(sheets)
        for total in totals(found):
            assert total <= 1
            if not absorbing:
                assert total == pytest.approx(1, abs=1e-9)
        turned = stack(
            [
                sheet.model_copy(
                    update={
                        "diffuse_reflectance": sheet.reflectance_by_side[::-1],
                        "glossy_reflectance": sheet.gloss_by_side[::-1],
                    }
                )
                for sheet in sheets[::-1]
            ]
        )
        for key in SHARES:
            assert getattr(turned, key) == pytest.approx(getattr(found, key), abs=1e-12)
        assert turned.half_value_angle == pytest.approx(found.half_value_angle, abs=1e-9)
        assert turned.reflectance_by_side == pytest.approx(found.reflectance_by_side[::-1], abs=1e-12)


def ranged(passed: tuple[float, float, float], back: tuple[float, float, float], **more: Any) -> Sheet:
    return Sheet.model_validate(
        {
            "diffuse_transmittance": {"value": passed[1], "low": passed[0], "high": passed[2], "known": "measured"},
            "diffuse_reflectance": {"value": back[1], "low": back[0], "high": back[2], "known": "measured"},
            **more,
        }
    )


def passes(first: tuple[float, float], second: tuple[float, float]) -> float:
    return first[0] * second[0] / (1 - first[1] * second[1])


def test_layers_of_one_material_share_its_error() -> None:
    # Derived: both layers move together; T and R of the material each in its turn, combined in quadrature.
    sheet = ranged((0.25, 0.3, 0.35), (0.5, 0.55, 0.65))
    origin = stack([sheet, sheet]).origins["diffuse_transmittance"]
    value = passes((0.3, 0.55), (0.3, 0.55))
    up = [passes((0.35, 0.55), (0.35, 0.55)) - value, passes((0.3, 0.65), (0.3, 0.65)) - value]
    down = [value - passes((0.25, 0.55), (0.25, 0.55)), value - passes((0.3, 0.5), (0.3, 0.5))]
    assert origin.high == pytest.approx((value + math.hypot(*up),) * 2, abs=1e-12)
    assert origin.low == pytest.approx((value - math.hypot(*down),) * 2, abs=1e-12)
    assert origin.known == "derived"


def test_unlike_materials_have_errors_of_their_own() -> None:
    # Derived: one number of one material at a time. Less than if both moved together.
    first, second = ranged((0.25, 0.3, 0.35), (0.55, 0.55, 0.55)), ranged((0.15, 0.2, 0.25), (0.6, 0.6, 0.6))
    origin = stack([first, second]).origins["diffuse_transmittance"]
    value = passes((0.3, 0.55), (0.2, 0.6))
    up = [passes((0.35, 0.55), (0.2, 0.6)) - value, passes((0.3, 0.55), (0.25, 0.6)) - value]
    assert origin.high == pytest.approx((value + math.hypot(*up),) * 2, abs=1e-12)
    assert math.hypot(*up) < passes((0.35, 0.55), (0.25, 0.6)) - value


def test_a_range_stays_within_the_light() -> None:
    # Conservation: T 0.5 and R 0.69 cannot both be; the reflectance gives way.
    sheet = ranged((0.2, 0.3, 0.5), (0.69, 0.69, 0.69))
    origin = stack([sheet, sheet]).origins["diffuse_transmittance"]
    assert origin.high == pytest.approx((passes((0.5, 0.5), (0.5, 0.5)),) * 2, abs=1e-12)


def test_ranges_of_lobes_and_sides() -> None:
    # Derived: what only the range knows of still shows; sides keep their own range.
    film = Sheet.model_validate(
        {
            "straight": {"value": 0.0, "low": 0.0, "high": 0.1},
            "forward_transmittance": {"value": 0.5, "low": 0.4, "high": 0.6},
            "half_value_angle": {"value": 10, "low": 8, "high": 13},
            "diffuse_reflectance": {"value": [0.2, 0.3], "low": [0.1, 0.3], "high": [0.25, 0.3]},
        }
    )
    found = stack([film, film])
    width, straight = found.origins["half_value_angle"], found.origins["straight"]
    assert straight.high == pytest.approx((0.01, 0.01), abs=1e-15)
    assert width.high is not None
    assert found.half_value_angle is not None
    assert width.high[0] == pytest.approx(half_value_angle_of(variance=2 * variance_of(13)), abs=1e-6)
    front, rear = found.origins["diffuse_reflectance"].low or (0.0, 0.0)
    assert found.reflectance_by_side[0] - front > 0.09
    assert rear < found.reflectance_by_side[1]
    opaque = Sheet.model_validate(
        {
            "forward_transmittance": {"value": 0.0, "low": 0.0, "high": 0.2},
            "half_value_angle": 20,
            "diffuse_reflectance": 0.5,
        }
    )
    hidden = stack([opaque, opaque])
    assert hidden.forward_transmittance == 0
    assert hidden.origins["forward_transmittance"].high == pytest.approx((0.04, 0.04), abs=1e-12)
    assert hidden.half_value_angle is not None


def test_impossible_stacks() -> None:
    # The project's own rule for errors.
    with pytest.raises(ValueError, match=r"0 sheets.*Allowed: 1 to 20.*Try"):
        stack([])
    with pytest.raises(ValueError, match="21 sheets"):
        stack([diffuse(0.3, 0.5)] * 21)
    with pytest.raises(ValueError, match=r"cannot be a layer.*Allowed.*Try"):
        stack([Sheet(layers=("tissue", "tissue")), diffuse(0.3, 0.5)])
