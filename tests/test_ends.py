"""Sheets with one number moved to an end of its range: energy, splits of a known sum, layers of a stack."""

from __future__ import annotations

import pytest

from lightsim.light.others import numbers
from lightsim.rig.load import loads, placed
from lightsim.sheet import Sheet
from lightsim.sheet.ends import ends_of, moved

TRACING = Sheet.model_validate(
    {
        "forward_transmittance": {"value": 0.4, "low": 0.25, "high": 0.55, "against": "diffuse_transmittance"},
        "diffuse_transmittance": {"value": 0.22, "low": 0.1, "high": 0.35},
        "half_value_angle": 30,
        "diffuse_reflectance": 0.28,
    }
)


def test_a_split_keeps_its_sum() -> None:
    # Derived here: what one share gains the other loses, so all that passes and all that is absorbed stay.
    split, total = ends_of(TRACING)
    assert (split.key, total.key) == ("forward_transmittance", "diffuse_transmittance")
    for end, forward in ((split.low, 0.25), (split.high, 0.55)):
        assert end.forward_transmittance == pytest.approx(forward, abs=1e-12)
        assert end.forward_transmittance + end.diffuse_transmittance == pytest.approx(0.62, abs=1e-12)
        assert end.diffuse_reflectance == 0.28
    assert total.high.forward_transmittance == 0.4


def test_a_split_takes_no_more_than_there_is() -> None:
    # Derived here: 0.22 is all that the other share can give.
    end = moved(TRACING, "forward_transmittance", (0.9, 0.9))
    assert end.forward_transmittance == pytest.approx(0.62, abs=1e-12)
    assert end.diffuse_transmittance == 0


def test_sides_split_each_for_itself() -> None:
    # Derived here: a coat of 0.04 on the front alone, known to 0.01, of a front that sends back 0.5 in all.
    card = Sheet.model_validate(
        {
            "glossy_reflectance": {
                "value": [0.04, 0.0], "low": [0.03, 0.0], "high": [0.05, 0.0], "against": "diffuse_reflectance",
            },
            "diffuse_reflectance": [0.46, 0.5],
        }
    )  # fmt: skip
    (coat,) = ends_of(card)
    assert coat.high.gloss_by_side == pytest.approx((0.05, 0.0), abs=1e-12)
    assert coat.high.reflectance_by_side == pytest.approx((0.45, 0.5), abs=1e-12)


@pytest.mark.parametrize("against", ["roughness", "diffuse_transmittance", "gloss", 3])
def test_only_another_share_can_be_stood_against(against: object) -> None:
    table = {"value": 0.2, "low": 0.1, "high": 0.3, "against": against}
    with pytest.raises(ValueError, match=r"not another share of the sheet\. Allowed: straight"):
        Sheet.model_validate({"diffuse_transmittance": table})


def test_a_lobe_that_might_be_needs_its_width() -> None:
    # Derived here: a forward lobe has no shape without its half-value angle, at the high end of a range either.
    table = {"value": 0.0, "low": 0.0, "high": 0.5}
    with pytest.raises(ValueError, match="half_value_angle from 0 to 60"):
        Sheet.model_validate({"forward_transmittance": table})
    assert Sheet.model_validate({"forward_transmittance": table, "half_value_angle": 20}).half_value_angle == 20


@pytest.mark.parametrize(
    ("key", "value", "expected"),
    [
        # Derived here: at a sum above 1 the diffuse reflectance gives way ...
        ("diffuse_transmittance", 0.6, (0.6, 0.4)),
        # ... and is itself held to what the others leave.
        ("diffuse_reflectance", 0.9, (0.3, 0.7)),
    ],
)
def test_the_reflectance_gives_way(key: str, value: float, expected: tuple[float, float]) -> None:
    end = moved(Sheet(diffuse_transmittance=0.3, diffuse_reflectance=0.6), key, (value, value))
    found = (end.diffuse_transmittance, end.reflectance_by_side[0])
    assert found == pytest.approx(expected, abs=1e-12)


RIG = """
title = "Two layers"
camera = { sensor = [36, 24], magnification = [1] }
lens = { working_distance = [95], diameter = 65, length = 120 }
head = [{ from = "subject", toward_lens = 150, window = [60, 40], beam = { cos_power = 4 }, guide_number = 30 }]
[[diffuser]]
name = "front"
shape = "sheet"
width = 100
height = 80
material = "MATERIAL"
from = "subject"
toward_lens = 50
[material."two papers"]
layers = ["copy paper", "copy paper"]
"""


def test_a_stack_has_the_numbers_of_its_layers() -> None:
    # Two designs of the same paper, in one layer and in two, share its error: the same material, number and ends.
    one, two = (numbers(placed(loads(RIG.replace("MATERIAL", name)))) for name in ("copy paper", "two papers"))
    assert [number.name for number in two] == [number.name for number in one]
    assert {number.material for number in two} == {"copy paper"}
    assert [number.ends for number in two] == [number.ends for number in one]
