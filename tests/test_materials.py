"""The library of materials says how it knows each number; numbers with ranges and stacks in rig files; the command.

Published and derived values stand beside the checks. Ranges "from memory" are nobody's measurement: no test holds a
number to one.
"""

from __future__ import annotations

import copy
import json
import math
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from lightsim.cli import app
from lightsim.cli.holds import oddities
from lightsim.rig import library
from lightsim.rig.errors import RigError
from lightsim.rig.keys import find, with_value
from lightsim.rig.library import (
    data_of,
    design_files,
    folder_of_designs,
    kinds_of_materials,
    library_materials,
    near_materials,
)
from lightsim.rig.load import LoadedRig, load, load_data, loads, material
from lightsim.sheet import Sheet
from lightsim.sheet.ends import ends_of
from lightsim.sheet.sheet import SHARES, both
from lightsim.sheet.stack import stack

TEXT = (folder_of_designs() / "materials.toml").read_text(encoding="utf-8")
LIBRARY = tomllib.loads(TEXT)["material"]
TEXTS = ("about", "source", "layers")
BODY = ("thickness", "grammage", "specific_heat", "softens")  # what a sheet is besides; no share of the light
NO_LIGHT = (*TEXTS, *BODY)
KNOWN = {"measured", "published", "derived", "from memory", "assumed"}

RIG = """\
title = "Hedge and pond, invented"
[camera]
sensor = [23.5, 15.6]
magnification = 1
[lens]
working_distance = 95
diameter = 65
length = 120
[[head]]
from = "shoe"
up = 80
aim = "subject"
window = [60, 40]
beam = { cos_power = 4 }
guide_number = 30
[[diffuser]]
name = "front"
shape = "sheet"
width = 150
height = 90
material = "mine"
from = "lens"
up = 74
"""


def unsaid(text: str) -> list[str]:
    """What the numbers of a library leave unsaid, as name.key: what."""
    missing = []
    for name, sheet in tomllib.loads(text)["material"].items():
        for key, number in sheet.items():
            if key in TEXTS:
                continue
            said = number if isinstance(number, dict) else {"value": number}
            lacks = [part for part in ("value", "low", "high", "known", "source") if said.get(part) in (None, "", [])]
            if not lacks and said["known"] not in KNOWN:
                lacks.append("known")
            if not lacks and said["low"] == said["high"]:
                lacks.append("range")
            missing.extend(f"{name}.{key}: {part}" for part in lacks)
    return missing


def written(materials: dict[str, Any]) -> str:
    """A library as text: JSON tables in one line are TOML but for the colons."""
    lines = []
    for name, sheet in materials.items():
        lines.append(f"[material.{json.dumps(name)}]")
        for key, value in sheet.items():
            inline = ", ".join(f"{k} = {json.dumps(v)}" for k, v in value.items()) if isinstance(value, dict) else ""
            lines.append(f"{key} = {{ {inline} }}" if isinstance(value, dict) else f"{key} = {json.dumps(value)}")
    return "\n".join(lines)


# --- every number says how it is known


def test_every_number_of_the_library_has_a_range_a_source_and_says_how_it_is_known() -> None:
    assert unsaid(TEXT) == []
    assert len(LIBRARY) >= 20
    assert all(sheet["about"] for sheet in LIBRARY.values())
    # And so it reaches those who use the sheets.
    for name, sheet in library_materials().items():
        stated = {key for key in LIBRARY[name] if key not in TEXTS}
        assert set(sheet.origins) == stated - set(BODY), name
        assert set(sheet.body) == stated & set(BODY), name
        origins = [*sheet.origins.values(), *sheet.body.values()]
        assert all(origin.has_range and origin.known and origin.source for origin in origins), name


def test_the_check_notices_whatever_is_left_out() -> None:
    """The same check must fail where it should: each part of each number taken away in turn."""
    assert tomllib.loads(written(LIBRARY))["material"] == LIBRARY
    tried = 0
    for name, sheet in LIBRARY.items():
        for key in (key for key in sheet if key not in TEXTS):
            for part in ("low", "high", "known", "source"):
                spoilt = copy.deepcopy(LIBRARY)
                del spoilt[name][key][part]
                assert unsaid(written({name: spoilt[name]})) == [f"{name}.{key}: {part}"]
                tried += 1
    assert tried > 250


@pytest.mark.parametrize(
    "before, after, lacks",
    [
        (', known = "derived"', "", "known"),
        ('known = "derived"', 'known = "guess"', "known"),
        ('source = "Kubelka', 'source = "" } # "Kubelka', "source"),
        ("low = 0.13, ", "", "low"),
        ("low = 0.13, high = 0.20", "low = 0.16, high = 0.16", "range"),
        ("{ value = 0.16, low", "0.16 # {", "known"),
    ],
)
def test_the_check_notices_a_spoilt_line_of_the_file(before: str, after: str, lacks: str) -> None:
    assert before in TEXT
    assert f"copy paper.diffuse_transmittance: {lacks}" in unsaid(TEXT.replace(before, after, 1))


def test_the_sheets_that_people_ask_for_are_there() -> None:
    for name in (
        "copy paper", "heavy copy paper", "tracing paper", "baking parchment", "tissue paper", "white card",
        "coated card", "kraft card", "grey card", "black card", "thin packing foam", "packing foam",
        "thick packing foam", "cushioning foam", "PTFE film", "frosted polyester", "opal acrylic",
        "milk-bottle plastic", "white cotton", "white cloth", "white nylon", "felt", "smooth foil", "crumpled foil",
        "foil-lined card", "white adhesive film", "silver adhesive film", "barrel black", "leaf", "soil",
    ):  # fmt: skip
        assert name in LIBRARY, name
    for design in design_files():  # those that the ready designs are made of
        rig = load(design)
        assert all(material(rig, part.material) for part in (*rig.rig.diffuser, *rig.rig.surroundings))


def test_no_sheet_sends_on_more_light_than_it_gets() -> None:
    """Conservation of energy, counted here apart from Sheet; each end of a range lies about its value."""
    for name, sheet in LIBRARY.items():
        sides = [0.0, 0.0]
        for key, number in sheet.items():
            if key in NO_LIGHT:
                continue
            pairs = [
                value if isinstance(value, list) else [value] * 2 for value in map(number.get, ("low", "value", "high"))
            ]
            for side in (0, 1):
                low, value, high = (pair[side] for pair in pairs)
                assert low <= value <= high, f"{name}.{key}"
                if key not in ("half_value_angle", "pore_depth", "roughness"):
                    assert 0 <= low <= high <= 1, f"{name}.{key}"
                    sides[side] += value
        assert max(sides) <= 1 + 1e-12, name
        assert min(sides) > 0, name


# What passes each sheet in all, as the file has it: milk bottles by a published range (J. Food Prot. 46,
# 309, 1983, abstract), the others from memory. The range of one share is that of the sum, the others divide it.
SUMS = {
    "tracing paper": (0.50, 0.75),
    "baking parchment": (0.45, 0.65),
    "frosted polyester": (0.75, 0.90),
    "milk-bottle plastic": (0.50, 0.70),
    "white cotton": (0.20, 0.40),
    "white nylon": (0.45, 0.65),
}
THROUGH = ("straight", "pores", "forward_transmittance", "diffuse_transmittance")
BACK = ("diffuse_reflectance", "glossy_reflectance", "metallic_reflectance")


def sum_of(sheet: Sheet, keys: tuple[str, ...] = SHARES, side: int = 0) -> float:
    return math.fsum(both(getattr(sheet, key))[side] for key in keys)


@pytest.mark.parametrize("name", SUMS)
def test_a_sum_that_is_known_better_than_its_split_keeps_to_its_range(name: str) -> None:
    sheet = library_materials()[name]
    ends = {each.key: (each.low, each.high) for each in ends_of(sheet) if each.key in THROUGH}
    dividing = [key for key in ends if sheet.origins[key].against]
    assert len(dividing) == len(ends) - 1
    for key, (low, high) in ends.items():
        origin, value = sheet.origins[key], getattr(sheet, key)
        assert (getattr(low, key), getattr(high, key)) == pytest.approx((origin.low[0], origin.high[0]))
        if key in dividing:
            assert origin.against in ends
            assert origin.against not in dividing
            for end in (low, high):
                assert sum_of(end, THROUGH) == pytest.approx(sum_of(sheet, THROUGH), abs=1e-12)
                given_up = getattr(sheet, origin.against) - getattr(end, origin.against)
                assert given_up == pytest.approx(getattr(end, key) - value, abs=1e-12)
        else:
            assert (sum_of(low, THROUGH), sum_of(high, THROUGH)) == pytest.approx(SUMS[name], abs=1e-9)


def test_no_end_of_a_range_makes_light() -> None:
    for name, sheet in library_materials().items():
        for ends in ends_of(sheet):
            for end in (ends.low, ends.high):
                for side in (0, 1):
                    assert sum_of(end, SHARES, side) <= 1 + 1e-12, f"{name}.{ends.key}"
                    assert min(both(getattr(end, key))[side] for key in SHARES) >= 0, f"{name}.{ends.key}"


# --- values


def kubelka_munk(through: float, back: float, ratio: float) -> tuple[float, float]:
    """T and R of a sheet ratio times as thick, from T and R of the sheet itself.

    Kubelka, JOSA 38, 448 (1948), from memory: T = b / (a sinh x + b cosh x), R = sinh x / (a sinh x + b cosh x).
    """
    a = (1 + back**2 - through**2) / (2 * back)
    b = math.sqrt(a * a - 1)
    x = ratio * math.asinh(b * back / through)
    below = a * math.sinh(x) + b * math.cosh(x)
    return b / below, math.sinh(x) / below


def from_opacity(opacity: float, pile: float) -> tuple[float, float]:
    """T and R from opacity (ISO 2471) and the reflectance of a thick pile: T^2 = (Rp - R0)(1 / Rp - R0) (ISO 22891)."""
    black = opacity * pile
    return math.sqrt((pile - black) * (1 / pile - black)), black


def value_of(name: str, key: str) -> float:
    value = LIBRARY[name][key]["value"]
    return float(value[0] if isinstance(value, list) else value)


def range_of(name: str, key: str) -> tuple[float, float]:
    return LIBRARY[name][key]["low"], LIBRARY[name][key]["high"]


def within(value: float, span: tuple[float, float]) -> bool:
    return span[0] <= value <= span[1]


def test_the_formula_gives_the_worked_numbers() -> None:
    # Worked apart: R0 = 0.80, R-infinity = 0.87 give T = 0.156396; two such sheets in contact 0.0679438 and 0.8543550.
    assert from_opacity(0.80 / 0.87, 0.87) == pytest.approx((0.156396, 0.80), abs=5e-7)
    assert kubelka_munk(*from_opacity(0.80 / 0.87, 0.87), 2) == pytest.approx((0.0679438, 0.8543550), abs=5e-8)
    # Without absorption T = 1 / (1 + s d): from 0.5 at one thickness to 0.2 at four.
    assert kubelka_munk(0.5 - 1e-12, 0.5 - 1e-12, 4)[0] == pytest.approx(0.2, abs=1e-5)


def test_copy_paper_is_what_its_opacity_says() -> None:
    # US Government Paper Specification Standards, JCP O-63 (2007): opacity on average at least 90, 92 and 93 %;
    # R-infinity of 0.82 to 0.92 is assumed. The spread of both, rounded outward.
    corners = [from_opacity(opacity, pile) for opacity in (0.90, 0.92) for pile in (0.82, 0.92)]
    for number, key in enumerate(("diffuse_transmittance", "diffuse_reflectance")):
        low, high = range_of("copy paper", key)
        ends = [corner[number] for corner in corners]
        assert (low, high) == pytest.approx((math.floor(100 * min(ends)) / 100, math.ceil(100 * max(ends)) / 100))
        assert within(value_of("copy paper", key), (low, high))


@pytest.mark.parametrize("name, grammage, digit", [("heavy copy paper", 120, 1e-3), ("white card", 250, 1e-2)])
def test_heavier_paper_of_the_same_stuff(name: str, grammage: float, digit: float) -> None:
    # Derived by the formula above from the library's own copy paper, to half the last digit stated.
    keys = ("diffuse_transmittance", "diffuse_reflectance")
    own = [value_of("copy paper", key) for key in keys]
    stated = tuple(value_of(name, key) for key in keys)
    assert stated == pytest.approx(kubelka_munk(own[0], own[1], grammage / 80), abs=digit / 2)
    for opacity in (0.90, 0.92):
        for pile in (0.82, 0.87, 0.92):
            heavier = kubelka_munk(*from_opacity(opacity, pile), grammage / 80)
            # The range is rounded to the hundredth.
            assert all(
                low - 0.005 <= value <= high + 0.005
                for value, (low, high) in zip(heavier, (range_of(name, key) for key in keys), strict=True)
            )


def test_white_card_agrees_with_the_worked_number() -> None:
    # Worked apart for R0 = 0.80, R-infinity = 0.87 at 80 g/m2 taken to 250 g/m2: T = 0.030829, R = 0.866639.
    worked = kubelka_munk(*from_opacity(0.80 / 0.87, 0.87), 250 / 80)
    assert worked == pytest.approx((0.030829, 0.866639), abs=5e-7)
    assert value_of("white card", "diffuse_transmittance") == pytest.approx(worked[0], abs=0.005)
    assert within(worked[1], range_of("white card", "diffuse_reflectance"))


@pytest.mark.parametrize(
    "name, thickness", [("thin packing foam", 1), ("thick packing foam", 3), ("cushioning foam", 5)]
)
def test_foams_of_other_thickness_come_from_the_packing_foam(name: str, thickness: float) -> None:
    # Derived by the formula above, which is T = 1 / (1 + s d) with a little absorption, to half the last digit.
    keys = ("diffuse_transmittance", "diffuse_reflectance")
    stated = tuple(value_of(name, key) for key in keys)
    own = [value_of("packing foam", key) for key in keys]
    assert stated == pytest.approx(kubelka_munk(own[0], own[1], thickness / 2), abs=0.005)
    (thin, thick), (dark, white) = (range_of("packing foam", key) for key in keys)
    for through, back in ((thin, white), (thick, dark)):  # more back goes with less through
        found = kubelka_munk(through, back, thickness / 2)
        assert all(within(value, range_of(name, key)) for value, key in zip(found, keys, strict=True))


def test_ptfe_film_lies_between_two_published_reflectances() -> None:
    # Two-flux theory without absorption, T = 1 / (1 + s d), from T of at most 0.02 at 10 mm (Li, Lee, Zhang & Allen,
    # J. Biomed. Opt. 13, 054064, 2008: R >= 0.98) and 0.075 at 5 mm (Contreras et al.: R = 0.925): 0.4494 and 0.6186.
    ends = [1 / (1 + (1 / through - 1) / thick * 0.25) for through, thick in ((0.02, 10), (0.075, 5))]
    assert ends == pytest.approx([0.4494, 0.6186], abs=1e-4)
    low, high = range_of("PTFE film", "diffuse_transmittance")
    assert (low, high) == (0.45, 0.65)
    assert low - 0.005 <= min(ends) < value_of("PTFE film", "diffuse_transmittance") < max(ends) <= high
    assert sum(value_of("PTFE film", key) for key in LIBRARY["PTFE film"] if key.endswith("tance")) > 0.98


@pytest.mark.parametrize(
    "name, index", [("PTFE film", 1.35), ("opal acrylic", 1.49), ("milk-bottle plastic", 1.54), ("coated card", 1.54)]
)
def test_coats_shine_as_fresnel_says(name: str, index: float) -> None:
    # ((n - 1) / (n + 1))^2 at normal incidence; the indices are from memory.
    found = ((index - 1) / (index + 1)) ** 2
    assert value_of(name, "glossy_reflectance") == pytest.approx(found, abs=0.005)
    assert within(found, range_of(name, "glossy_reflectance"))


def test_published_numbers() -> None:
    # Aluminium foil, bright 0.88, dull or embossed 0.80: encyclopaedia figure, second-hand. Bare mirror coating 0.915.
    assert value_of("smooth foil", "metallic_reflectance") == 0.88
    assert value_of("crumpled foil", "metallic_reflectance") == 0.80
    assert range_of("smooth foil", "metallic_reflectance")[1] == 0.915
    # Blown polyethylene milk containers pass 50 to 70 % (J. Food Prot. 46, 309, 1983, abstract).
    bottle = library_materials()["milk-bottle plastic"]
    assert 0.50 <= bottle.forward_transmittance + bottle.diffuse_transmittance <= 0.70


# --- ranges and stacks in rig files


def rig_with(materials: str) -> LoadedRig:
    return loads(RIG + materials, file="hedge.toml")


def test_a_number_may_be_a_table_in_a_line_or_under_a_heading() -> None:
    line = (
        "[material.mine]\ndiffuse_transmittance = "
        '{ value = 0.3, low = 0.2, high = 0.4, known = "measured", source = "meter" }\n'
    )
    heading = (
        '[material.mine]\nabout = ""\n[material.mine.diffuse_transmittance]\nvalue = 0.3\nlow = 0.2\nhigh = 0.4\n'
        'known = "measured"\nsource = "meter"\n'
    )
    for text in (line, heading):
        loaded = rig_with(text)
        sheet = material(loaded, "mine")
        origin = sheet.origins["diffuse_transmittance"]
        assert sheet.diffuse_transmittance == 0.3
        assert (origin.low, origin.high) == ((0.2, 0.2), (0.4, 0.4))
        assert (origin.known, origin.source) == ("measured", "meter")
        assert loaded.sources == {"material.mine.diffuse_transmittance": "meter"}
    plain = material(rig_with("[material.mine]\ndiffuse_transmittance = 0.3\n"), "mine")
    assert plain.diffuse_transmittance == 0.3
    assert plain.origins == {}


def test_a_table_of_the_library_can_be_copied_into_a_rig() -> None:
    for name, sheet in library_materials().items():
        table = TEXT.partition(f'[material."{name}"]')[2].partition("\n[")[0]
        loaded = rig_with(f"[material.mine]{table}")
        assert material(loaded, "mine") == sheet, name
        origins = {**sheet.origins, **sheet.body}
        assert loaded.sources == {f"material.mine.{key}": origin.source for key, origin in origins.items()}
        assert Sheet.model_validate(data_of(sheet)) == sheet


def test_setting_a_number_of_the_library_leaves_the_ranges_of_the_others() -> None:
    data = loads(RIG.replace('"mine"', '"opal acrylic"')).data
    for key in ("diffuse_transmittance", "roughness"):
        assert find(data, f"material.opal acrylic.{key}")[1] == value_of("opal acrylic", key)
        after = load_data(with_value(data, f"material.opal acrylic.{key}", 0.25)).rig.material["opal acrylic"]
        ready = library_materials()["opal acrylic"]
        assert getattr(after, key) == 0.25
        assert after.origins == {name: origin for name, origin in ready.origins.items() if name != key}


def test_a_split_of_a_known_sum_is_read_and_set() -> None:
    loaded = rig_with(
        "[material.mine]\ndiffuse_transmittance = { value = 0.2, low = 0.1, high = 0.3 }\nhalf_value_angle = 20\n"
        'forward_transmittance = { value = 0.4, low = 0.3, high = 0.5, against = "diffuse_transmittance" }\n'
    )
    sheet = material(loaded, "mine")
    assert sheet.origins["forward_transmittance"].against == "diffuse_transmittance"
    assert Sheet.model_validate(data_of(sheet)) == sheet
    assert data_of(sheet)["forward_transmittance"]["against"] == "diffuse_transmittance"
    assert find(loaded.data, "material.mine.forward_transmittance")[1] == 0.4
    exact = load_data(with_value(loaded.data, "material.mine.forward_transmittance", 0.3)).rig.material["mine"]
    assert set(exact.origins) == {"diffuse_transmittance"}
    other = load_data(with_value(loaded.data, "material.mine.diffuse_transmittance", 0.3)).rig.material["mine"]
    assert other.origins == {"forward_transmittance": sheet.origins["forward_transmittance"]}


@pytest.mark.parametrize("against", ['"diffuse"', '"half_value_angle"', '"diffuse_transmittance"', "1", '["pores"]'])
def test_a_split_against_no_other_share_is_told(against: str) -> None:
    with pytest.raises(RigError, match=r'material "mine": diffuse_transmittance: against = .*Allowed.*pores.*Try '):
        rig_with(f"[material.mine]\ndiffuse_transmittance = {{ value = 0.2, against = {against} }}\n")


def test_layers_are_sheets_in_contact() -> None:
    paper = "[material.paper]\ndiffuse_transmittance = 0.1563960\ndiffuse_reflectance = 0.8\n"
    twice = material(rig_with(paper + '[material.mine]\nlayers = ["paper", "paper"]\n'), "mine")
    # Two sheets of R = 0.80, T = 0.156396: T = 0.0679438, R = 0.8543550, T1 T2 / (1 - R1 R2) and so on.
    assert twice.diffuse_transmittance == pytest.approx(0.0679438, abs=5e-7)
    assert twice.reflectance_by_side == pytest.approx((0.8543550, 0.8543550), abs=5e-7)
    unlike = material(
        rig_with(
            "[material.film]\ndiffuse_transmittance = 0.6\ndiffuse_reflectance = 0.3\n"
            "[material.paper]\ndiffuse_transmittance = 0.2\ndiffuse_reflectance = 0.75\n"
            '[material.mine]\nabout = "film taped on paper"\nlayers = ["film", "paper"]\n'
        ),
        "mine",
    )
    # The same formula for T1 = 0.60, R1 = 0.30 before T2 = 0.20, R2 = 0.75.
    assert unlike.diffuse_transmittance == pytest.approx(0.1548387, abs=5e-8)
    assert unlike.reflectance_by_side == pytest.approx((0.6483871, 0.7654839), abs=5e-8)
    assert unlike.about == "film taped on paper"


def test_layers_are_looked_up_in_the_file_before_the_library() -> None:
    stacked = '[material.mine]\nlayers = ["copy paper", "tracing paper"]\n'
    ready = [library_materials()[name] for name in ("copy paper", "tracing paper")]
    assert material(rig_with(stacked), "mine").diffuse_transmittance == stack(ready).diffuse_transmittance
    own = Sheet(diffuse_transmittance=0.5)
    changed = material(rig_with(f'{stacked}[material."copy paper"]\ndiffuse_transmittance = 0.5\n'), "mine")
    assert changed.diffuse_transmittance == stack([own, ready[1]]).diffuse_transmittance
    assert changed.diffuse_transmittance != stack(ready).diffuse_transmittance


def test_stacks_may_hold_stacks() -> None:
    paper = "[material.paper]\ndiffuse_transmittance = 0.2\ndiffuse_reflectance = 0.75\n"
    nested = rig_with(
        f'{paper}[material.pair]\nlayers = ["paper", "paper"]\n[material.mine]\nlayers = ["pair", "paper"]\n'
    )
    flat = rig_with(f'{paper}[material.mine]\nlayers = ["paper", "paper", "paper"]\n')
    # Adding is associative (Stokes 1862, from memory).
    for key in ("diffuse_transmittance", "reflectance_by_side"):
        assert getattr(material(nested, "mine"), key) == pytest.approx(getattr(material(flat, "mine"), key), abs=1e-12)


def test_many_nested_stacks_take_no_longer_than_their_number() -> None:
    # Each of 60 holds the next twice: followed one by one they would be 2^60 sheets.
    text = "".join(f'[material.s{n}]\nlayers = ["s{n + 1}", "s{n + 1}"]\n' for n in range(60))
    loaded = rig_with(f'[material.mine]\nlayers = ["s0", "s0"]\n{text}[material.s60]\ndiffuse_reflectance = 0.5\n')
    assert material(loaded, "mine").reflectance_by_side == pytest.approx((0.5, 0.5))


@pytest.mark.parametrize(
    "materials, parts",
    [
        (
            '[material.mine]\nlayers = ["a", "leaf"]\n[material.a]\nlayers = ["mine", "leaf"]\n',
            [
                'material "a": layers = ["mine", "leaf"]',
                'circle: "mine" is made of "a", that of "mine". ',
                "Try numbers",
            ],
        ),
        (
            '[material.mine]\nlayers = ["leaf", "soil"]\n[material.leaf]\nlayers = ["leaf", "soil"]\n',
            ['material "leaf"', "circle", 'Try another name for this one, such as "double leaf"'],
        ),
        (
            '[material.mine]\nlayers = ["leaf", "gold leaf"]\n',
            ['material "mine": layers[2] = "gold leaf"', "not known", '"mine" of this file', 'Try "leaf"'],
        ),
        ('[material.mine]\nlayers = ["leaf", 3]\n', ['material "mine": layers[2] = 3', "must be a text", "in quotes"]),
        (
            '[material.mine]\nlayers = ["leaf", "soil"]\nroughness = { value = 0.2, low = 0.1, high = 0.3 }\n',
            ['material "mine"', "no numbers beside them", "Try layers ="],
        ),
    ],
)
def test_layers_that_cannot_be_are_told(materials: str, parts: list[str]) -> None:
    with pytest.raises(RigError) as caught:
        rig_with(materials)
    message = str(caught.value)
    assert message.startswith("hedge.toml: ")
    assert "Allowed: " in message
    assert [part for part in parts if part not in message] == [], message


def test_what_a_stack_cannot_hold_is_told_with_the_file(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(sheets: list[Sheet]) -> Sheet:
        raise ValueError(f"{len(sheets)} sheets are too many. Allowed: fewer. Try one")

    loaded = rig_with('[material.mine]\nlayers = ["leaf", "soil"]\n')
    monkeypatch.setattr("lightsim.sheet.stack.stack", refused)
    with pytest.raises(
        RigError, match=r'^hedge\.toml: material "mine": layers = \["leaf", "soil"\]: 2 sheets.*Try one'
    ):
        material(loaded, "mine")


def test_a_spoilt_library_is_told_with_its_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "materials.toml").write_text(TEXT.replace("low = 0.13", "lo = 0.13", 1), encoding="utf-8")
    monkeypatch.setattr(library, "folder_of_designs", lambda: tmp_path)
    with pytest.raises(RigError, match=r'materials\.toml: material "copy paper".*"lo" is not known.*Allowed.*Try'):
        library_materials()


# --- the command


def run(*words: str, columns: int = 80) -> Any:
    return CliRunner().invoke(app, list(words), env={"COLUMNS": str(columns)})


def digits(value: float) -> str:
    """How a table may write a number: 0.2 as 0.20."""
    return rf"{value:g}0?" if value < 1 and f"{value:g}" != "0" else rf"{value:g}(?:\.00)?"


def sides_of(number: dict[str, Any]) -> list[tuple[str, list[float]]]:
    """(mark of the side, [value, low, high]) of what a table of the library states."""
    ends = [number[part] for part in ("value", "low", "high")]
    if not isinstance(ends[0], list):
        return [("", ends)]
    return [
        (rf" \({side}\)", [pair[place] for pair in ends])
        for place, side in enumerate(("front", "back"))
        if ends[2][place] > 0
    ]


SURE = ("measured", "published", "derived", "from memory", "assumed")  # from the surest on


def percent(share: float) -> str:
    return f"{100 * share:.0f}" if share >= 0.01 or share == 0 else f"{100 * share:.1f}"


def line_of(sheet: dict[str, Any]) -> str:
    """What the list says of a sheet, worked out from the file: a sum's range leaves out those that only divide it."""
    text = ""
    for keys in (THROUGH, BACK):
        stated = {key: sheet[key] for key in keys if key in sheet}
        front = {
            key: {part: both(number[part])[0] for part in ("value", "low", "high")} for key, number in stated.items()
        }
        value = sum(number["value"] for number in front.values())
        low, high = (
            sum(number["value" if "against" in stated[key] else end] for key, number in front.items())
            for end in ("low", "high")
        )
        span = f" +{percent(low)} to {percent(min(high, 1))}" if stated else ""
        stops = "" if keys == BACK else rf" +{-math.log2(value):.1f}" if value else " +-"
        text += f" +{percent(value)}{span}{stops}"
    known = max((number["known"] for key, number in sheet.items() if key not in NO_LIGHT), key=SURE.index)
    return f"{text} +{known}"


@pytest.mark.parametrize("columns", [80, 100])
def test_the_command_lists_every_material_in_a_line(columns: int) -> None:
    result = run("materials", columns=columns)
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    assert max(map(len, lines)) <= columns
    assert len(lines) < len(LIBRARY) + len(kinds_of_materials()) + 16  # heads and what they mean
    for name, sheet in LIBRARY.items():
        assert re.search(rf"^  {name}{line_of(sheet)}$", result.stdout, flags=re.MULTILINE), name
    # Worked by hand: 0.12 straight and 0.70 in the lobe, 0.286 stops; the split does not widen the sum.
    assert re.search(r"^  frosted polyester +82 +75 to 90 +0\.3 +12 +6 to 18 +assumed$", result.stdout, re.MULTILINE)
    assert "lightsim materials NAME" in " ".join(result.stdout.split())


def test_the_list_is_grouped_as_the_file_is() -> None:
    kinds = kinds_of_materials()
    assert [name for group in kinds.values() for name in group] == list(LIBRARY)
    assert kinds["Card"] == ("white card", "coated card", "kraft card", "grey card", "black card")
    assert "" not in kinds
    lines = run("materials").stdout.splitlines()
    assert lines.index("Paper") < lines.index("Card") < lines.index("Foil and film")
    at = lines.index("Cloth")
    assert [line.strip().partition("  ")[0] for line in lines[at + 1 : at + 6]] == list(kinds["Cloth"])


def test_a_library_without_headings_is_listed_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "materials.toml").write_text(written(LIBRARY), encoding="utf-8")
    monkeypatch.setattr(library, "folder_of_designs", lambda: tmp_path)
    assert kinds_of_materials() == {"": tuple(LIBRARY)}
    assert re.search(rf"^  copy paper{line_of(LIBRARY['copy paper'])}$", run("materials").stdout, re.MULTILINE)


@pytest.mark.parametrize("name", LIBRARY)
def test_the_command_shows_one_material_with_its_sources(name: str) -> None:
    result = run("materials", *name.upper().split())
    assert result.exit_code == 0
    assert max(map(len, result.stdout.splitlines())) <= 80
    text = " ".join(result.stdout.split())
    assert text.startswith(f"{name}: {LIBRARY[name]['about']}")
    for key, number in LIBRARY[name].items():
        if key not in TEXTS:
            assert f"{number['known']}: {number['source']}." in text
        if key not in NO_LIGHT:
            assert all(
                re.search(rf"{key}{side} " + " ".join(map(digits, ends)), text) for side, ends in sides_of(number)
            )


def test_one_material_tells_what_only_divides_a_sum() -> None:
    told = " ".join(run("materials", "tracing paper").stdout.split())
    assert "forward_transmittance stands against diffuse_transmittance. What it gains within its range" in told
    told = " ".join(run("materials", "white nylon").stdout.split())
    assert "pores and forward_transmittance stand against diffuse_transmittance. What they gain" in told
    assert "against" not in run("materials", "copy paper").stdout


def test_the_summary_adds_up() -> None:
    # 0.12 + 0.70 = 0.82 through, -log2(0.82) = 0.286 stops, 0.12 back, 0.06 left (the library's frosted polyester).
    assert "Sends 82 % through (0.3 stops), 12 % back; absorbs 6 %." in run("materials", "frosted polyester").stdout
    assert "Sends nothing through, 5 % back; absorbs 95 %." in run("materials", "black", "card").stdout


def test_json_holds_every_number(tmp_path: Path) -> None:
    document = json.loads(run("materials", "--json", "-").stdout)
    listed = {each["name"]: each for each in document["materials"]}
    assert list(listed) == list(LIBRARY)
    for name, sheet in LIBRARY.items():
        found = {(number["key"], number["side"]): number for number in listed[name]["numbers"]}
        assert listed[name]["about"] == sheet["about"]
        for key, number in sheet.items():
            for side, (value, low, high) in sides_of(number) if key not in NO_LIGHT else ():
                said = found.pop((key, side.strip(" \\()") or None))
                assert (said["value"], said["low"], said["high"]) == (value, low, high)
                assert (said["known"], said["source"]) == (number["known"], number["source"])
                assert said.get("against") == number.get("against")
        assert not found
    path = tmp_path / "leaf.json"
    result = run("materials", "leaf", "--json", str(path))
    assert f"Wrote {path}" in result.stdout.replace("\n", "")
    assert [each["name"] for each in json.loads(path.read_text())["materials"]] == ["leaf"]
    again = run("materials", "leaf", "--json", str(path))
    assert again.exit_code == 2
    assert "exists already" in again.output


def test_a_name_that_is_not_there_is_refused_with_the_nearest() -> None:
    for words in (("tracng", "paper"), ("tracng", "paper", "--json", "-")):
        result = run("materials", *words)
        assert result.exit_code == 2
        assert re.search(
            r'"tracng paper": .*Allowed: the 31 names that lightsim materials lists.*Try "tracing', result.output
        )
    assert "Try lightsim materials." in run("materials", "gold").output


# Words that people use, and the sheet that each means: common usage, no source.
@pytest.mark.parametrize(
    "asked, first",
    [
        ("frosted film", "frosted polyester"),  # not "PTFE film", which is spelt more like it
        ("drafting film", "frosted polyester"),
        ("vellum", "tracing paper"),
        ("vellum paper", "tracing paper"),
        ("trace paper", "tracing paper"),
        ("tracingpaper", "tracing paper"),
        ("parchment", "baking parchment"),
        ("greaseproof paper", "baking parchment"),
        ("foam", "packing foam"),
        ("thick foam", "thick packing foam"),
        ("printer paper", "copy paper"),
        ("office paper", "copy paper"),
        ("Copy Paper", "copy paper"),
        ("copy_paper", "copy paper"),
        ("tin foil", "smooth foil"),
        ("kitchen foil", "smooth foil"),
        ("crumpled aluminium foil", "crumpled foil"),
        ("milk bottle", "milk-bottle plastic"),
        ("opal plastic", "opal acrylic"),
        ("gold leaf", "leaf"),
    ],
)
def test_the_nearest_name_shares_a_telling_word_or_means_the_same(asked: str, first: str) -> None:
    near = near_materials(asked)
    assert near[0] == first
    assert len(near) <= 3
    assert set(near) <= set(LIBRARY)


def test_names_of_the_file_are_nearer_than_those_of_the_library() -> None:
    assert near_materials("frosted film", ["my film"])[:2] == ("my film", "frosted polyester")
    assert near_materials("thin papr", ["thin paper", "mine"])[0] == "thin paper"
    assert near_materials("vellum", ["mine"]) == ("tracing paper",)
    assert near_materials("Leaf", ["leaf"]) == ("leaf",)  # the file's own of that name, once
    for strange in ("", "gold", " ", "\x00", "x" * 100_000, "_-."):
        assert near_materials(strange, ["mine"]) == ()


def test_the_command_loads_nothing_heavy() -> None:
    code = (
        "import sys\nsys.argv = ['lightsim', 'materials']\nfrom lightsim.cli import app\n"
        "try:\n    app()\nexcept SystemExit:\n    pass\n"
        "print([name for name in ('numpy', 'scipy', 'trimesh', 'embreex') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_check_tells_ranges_and_where_numbers_come_from(tmp_path: Path) -> None:
    path = tmp_path / "hedge.toml"
    leaf = (
        '[[surroundings]]\nname = "bramble leaf"\nshape = "disc"\ndiameter = 50\nmaterial = "leaf"\n'
        'from = "subject"\ntilt = 90\nup = -5\n'
    )
    mine = '[material.mine]\ndiffuse_transmittance = { value = 0.3, low = 0.2, high = 0.4, source = "meter" }\n'
    path.write_text(RIG + leaf + mine, encoding="utf-8")
    text = " ".join(run("check", str(path)).stdout.split())
    assert "mine (this file): diffuse_transmittance 0.3 (0.2 to 0.4). " in text
    assert "leaf (library): diffuse_transmittance 0.07 (0.02 to 0.12, from memory), " in text
    assert "Where the numbers of the library come from: lightsim materials NAME." in text
    assert "material.mine.diffuse_transmittance: meter" in text
    path.write_text(f'{RIG}[material.mine]\nlayers = ["copy paper", "leaf"]\n', encoding="utf-8")
    text = " ".join(run("check", str(path)).stdout.split())
    assert re.search(r"mine \(this file\): copy paper on leaf, in contact: diffuse_transmittance 0\.0\d+", text)


# --- what check finds odd


@pytest.mark.parametrize(
    "sheet, words",
    [
        ({}, ["no share of the light is above 0"]),
        ({"diffuse_reflectance": 0.0, "roughness": 0.2}, ["no share", "roughness changes nothing"]),
        ({"diffuse_transmittance": 0.5, "half_value_angle": 20}, ["half_value_angle changes nothing"]),
        ({"diffuse_transmittance": 0.5, "pore_depth": 1}, ["pore_depth changes nothing, as pores is 0"]),
        ({"diffuse_reflectance": 0.5, "roughness": 0.15}, ["roughness changes nothing"]),
        # 0.8 + 0.3 = 1.1: the reflectance falls to 0.2; 0.6 + 0.5 = 1.1: it stops at 0.4.
        (
            {
                "diffuse_transmittance": {"value": 0.6, "low": 0.5, "high": 0.8},
                "diffuse_reflectance": {"value": 0.3, "low": 0.2, "high": 0.5},
            },
            ["of diffuse_transmittance, where diffuse_reflectance gives way, down to 0.2; and of diffuse_reflectance, "
             "which goes no farther than 0.4"],
        ),
        ({"diffuse_transmittance": {"value": 0.9, "low": 0.8, "high": 1.0}, "pores": 0.05}, ["no farther than 0.95"]),
        ({"diffuse_transmittance": {"value": 0.5, "low": 0.4, "high": 0.6}, "diffuse_reflectance": [0.4, 0.45]},
         ["gives way, down to 0.4"]),
        # 0.017 given way, and 0.017 short of the high end: too little for a note.
        (
            {
                "diffuse_transmittance": {"value": 0.6, "low": 0.5, "high": 0.717},
                "diffuse_reflectance": {"value": 0.3, "low": 0.2, "high": 0.417},
            },
            [],
        ),
        # Nothing odd: used by a share that may be above 0, both high ends within all light, a split of a sum, a stack.
        (
            {
                "forward_transmittance": {"value": 0, "low": 0, "high": 0.3},
                "half_value_angle": 20,
                "diffuse_transmittance": 0.5,
            },
            [],
        ),
        ({"metallic_reflectance": [0.8, 0], "roughness": 0.2}, []),
        (
            {
                "diffuse_transmittance": {"value": 0.6, "low": 0.5, "high": 0.7},
                "diffuse_reflectance": {"value": 0.3, "low": 0.2, "high": 0.4},
            },
            [],
        ),
        (
            {
                "straight": {"value": 0.1, "low": 0, "high": 0.4, "against": "diffuse_transmittance"},
                "diffuse_transmittance": 0.5,
                "diffuse_reflectance": 0.4,
            },
            [],
        ),
        ({"layers": ["leaf", "soil"]}, []),
    ],
)  # fmt: skip
def test_what_is_odd_about_a_sheet(sheet: dict[str, Any], words: list[str]) -> None:
    found = oddities(Sheet.model_validate(sheet))
    assert len(found) == len(words), found
    assert all(word in text for word, text in zip(words, found, strict=True)), found


def test_check_tells_what_is_behind_the_subject(tmp_path: Path) -> None:
    path = tmp_path / "hedge.toml"
    leaf = '[[surroundings]]\nname = "leaf"\nshape = "disc"\ndiameter = 70\nmaterial = "leaf"\nfrom = "subject"\n'
    rig = RIG.replace('"mine"', '"copy paper"')
    for place, words in (
        ("toward_subject = 8", "of leaf, 8 mm behind the subject"),
        ("toward_lens = -8\nup = -4", "of leaf, 4 mm down and 8 mm behind the subject"),
        ("up = -4", "of leaf, 4 mm down from the subject"),
    ):
        path.write_text(f"{rig}{leaf}{place}\n", encoding="utf-8")
        assert words in " ".join(run("check", str(path)).stdout.split())


def test_check_notes_what_is_odd_and_accepts_it(tmp_path: Path) -> None:
    path = tmp_path / "hedge.toml"
    path.write_text(f"{RIG}[material.mine]\nhalf_value_angle = 20\ndiffuse_transmittance = 0.5\n", encoding="utf-8")
    result = run("check", str(path))
    assert result.exit_code == 0
    told = " ".join(result.stdout.split())
    assert 'Note: material "mine": half_value_angle changes nothing, as forward_transmittance is 0.' in told
    path.write_text(RIG.replace('"mine"', '"copy paper"'), encoding="utf-8")
    assert "Note: material" not in run("check", str(path)).stdout
    path.write_text(RIG.replace('"mine"', '"tracing paper"'), encoding="utf-8")
    told = " ".join(run("check", str(path)).stdout.split())
    assert "forward_transmittance 0.4 (0.25 to 0.55 against diffuse_transmittance, assumed)" in told
