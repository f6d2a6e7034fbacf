"""Thickness, grammage, specific heat and limit of sheets: read, refused, in inches, stacked, ready, from packs.

Lengths: International yard and pound agreement of 1959, 1 inch = 25.4 mm. Sums and densities are derived here.
"""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from lightsim.cli import app
from lightsim.measure.ranges import plain_numbers
from lightsim.measure.reading_files import add_material, material_text
from lightsim.rig.errors import RigError
from lightsim.rig.keys import find, with_value
from lightsim.rig.known import is_length, look
from lightsim.rig.library import data_of, library_materials
from lightsim.rig.load import LoadedRig, load_data, loads, material, placed
from lightsim.sheet import Sheet
from lightsim.sheet.body import density, odd_body
from lightsim.sheet.ends import ends_of
from lightsim.sheet.pack import foam_pack, paper_pack
from lightsim.sheet.sheet import BODY, NUMBERS
from lightsim.sheet.stack import stack

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
material = "white card"
from = "lens"
up = 74
"""
IN_INCHES = 'unit = "inch"\n' + RIG.replace("[23.5, 15.6]", "[0.9, 0.6]").replace("= 95", "= 3.75").replace(
    "= 65", "= 2.5"
).replace("= 120", "= 4.7").replace("up = 80", "up = 3").replace("[60, 40]", "[2.4, 1.6]").replace(
    "= 150", "= 6"
).replace("= 90", "= 3.5").replace("up = 74", "up = 3")


def rig_with(text: str, *, rig: str = RIG) -> LoadedRig:
    return loads(f"{rig}[material.mine]\ndiffuse_transmittance = 0.3\n{text}\n", file="hedge.toml")


def mine(text: str, *, rig: str = RIG) -> Sheet:
    return material(rig_with(text, rig=rig), "mine")


def refused(text: str, *, rig: str = RIG) -> str:
    with pytest.raises(RigError) as caught:
        rig_with(text, rig=rig)
    return str(caught.value)


# --- read


def test_both_are_left_out_or_plain_or_tables() -> None:
    assert (mine("").thickness, mine("").grammage, mine("").body) == (None, None, {})
    assert (mine("").specific_heat, mine("").softens) == (None, None)
    plain = mine("thickness = 0.3\ngrammage = 250")
    assert (plain.thickness, plain.grammage, plain.body) == (0.3, 250, {})
    loaded = rig_with(
        'thickness = { value = 0.3, low = 0.28, high = 0.33, known = "measured", source = "calipers" }\n'
        '[material.mine.grammage]\nvalue = 250\nsource = "pack"'
    )
    sheet = material(loaded, "mine")
    assert (sheet.thickness, sheet.grammage) == (0.3, 250)
    assert (sheet.body["thickness"].low, sheet.body["thickness"].high) == ((0.28, 0.28), (0.33, 0.33))
    assert (sheet.body["thickness"].known, sheet.body["grammage"].low) == ("measured", None)
    assert loaded.sources == {"material.mine.thickness": "calipers", "material.mine.grammage": "pack"}
    assert Sheet.model_validate(data_of(sheet)) == sheet


def test_a_file_in_inches_states_the_thickness_in_inches_and_the_grammage_as_ever() -> None:
    sheet = mine("thickness = { value = 0.012, low = 0.01, high = 0.02 }\ngrammage = 250", rig=IN_INCHES)
    assert sheet.thickness == pytest.approx(0.3048, abs=1e-12)
    assert sheet.body["thickness"].low == pytest.approx((0.254, 0.254), abs=1e-12)
    assert sheet.body["thickness"].high == pytest.approx((0.508, 0.508), abs=1e-12)
    assert sheet.grammage == 250
    assert mine("thickness = 0.012", rig=IN_INCHES).thickness == pytest.approx(0.3048, abs=1e-12)
    thick, heavy = (look(("material", "mine", key), rig_with("").data).field for key in ("thickness", "grammage"))
    assert is_length(thick)
    assert not is_length(heavy)


def test_a_material_of_the_library_copied_into_a_rig_in_inches_keeps_its_thickness() -> None:
    ready, data = library_materials()["white card"], loads(IN_INCHES).data
    assert find(data, "material.white card.thickness")[1] == pytest.approx(0.3 / 25.4)  # the library's 0.30 mm
    copied = load_data(with_value(data, "material.white card.diffuse_reflectance", 0.8)).rig.material["white card"]
    assert copied.thickness == pytest.approx(ready.thickness, abs=1e-12)
    assert copied.body["thickness"].low == pytest.approx(ready.body["thickness"].low, abs=1e-12)
    assert copied.body["thickness"].high == pytest.approx(ready.body["thickness"].high, abs=1e-12)
    assert (copied.grammage, copied.body["grammage"]) == (ready.grammage, ready.body["grammage"])
    changed = load_data(with_value(data, "material.white card.thickness", 0.02)).rig.material["white card"]
    assert changed.thickness == pytest.approx(0.508, abs=1e-12)
    assert "thickness" not in changed.body


def test_specific_heat_and_limit_are_plain_or_tables_and_the_same_in_inches() -> None:
    text = (
        'specific_heat = 1340\nsoftens = { value = 218, low = 150, high = 246, known = "published", source = "table" }'
    )
    for rig in (RIG, IN_INCHES):
        sheet = mine(text, rig=rig)
        assert (sheet.specific_heat, sheet.softens) == (1340, 218)
        assert (sheet.body["softens"].low, sheet.body["softens"].high) == ((150, 150), (246, 246))
        assert set(sheet.origins) == set()
        assert Sheet.model_validate(data_of(sheet)) == sheet
    loaded = rig_with(text)
    assert loaded.sources == {"material.mine.softens": "table"}
    assert not any(
        is_length(look(("material", "mine", key), loaded.data).field) for key in ("specific_heat", "softens")
    )


# --- refused


@pytest.mark.parametrize(
    "text, parts",
    [
        ("thickness = -0.3", ["thickness = -0.3", "too small", "from 0.005 mm to 100 mm", "Try 0.3."]),
        ("thickness = 0", ["too small", "from 0.005 mm to 100 mm"]),
        ("thickness = 300", ["too large", "from 0.005 mm to 100 mm", "Try 100."]),
        ('thickness = "0.3 mm"', ["must be a number", "Try 0.3 without quotes; lengths are in mm in this file"]),
        ('thickness = "thin"', ["must be a number", "Try a number without quotes"]),
        ("thickness = [0.3, 0.3]", ["must be a number", "Try one number alone"]),
        ("thickness = nan", ["not a number that one could measure", "Try what calipers say"]),
        ("thickness = { value = 0.3, low = 0.001, high = 1 }", ["low = 0.001", "from 0.005 to 100", "Try 0.005."]),
        ("thickness = { value = 0.3, low = 0.4, high = 0.5 }", ["value = 0.3 does not lie between"]),
        ("thickness = { vaule = 0.3 }", ['thickness: the key "vaule"', 'Try "value"']),
        ("grammage = -80", ["grammage = -80", "too small", "g/m2, from 1 to 50000", "Try 80."]),
        ("grammage = 60000", ["too large", "from 1 to 50000", "Try 50000."]),
        ('grammage = "80"', ["must be a number", "Try 80 without quotes"]),
        ("specific_heat = 1.34", ["specific_heat = 1.34", "in kJ/(kg K)?", "J/(kg K), from 100 to 5000", "Try 1340."]),
        ("specific_heat = { value = 1.34 }", ["specific_heat", "in kJ/(kg K)?", "Try 1340."]),
        ("specific_heat = 50", ["specific_heat = 50", "too small", "J/(kg K), from 100 to 5000"]),
        ('specific_heat = "1340"', ["must be a number", "Try 1340 without quotes"]),
        ("specific_heat = { value = 1340, low = 10, high = 2000 }", ["low = 10", "from 100 to 5000", "Try 100."]),
        ("softens = 20", ["softens = 20", "too small", "degrees C, from 30 to 2000"]),
        ("softens = 3000", ["too large", "from 30 to 2000"]),
        ("softens = { value = 100, low = 110, high = 120 }", ["value = 100 does not lie between"]),
        ("body = 3", ['the key "body" is not known', "thickness, grammage"]),
    ],
)
def test_what_no_sheet_has_is_told(text: str, parts: list[str]) -> None:
    message = refused(text)
    assert message.startswith('hedge.toml: material "mine"')
    assert [part for part in parts if part not in message] == [], message


def test_what_is_out_of_range_in_inches_is_told_with_numbers_that_will_do() -> None:
    message = refused("thickness = 5", rig=IN_INCHES)
    assert "too large" in message
    assert 'Try 3.935; is the file in mm? Then unit = "mm".' in message
    # 100 mm are 3.937 inches, and 0.005 mm are 0.00019685: what is offered lies within.
    assert mine("thickness = 3.935", rig=IN_INCHES).thickness == pytest.approx(99.949)
    message = refused("thickness = { value = 0.012, low = 0.00001, high = 0.02 }", rig=IN_INCHES)
    assert "low = 1e-05: this is out of range. Allowed: from 0.0001969 to 3.935. Try 0.0001969." in message
    assert mine("thickness = 0.0001969", rig=IN_INCHES).thickness == pytest.approx(0.00500126)


def test_check_asks_about_a_thickness_that_looks_like_mm_in_a_file_in_inches(tmp_path: Path) -> None:
    # 0.3 inch are 7.62 mm; 0.3 mm are 0.0118 inch.
    (told,) = odd_body(mine("thickness = 0.3", rig=IN_INCHES), inches=True)
    assert told == "thickness = 0.3 inch is 7.62 mm, which is foam or board; if 0.3 was mm, write 0.0118"
    assert odd_body(mine("thickness = 0.012", rig=IN_INCHES), inches=True) == []
    assert odd_body(mine("thickness = 7.62"), inches=False) == []
    path = tmp_path / "hedge.toml"
    path.write_text(f"{IN_INCHES}[material.mine]\ndiffuse_transmittance = 0.3\nthickness = 0.3\n", encoding="utf-8")
    said = " ".join(CliRunner().invoke(app, ["check", str(path)]).output.split())
    assert f'Note: material "mine": {told}.' in said


def test_a_density_that_no_sheet_has_is_asked_about() -> None:
    # 250 g/m2 over 0.012 mm, where inches were meant, is 20.8 g/cm3; 20 g/m2 over 20 mm is 0.001.
    (told,) = odd_body(mine("thickness = 0.012\ngrammage = 250"), inches=False)
    assert "21 g/cm3, more than lead" in told
    (told,) = odd_body(mine("thickness = 20\ngrammage = 20"), inches=False)
    assert "0.001 g/cm3, less than any foam" in told
    assert all(
        odd_body(sheet, inches=True) == [] for sheet in library_materials().values() if (sheet.thickness or 0) < 2.5
    )


# --- stacks


def test_sheets_in_contact_add_up() -> None:
    thin = Sheet(diffuse_transmittance=0.5, thickness=0.1, grammage=80)
    thick = Sheet.model_validate(
        {"diffuse_reflectance": 0.8, "thickness": {"value": 0.3, "low": 0.27, "high": 0.38}, "grammage": 250}
    )
    whole = stack([thin, thick, thin])
    assert (whole.thickness, whole.grammage) == (pytest.approx(0.5), 410)
    assert whole.body["thickness"].low == pytest.approx((0.47, 0.47))
    assert whole.body["thickness"].high == pytest.approx((0.58, 0.58))
    assert whole.body["thickness"].known == "derived"
    assert not whole.body["grammage"].has_range
    unknown = stack([thin, Sheet(diffuse_transmittance=0.5, grammage=80)])
    assert (unknown.thickness, unknown.grammage) == (None, 160)
    assert set(unknown.body) == {"grammage"}


def test_a_stack_has_the_mean_heat_by_mass_and_the_lowest_limit() -> None:
    # By hand: 80 g/m2 of 1340 and 20 g/m2 of 2300 J/(kg K) need (80 x 1340 + 20 x 2300) / 100 = 1532 J/(kg K).
    paper = Sheet(diffuse_transmittance=0.5, grammage=80, specific_heat=1340, softens=218)
    foam = Sheet.model_validate(
        {
            "diffuse_reflectance": 0.8,
            "grammage": 20,
            "specific_heat": {"value": 2300, "low": 1900, "high": 2500},
            "softens": {"value": 100, "low": 90, "high": 300},
        }
    )
    whole = stack([paper, foam])
    assert (whole.specific_heat, whole.softens) == (pytest.approx(1532, rel=1e-12), 100)
    assert whole.body["specific_heat"].low == pytest.approx((1452, 1452), rel=1e-12)
    assert whole.body["specific_heat"].high == pytest.approx((1572, 1572), rel=1e-12)
    assert (whole.body["softens"].low, whole.body["softens"].high) == ((90, 90), (218, 218))
    assert {whole.body[key].known for key in ("specific_heat", "softens")} == {"derived"}
    # Without the mass of each the mean is not known, and with one limit missing neither is the lowest.
    bare = stack([paper, Sheet(diffuse_transmittance=0.5, specific_heat=900)])
    assert (bare.specific_heat, bare.softens) == (None, None)


def test_a_stack_of_a_rig_sums_unless_it_says_what_calipers_said() -> None:
    layers = '[material.mine]\nlayers = ["copy paper", "white card"]\n'
    summed = material(loads(RIG + layers), "mine")
    assert (summed.thickness, summed.grammage) == (pytest.approx(0.4), 330)  # the library's 0.10 + 0.30, 80 + 250
    stated = material(loads(f"{RIG}{layers}thickness = 0.45\n"), "mine")
    assert (stated.thickness, stated.grammage) == (0.45, 330)
    assert set(stated.body) == {"grammage", "specific_heat", "softens"}
    assert (stated.specific_heat, stated.softens) == (1340, 218)  # paper and card are of one stuff
    assert stated.diffuse_reflectance == summed.diffuse_reflectance


def test_a_stack_thicker_than_any_sheet_is_told() -> None:
    board = "[material.board]\ndiffuse_reflectance = 0.8\nthickness = 60\n"
    loaded = loads(f'{RIG}{board}[material.mine]\nlayers = ["board", "board"]\n', file="hedge.toml")
    with pytest.raises(RigError, match=r'material "mine": layers = .*120 mm together.*at most 100 mm.*Try fewer'):
        material(loaded, "mine")


# --- light does not ask


def test_no_range_of_light_walks_them() -> None:
    sheet = library_materials()["white card"]
    assert sheet.body["thickness"].has_range
    assert not {each.key for each in ends_of(sheet)} & set(BODY)
    told = set(BODY)
    assert told == {"thickness", "grammage", "specific_heat", "softens"}
    assert not set(NUMBERS) & told
    assert told & set(sheet.origins) == set()
    loaded = rig_with("thickness = 0.3\ngrammage = 250\nspecific_heat = 1340\nsoftens = 218")
    plain = plain_numbers(placed(load_data(with_value(loaded.data, "diffuser.front.material", "mine"))))
    assert [(each.material, each.key) for each in plain] == [("mine", "diffuse_transmittance")]


def test_they_take_no_part_in_hashes_and_sums() -> None:
    bare, told = Sheet(diffuse_transmittance=1.0), Sheet(diffuse_transmittance=1.0, thickness=50, grammage=40_000)
    assert hash(bare) == hash(told)
    assert bare != told


# --- the library


def test_the_library_states_what_can_be_cut_and_no_density_is_impossible() -> None:
    # Airy foam has some 0.01 g/cm3, what is cut here is no heavier than aluminium (from memory).
    natural = {"barrel black", "leaf", "soil"}
    for name, sheet in library_materials().items():
        heavy = density(sheet)
        assert (heavy is None) == (name in natural), name
        assert all((getattr(sheet, key) is None) == (name in natural) for key in BODY), name
        assert heavy is None or 0.01 <= heavy <= 3, name
        for key in sheet.body:
            origin = sheet.body[key]
            assert origin.low[0] < getattr(sheet, key) < origin.high[0], f"{name}.{key}"


@pytest.mark.parametrize(
    "name, handbook, share",
    [  # g/cm3, handbook values from memory
        ("smooth foil", 2.70, 0.05),
        ("crumpled foil", 2.70, 0.05),
        ("opal acrylic", 1.19, 0.03),
        ("frosted polyester", 1.39, 0.03),
        ("milk-bottle plastic", 0.95, 0.03),
        ("tracing paper", 1.2, 0.05),
    ],
)
def test_densities_of_solid_sheets_are_those_of_handbooks(name: str, handbook: float, share: float) -> None:
    assert density(library_materials()[name]) == pytest.approx(handbook, rel=share)


@pytest.mark.parametrize(
    "name, melts",
    [  # degrees C: University of Southern Mississippi polymer pages, after Hilado, Flammability Handbook for Plastics
        ("packing foam", 135),  # polyethylene
        ("milk-bottle plastic", 135),
        ("frosted polyester", 268),
        ("white nylon", 268),  # nylon 6,6
        ("PTFE film", 335),
        ("white cotton", 264),  # cellulose, upper end of flash ignition
        ("copy paper", 246),  # self-ignition of paper, upper end, quoted second-hand
        ("opal acrylic", 110),  # Vicat softening, upper end, from memory
        ("smooth foil", 660.4),  # aluminium melts at 660.3: fixed point of the scale ITS-90
    ],
)
def test_no_sheet_is_said_to_bear_more_than_it_melts_at(name: str, melts: float) -> None:
    sheet = library_materials()[name]
    assert sheet.softens <= melts
    assert sheet.body["softens"].high[0] <= melts


def test_specific_heats_are_those_of_a_handbook() -> None:
    # Mechanical Engineer's Data Handbook, specific heat capacity of solids: aluminium 0.897 kJ/(kg K).
    for name in ("smooth foil", "crumpled foil"):
        assert library_materials()[name].specific_heat == 897
    # Cellulose 1340 J/(kg K), from memory: with it the worked example of a warming sheet was reckoned (test_heat.py).
    assert library_materials()["copy paper"].specific_heat == 1340


def test_a_lined_card_is_thicker_and_heavier_than_its_two_sheets() -> None:
    # Glue comes on top: 0.01 to 0.05 mm and 8 to 30 g/m2, assumed there.
    lined, card, foil = (library_materials()[name] for name in ("foil-lined card", "white card", "smooth foil"))
    assert 0.01 <= lined.thickness - card.thickness - foil.thickness <= 0.05
    assert 8 <= lined.grammage - card.grammage - foil.grammage <= 30


def test_the_weight_in_a_name_is_the_grammage() -> None:
    for name, stated in (("copy paper", 80), ("heavy copy paper", 120), ("white card", 250), ("coated card", 250)):
        sheet = library_materials()[name]
        assert f"{stated} g/m2" in sheet.about
        assert sheet.grammage == stated
    for name, mm in (("thin packing foam", 1), ("packing foam", 2), ("thick packing foam", 3), ("opal acrylic", 3)):
        assert f"{mm} mm" in library_materials()[name].about
        assert library_materials()[name].thickness == mm


# --- commands


def run(*words: str) -> Any:
    return CliRunner().invoke(app, list(words), env={"COLUMNS": "80"})


def test_materials_show_them_in_a_line_of_their_own_and_in_json() -> None:
    said = " ".join(run("materials", "white card").stdout.split())
    assert (
        "The sheet itself: thickness 0.3 mm (0.27 to 0.38), from memory; grammage 250 g/m2 (240 to 260), assumed; "
        "specific_heat 1340 J/(kg K) (1150 to 1500), from memory; softens 218 degrees C (150 to 246), published; "
        "density 0.833 g/cm3 with the air in it." in said
    )
    assert "The sheet itself" not in run("materials", "leaf").stdout
    (card,) = json.loads(run("materials", "white card", "--json", "-").stdout)["materials"]
    assert (card["thickness"]["value"], card["thickness"]["unit"]) == (0.3, "mm")
    assert (card["grammage"]["low"], card["grammage"]["high"], card["grammage"]["unit"]) == (240, 260, "g/m2")
    assert card["grammage"]["known"] == "assumed"
    assert (card["specific_heat"]["value"], card["specific_heat"]["unit"]) == (1340, "J/(kg K)")
    assert (card["softens"]["value"], card["softens"]["unit"]) == (218, "degrees C")
    assert not {number["key"] for number in card["numbers"]} & set(BODY)
    (leaf,) = json.loads(run("materials", "leaf", "--json", "-").stdout)["materials"]
    assert [leaf[key] for key in BODY] == [None] * 4


def test_a_measured_sheet_keeps_its_heat_in_the_file() -> None:
    sheet = library_materials()["packing foam"]
    for unit in ("mm", "inch"):
        table = tomllib.loads(material_text("mine", sheet, unit=unit))["material"]["mine"]
        assert (table["specific_heat"]["value"], table["softens"]["value"]) == (2300, 100)


def test_what_a_pack_says_is_stated() -> None:
    assert paper_pack(opacity=0.91, grammage=80).sheet.grammage == 80
    assert paper_pack(opacity=0.91, grammage=80, wanted_grammage=120).sheet.grammage == 120
    assert foam_pack(transmittance=0.55, thickness=2).sheet.thickness == 2
    assert foam_pack(transmittance=0.55, thickness=2, wanted_thickness=3).sheet.thickness == 3
    sheet = foam_pack(transmittance=0.55, thickness=2).sheet
    for unit, stated in (("mm", 2), ("inch", 0.07874)):  # 2 / 25.4 to five digits
        table = tomllib.loads(material_text("mine", sheet, unit=unit))["material"]["mine"]
        assert table["thickness"] == {"value": stated, "known": "published", "source": "as given from its pack"}


def test_a_measured_foam_goes_into_a_rig_in_inches(tmp_path: Path) -> None:
    path = tmp_path / "hedge.toml"
    path.write_text(IN_INCHES, encoding="utf-8")
    add_material("my foam", foam_pack(transmittance=0.55, thickness=2).sheet, path)
    assert material(loads(path.read_text(encoding="utf-8")), "my foam").thickness == pytest.approx(2, rel=1e-4)
