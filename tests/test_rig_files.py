"""Rig files: what is read is what was written; whatever else stands in them ends in one clear paragraph.

There is no outside source for most of this: the allowed ranges are decisions of the rig model, and the checks hold the
program to its own descriptions. Where a number comes from elsewhere, its source stands beside it.
"""

from __future__ import annotations

import copy
import os
import time
import tomllib
from collections import Counter
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from lightsim.rig import library
from lightsim.rig.errors import RigError
from lightsim.rig.files import write_safely
from lightsim.rig.keys import find, number_keys, with_value
from lightsim.rig.library import design_path, designs, library_materials, new_file
from lightsim.rig.load import LoadedRig, load, load_data, loads, placed
from lightsim.rig.models import Rig
from lightsim.sheet import Sheet

BASE = """\
title = "White box"
about = "Invented: a village natural-history group photographs froghoppers along a hedge."

[camera]
sensor = [36, 24]
pixels = [6000, 4000]
magnification = [1, 2]

[lens]
working_distance = { value = [150, 110], source = "ruler" }
diameter = 62
length = 120

[[head]]
name = "flash"
from = "shoe"
up = 60
toward_subject = 40
tilt = 15
window = [60, 40]
beam = { cos_power = 5 }
guide_number = 40

[[diffuser]]
name = "front"
shape = "sheet"
width = { value = 140, source = "ruler" }
height = 100
corner_radius = 5
holes = [{ kind = "round", diameter = 66 }, { kind = "rectangle", width = 5, height = 4, right = 60 }]
slits = [{ start = [0, 0], end = [0, 60], gap = 0.5 }]
material = "thin paper"
from = "lens"
toward_subject = 10

[[diffuser]]
name = "box"
shape = "box"
back = [80, 60]
front = [140, 100]
depth = 90
open = ["front"]
holes = [{ kind = "round", wall = "back", diameter = 62 }]
material = "white card"
from = "front"
toward_lens = 90

[[diffuser]]
name = "arc"
shape = "curved sheet"
width = 120
length = 150
angle = 90
material = "tracing paper"
from = "flash"
toward_subject = 30
hold = "top"

[[surroundings]]
name = "leaf"
shape = "disc"
diameter = 60
material = "leaf"
from = "subject"
toward_subject = 2

[[surroundings]]
name = "collar"
shape = "cone"
near_diameter = 60
far_diameter = 120
depth = 40
sweep = 180
material = "foil-lined card"
from = "lens"

[[surroundings]]
name = "dome"
shape = "dome"
diameter = 80
depth = 30
crown_hole = 10
material = "PTFE film"
from = "flash"
aim = "subject"

[[surroundings]]
name = "funnel"
shape = "funnel"
near = [60, 40]
far = [100, 80]
depth = 50
material = "grey card"
from = "shoe"

[subject]
background = [50, 150]
[subject.ball]
radius = 1.5
[limits]
most_stops = 4
[material."thin paper"]
diffuse_transmittance = { value = 0.2, source = "meter" }
diffuse_reflectance = [0.7, 0.65]
[material."milky film"]
forward_transmittance = { value = 0.5, low = 0.4, high = 0.6, known = "measured", source = "spot" }
half_value_angle = { value = 20, low = 10, high = 30, known = "assumed" }
glossy_reflectance = { value = [0.04, 0.02], low = [0.03, 0], high = [0.05, 0.04] }
[material."taped paper"]
layers = ["thin paper", "copy paper"]
"""
FILE = "hedge.toml"


IN_INCHES = 'unit = "inch"\n' + BASE
for _mm, _inch in (
    ("150, 110", "6, 4.5"),
    ("r = 62\n", "r = 2.5\n"),
    ("= 120\n\n", "= 5\n\n"),
    ("up = 60", "up = 2"),
    ("90\nopen", "3.5\nopen"),
):
    assert _mm in IN_INCHES
    IN_INCHES = IN_INCHES.replace(_mm, _inch)


def refused(text: str) -> str:
    """The paragraph with which a text is refused."""
    with pytest.raises(RigError) as caught:
        placed(loads(text, file=FILE))
    message = checked(str(caught.value))
    assert not any(hidden in message for hidden in (".place", "shape.", "constrained"))  # what only the models have
    return message


def checked(message: str, file: str = FILE) -> str:
    assert message.isprintable()
    assert len(message) < 1500
    assert file in message
    assert "Allowed" in message
    assert "Try " in message
    return message


def changed(before: str, after: str) -> str:
    assert before in BASE
    return BASE.replace(before, after, 1)


# --- what is read


def test_a_rig_is_read_as_it_is_written() -> None:
    loaded = loads(BASE, file=FILE)
    assert loaded.file == FILE
    assert loaded.rig.camera.sensor == (36.0, 24.0)
    assert loaded.rig.lens.working_distance == (150.0, 110.0)
    assert [part.name for part in loaded.rig.diffuser] == ["front", "box", "arc"]
    assert loaded.rig.material["thin paper"].reflectance_by_side == (0.7, 0.65)
    assert loads(BASE.replace("\n", "\r\n")).rig == loaded.rig
    assert loads("\ufeff" + BASE).rig == loaded.rig


def test_data_once_read_are_read_again_to_the_same_rig() -> None:
    for text in (BASE, IN_INCHES):
        loaded = loads(text)
        again = load_data(loaded.data, sources=loaded.sources)
        assert again.rig == loaded.rig
        assert again.sources == loaded.sources


def test_inches_become_millimetres_everywhere() -> None:
    rig = loads(IN_INCHES).rig
    # 25.4 mm to the inch, exact by definition (international yard and pound agreement, 1959).
    assert rig.lens.working_distance == pytest.approx((152.4, 114.3), abs=1e-12)
    assert rig.diffuser[1].shape.depth == pytest.approx(88.9, abs=1e-12)  # type: ignore[union-attr]
    assert rig.head[0].place.up == pytest.approx(50.8, abs=1e-12)
    assert rig.subject.ball.radius == pytest.approx(38.1, abs=1e-12)
    assert rig.camera.shoe_up == 55.0  # left out: the model's own, in mm
    assert rig.head[0].place.tilt == 15.0
    assert rig.camera.magnification == (1.0, 2.0)


def test_sources_are_kept_by_key() -> None:
    text = changed("most_stops = 4", 'most_stops = { value = 4, source = "as we like it" }')
    text = text.replace("[0.7, 0.65]", '[{ value = 0.7, source = "front" }, 0.65]')
    loaded = loads(text)
    assert loaded.sources == {
        "lens.working_distance": "ruler",
        "diffuser.front.width": "ruler",
        "limits.most_stops": "as we like it",
        "material.thin paper.diffuse_transmittance": "meter",
        "material.thin paper.diffuse_reflectance[1]": "front",
        "material.milky film.forward_transmittance": "spot",
    }
    assert loaded.rig.limits.most_stops == 4.0


def test_one_number_stands_for_a_list_of_one() -> None:
    text = changed("magnification = [1, 2]", "magnification = 1").replace("[150, 110]", "150")
    assert loads(text).rig.lens.working_distance == (150.0,)


def test_both_magnifications_are_placed_with_the_parts_that_hang_on_the_lens() -> None:
    loaded = loads(changed('aim = "subject"', ""))  # an aimed part would turn as well
    first, second = placed(loaded), placed(loaded, 1)
    shift = [
        part.mesh.vertices[:, 2].mean() - other.mesh.vertices[:, 2].mean()
        for part, other in zip(first.parts, second.parts, strict=True)
    ]
    names = [part.name for part in first.parts]
    # From 150 mm to 110 mm everything moves by 40 mm but what is placed from the subject.
    assert {name: round(s, 9) for name, s in zip(names, shift, strict=True)} == {
        name: 0.0 if name == "leaf" else 40.0 for name in names
    }
    with pytest.raises(IndexError):
        placed(loaded, 2)


def test_a_head_is_held_like_a_part() -> None:
    loaded = loads(changed("tilt = 15", 'hold = "top"'))
    # The window is 40 mm high: held at its top edge its middle lies 20 mm lower. Shoe at 55 mm, 60 mm above it.
    assert placed(loaded).heads[0].centre[1] == pytest.approx(55 + 60 - 20, abs=1e-9)


# --- keys


@pytest.mark.parametrize(
    "key, value",
    [
        ("lens.working_distance[2]", 110),
        ("lens.working_distance.1", 150),
        ("diffuser.front.width", 140),
        ("diffuser.2.depth", 90),
        ("head.flash.up", 60),
        ("head.flash.turn", 0.0),  # left out in the file, known to the models
        ("lens.f_number", 8.0),
        ("camera.body[2]", 95.0),
        ("subject.hair.diameter", 0.05),
        ("diffuser.front.holes[1].right", 0.0),
        ("material.thin paper.diffuse_reflectance[2]", 0.65),
        ("material.copy paper.diffuse_transmittance", 0.16),  # of the library
        ("material.thin paper.diffuse_transmittance", 0.2),  # a table in the file
        ("material.milky film.half_value_angle", 20),
        ("material.milky film.glossy_reflectance[2]", 0.02),
        ("material.foil-lined card.metallic_reflectance[1]", 0.86),  # a table of the library
        ("material.thin paper.pores", 0.0),
        ("material.taped paper.layers[1]", "thin paper"),
        ("head.flash.beam.cos_power", 5),
    ],
)
def test_a_key_finds_its_value_and_sets_it(key: str, value: float | str) -> None:
    data = loads(BASE).data
    before = copy.deepcopy(data)
    assert find(data, key)[1] == value
    after = with_value(data, key, 0.25)
    assert data == before
    assert find(after, key)[1] == 0.25


def test_a_changed_number_reaches_the_rig() -> None:
    data = loads(BASE).data
    assert load_data(with_value(data, "diffuser.front.width", 150.0)).rig.diffuser[0].shape.width == 150.0  # type: ignore[union-attr]
    paper = load_data(with_value(data, "material.copy paper.diffuse_transmittance", 0.2)).rig.material["copy paper"]
    # What is set is exact, what is not keeps its range.
    ready = library_materials()["copy paper"]
    origins = {"diffuse_reflectance": ready.origins["diffuse_reflectance"]}
    assert origins["diffuse_reflectance"].has_range
    assert paper == ready.model_copy(update={"diffuse_transmittance": 0.2, "origins": origins})
    assert load_data(with_value(data, "limits.least_angle", 20.0)).rig.limits.least_angle == 20.0
    one = loads(changed("[1, 2]", "[1]").replace("[150, 110]", "[150]")).data
    assert find(one, "lens.working_distance")[1] == 150
    assert load_data(with_value(one, "lens.working_distance", 99.0)).rig.lens.working_distance == (99.0,)


def test_values_left_out_are_in_the_unit_of_the_file() -> None:
    data = {**loads(BASE).data, "unit": "inch"}
    # 55 mm is 2.1654 inch, 95 mm are 3.7402 (division by 25.4).
    assert find(data, "camera.shoe_up")[1] == pytest.approx(2.1654, abs=5e-5)
    assert find(data, "camera.body[2]")[1] == pytest.approx(3.7402, abs=5e-5)
    assert find(data, "head.flash.iso")[1] == 100.0


def test_names_may_hold_points() -> None:
    data = loads(BASE.replace("thin paper", "thin paper 0.1 mm")).data
    assert find(data, "material.thin paper 0.1 mm.diffuse_transmittance")[1] == 0.2


@pytest.mark.parametrize(
    "key, near",
    [
        ("diffuser.frnt.width", "diffuser.front.width"),
        ("diffuser.front.heigt", "diffuser.front.height"),
        ("head.up", "head.flash.up"),
        ("lens.working_distance", "lens.working_distance[1]"),
        ("lens.working_distance[0]", "lens.working_distance"),
        ("lens.working_distance[3]", "lens.working_distance"),
        ("diffuser.front", "diffuser.front.width"),
        ("subject.hair", "subject.hair.diameter"),  # left out in the file, known to the models
        ("camera.body", "several values"),
        ("title.x", "title"),
        ("lens.", "lens"),
        ("", "title"),
        ("place", "title"),
        ("diffuser.front.place.up", "up"),
        ("material.thin paper.origins", '"straight"'),  # the models' own, no key of a file
        ("material.copy paper.origins", '"straight"'),
        ("material.milky film.half_value_angle.value", "nothing further"),
        ("x" * 5000, "title"),
        ("width", 'Try "diffuser.arc.width", "diffuser.front.width" or "'),
        ("diameter", 'Try "lens.diameter", "'),
        ("half_value_angle", 'Try "material.milky film.half_value_angle"'),
        ("film.half_value_angel", 'Try "material.milky film.half_value_angle"'),
        ("transmittance", '"material.leaf.diffuse_transmittance"'),  # leaf is of the library, a part is made of it
        ("roughness", '"material.PTFE film.roughness" or "material.foil-lined card.roughness"'),
        ("material.copy paper.diffuse_transmittence", 'Try "material.copy paper.diffuse_transmittance"'),
        ("metallic_reflectance", '"material.foil-lined card.metallic_reflectance[1]" or '),
    ],
)
def test_a_key_that_is_not_there_is_refused_with_the_nearest(key: str, near: str) -> None:
    data = loads(BASE).data
    with pytest.raises(RigError) as caught:
        with_value(data, key, 1.0)
    assert near in checked(str(caught.value), file=key[:50])


def test_keys_with_the_same_end_go_before_those_that_only_end_alike() -> None:
    with pytest.raises(RigError) as caught:
        find(loads(changed("[subject]\n", "[subject]\nedge_height = 1\n")).data, "height")
    message = str(caught.value)
    assert message.index('"diffuser.front.height"') < message.index('"subject.edge_height"')


def test_keys_of_layers_of_the_library_are_offered_too() -> None:
    text = BASE.replace('layers = ["thin paper", "copy paper"]', 'layers = ["thin paper", "frosted polyester"]')
    # "milky film" is the file's own.
    with pytest.raises(RigError) as caught:
        find(loads(text).data, "straight")
    assert 'Try "material.frosted polyester.straight"' in str(caught.value)
    with pytest.raises(RigError) as caught:
        find(loads(BASE).data, "straight")
    assert "frosted polyester" not in str(caught.value)


def test_the_keys_of_all_numbers_lead_to_numbers() -> None:
    data = loads(BASE).data
    keys = number_keys(data)
    assert len(keys) == len(_numbers(tomllib.loads(BASE)))
    assert all(isinstance(find(data, key)[1], int | float) for key in keys)
    assert "material.milky film.forward_transmittance" in keys
    assert not any(key.endswith((".value", ".low", ".high")) for key in keys)


def test_a_range_goes_with_the_number_that_is_set_and_stays_on_the_other_side() -> None:
    data = loads(BASE).data
    film = load_data(with_value(data, "material.milky film.forward_transmittance", 0.45)).rig.material["milky film"]
    assert film.forward_transmittance == 0.45
    assert set(film.origins) == {"half_value_angle", "glossy_reflectance"}
    film = load_data(with_value(data, "material.milky film.glossy_reflectance[2]", 0.01)).rig.material["milky film"]
    assert film.gloss_by_side == (0.04, 0.01)
    assert (film.origins["glossy_reflectance"].low, film.origins["glossy_reflectance"].high) == (
        (0.03, 0.01),
        (0.05, 0.01),
    )
    card = load_data(with_value(data, "material.foil-lined card.metallic_reflectance[1]", 0.8)).rig.material[
        "foil-lined card"
    ]
    assert card.metal_by_side == (0.8, 0.0)
    assert not card.origins["metallic_reflectance"].has_range or card.origins["metallic_reflectance"].low == (0.8, 0.0)
    with pytest.raises(RigError, match=r'no such key in "material\.milky film\.half_value_angle".*Try'):
        with_value(data, "material.milky film.half_value_angle.low", 5.0)


def _numbers(here: Any) -> list[int]:
    if isinstance(here, dict) and "value" in here:
        return _numbers(here["value"])
    if isinstance(here, dict | list):
        return [n for item in (here.values() if isinstance(here, dict) else here) for n in _numbers(item)]
    return [1] if isinstance(here, int | float) else []


# --- what is refused: key, given, allowed and remedy are all in the paragraph

REFUSED = [
    # before, after, and what the paragraph must hold
    ("width = { value = 140", "widht = { value = 140", ['diffuser "front"', '"widht"', "corner_radius", 'Try "width"']),
    ("diameter = 62\n", "diameter = -62\n", ["lens.diameter = -62", "from 0.1 mm to 1 m", "Try 62"]),
    ("diameter = 62\n", "diameter = 1e9\n", ["lens.diameter = 1000000000", "from 0.1 mm to 1 m", "Try "]),
    ("diameter = 62\n", "diameter = 0\n", ["lens.diameter = 0", "0.1 mm to 1 m", "Try the length that a ruler gives"]),
    ("diameter = 62\n", "diameter = 0.01\n", ["lens.diameter = 0.01", "from 0.1 mm to 1 m", "Try 0.1"]),
    ("[36, 24]", "[36 24]", ["line ", "unclosed array; a comma is missing", "Try a comma"]),
    ('"thin paper"\nfrom', '"thin paper\nfrom', ["line ", "the quote is not closed", "Try a quote at the end"]),
    ('"thin paper"\nfrom', "'thin paper\nfrom", ["line ", "the quote is not closed", "Try a quote at the end"]),
    ('"thin paper"\nfrom', "“thin paper”\nfrom", ["line ", "curly quotes", "Try straight quotes"]),
    ('"thin paper"\nfrom', '"thin paper”\nfrom', ["line ", "curly quotes", "Try straight quotes"]),
    ("diameter = 62\n", "diameter = .62\n", ["line ", "Try 0.62, with a 0 before the point"]),
    ("diameter = 62\n", "diameter = -.62  # ”\n", ["line ", "Try -0.62, with a 0"]),
    ("[1, 2]", '"1x"', ['camera.magnification = "1x"', "Try 1 without quotes and x"]),
    ('from = "front"', 'from = "camera"', ['from = "camera"', 'Try "shoe" or "lens"']),
    ("diameter = 62\n", "diameter = nan\n", ["lens.diameter = nan", "from 0.1 mm to 1 m", "plain number"]),
    ("diameter = 62\n", "diameter = -inf\n", ["lens.diameter = -inf", "from 0.1 mm to 1 m", "plain number"]),
    (
        "diameter = 62\n",
        "diameter = true\n",
        ["lens.diameter = true", "must be a number", "from 0.1 mm", "without quotes"],
    ),
    (
        "diameter = 62\n",
        'diameter = "62 mm"\n',
        ['lens.diameter = "62 mm"', "from 0.1 mm to 1 m", "Try 62 without quotes"],
    ),
    ("diameter = 62\n", f"diameter = {'9' * 400}\n", ["more than 18 digits", "from 0.1 mm to 1 m", "fewer digits"]),
    ("diameter = 62\n", f"diameter = {'9' * 5000}\n", ["line ", "too many digits"]),
    ("diameter = 62\n", "diameter = [62]\n", ["lens.diameter = [62]", "must be a number", "from 0.1 mm to 1 m"]),
    ("diameter = 62\n", "diameter = 1979-05-27\n", ["lens.diameter = 1979-05-27", "must be a number"]),
    ("diameter = 62\n", "", ["lens", '"diameter" is missing', "from 0.1 mm to 1 m", "diameter ="]),
    ("diameter = 62\n", "diameter = 62 mm\n", ["line 11, column", "diameter = 62 mm", "without its unit"]),
    ("diameter = 62\n", "diameter = 62,5\n", ["line 11, column", "diameter = 62,5", "a point for the decimals"]),
    ("diameter = 62\n", "diameter = 62\ndiameter = 62\n", ["line 12, column", "each key"]),
    (
        "value = 0.2,",
        "value = 16,",
        ['material "thin paper"', "diffuse_transmittance = 16", "0 to 1", "Try 0.16 if 16 was"],
    ),
    ("value = 0.2,", 'value = "16 %",', ['diffuse_transmittance = "16 %"', "0 to 1", "Try 0.16"]),
    (
        "value = 0.2,",
        "value = 0.5,",
        ['material "thin paper"', "1.200", "sum of at most 1", "lowering one of them by 0.200"],
    ),
    ("[0.7, 0.65]", "[70, 0.65]", ["diffuse_reflectance[1] = 70", "0 to 1", "Try 0.7 if 70 was"]),
    ("[0.7, 0.65]", "[0.7]", ["diffuse_reflectance = [0.7]", "too few", "[front, back]"]),
    ("[0.7, 0.65]", "false", ["diffuse_reflectance = false", "must be a number", "0 to 1"]),
    (
        "[0.7, 0.65]",
        "[{ value = 0.7, low = 0.6, high = 0.8 }, 0.65]",
        ["diffuse_reflectance[1]", '"low" is not known', "value, source", "Try one table for both sides"],
    ),
    (
        "low = 0.4",
        "lo = 0.4",
        ['material "milky film"', 'forward_transmittance: the key "lo"', "value, low, high, known", 'Try "low"'],
    ),
    (
        "low = 0.4",
        "low = 0.7",
        ["forward_transmittance: value = 0.5", "low = 0.7", "low <= value <= high", "wider range"],
    ),
    (
        "low = 0.4, high = 0.6",
        "low = 0.6, high = 0.4",
        ["forward_transmittance: value = 0.5", "Try swapping low and high"],
    ),
    ("low = 0.4, high = 0.6", "low = 40, high = 60", ["low = 40", "from 0 to 1", "Try 0.4 if it was a percentage"]),
    (
        "low = 0.4",
        'low = "0.4"',
        ['forward_transmittance: low = "0.4"', "must be a number", "from 0 to 1", "Try low = 0.5"],
    ),
    ("low = 0.4, ", "", ["forward_transmittance: high = 0.6 has no low", "both low and high", "Try low ="]),
    ("low = 0.4", "low = nan", ["forward_transmittance: low = nan", "from 0 to 1", "Try 0"]),
    ("value = 0.5, ", "", ["forward_transmittance", '"value" is missing', "value, low", "Try value ="]),
    ("value = 0.5", "value = 50", ["forward_transmittance = 50", "0 to 1", "Try 0.5 if 50 was a percentage"]),
    ("value = 0.5", 'value = "50 %"', ['forward_transmittance = "50 %"', "must be a number", "Try 0.5"]),
    ("value = 0.5", "value = { a = 1 }", ["forward_transmittance = a table", "must be a number", "0 to 1"]),
    ("value = 0.5", "value = [0.5, 0.4]", ["forward_transmittance = [0.5, 0.4]", "must be a number", "0 to 1"]),
    ('"measured"', '"guess"', ['forward_transmittance: known = "guess"', '"from memory"', 'Try "assumed"']),
    ('"measured"', '"mesured"', ['known = "mesured"', '"published"', 'Try "measured"']),
    ('"measured"', "1", ["forward_transmittance: known = 1", '"published"', 'Try "assumed"']),
    ('"spot"', "3", ["forward_transmittance: source = 3", "a text of at most 500", "Try source ="]),
    ('"spot"', f'"{"s" * 501}"', ["forward_transmittance: source = ", "a text of at most 500", "Try source ="]),
    ("value = 20", "value = 70", ["half_value_angle = 70", "too large", "from 0 to 60", "Try "]),
    ("value = 20", "value = true", ["half_value_angle = true", "must be a number", "from 0 to 60"]),
    ("low = 10", "low = -1", ["half_value_angle: low = -1", "from 0 to 60", "Try 0"]),
    ("low = 10", "low = [10, 5]", ["half_value_angle: low = [10, 5]", "must be a number", "from 0 to 60"]),
    ("value = [0.04, 0.02]", "value = [4, 0.02]", ["glossy_reflectance[1] = 4", "0 to 0.3", "Try 0.04 if 4 was"]),
    ("value = [0.04, 0.02]", "value = [0.04]", ["glossy_reflectance = [0.04]", "too few", "[front, back]"]),
    (
        "high = [0.05, 0.04]",
        "high = [0.05, 0.01]",
        ["glossy_reflectance: value = [0.04, 0.02]", "low <= value <= high"],
    ),
    (
        "glossy_reflectance",
        "glosy_reflectance",
        ['material "milky film"', '"glosy_reflectance"', 'Try "glossy_reflectance"'],
    ),
    ("half_value_angle = {", "# {", ['material "milky film"', "needs its width", "0 to 60", "Try half_value_angle ="]),
    ('"copy paper"]', '"coppy paper"]', ['material "taped paper": layers[2] = "coppy paper"', 'Try "copy paper"']),
    ('["thin paper", "c', '["taped paper", "c', ['"taped paper": layers', "circle", "materials with numbers", "Try "]),
    ('["thin paper", "copy paper"]', '["thin paper"]', ['material "taped paper"', "2 to 20 names", "Try layers ="]),
    ('["thin paper", "copy paper"]', '"thin paper"', ['"taped paper": layers = "thin', "list", "2 to 20", "Try ["]),
    (
        'layers = ["thin',
        'straight = 0.1\nlayers = ["thin',
        ['material "taped paper"', "no numbers beside them", "Try "],
    ),
    (
        "layers = ",
        "origins = {}\nlayers = ",
        ['material "taped paper"', '"origins" is not known', "straight", "Try low, high"],
    ),
    ("layers = ", "made_of = []\nlayers = ", ['material "taped paper"', '"made_of" is not known', "Try layers"]),
    (
        '[material."milky film"]',
        "[material.milky film]",
        ['the name "milky film" needs quotes', 'Try [material."milky'],
    ),
    (
        '[material."milky film"]',
        "[material.milky film.half_value_angle]",
        ['Try [material."milky film".half_value_angle]'],
    ),
    ('[material."milky film"]', "[material.0.1 mm film]", ['Try [material."0.1 mm film"]']),
    (
        '[material."milky film"]',
        '[material."thin paper"] # again',
        ['[material."thin paper"] stands twice', "Try one table"],
    ),
    ("[limits]", "[head]", ["line 100, column", "twice", "double brackets"]),  # the others are [[head]]
    (
        "value = 0.2,",
        "value = [0.2, 0.3],",
        ["diffuse_transmittance = [0.2, 0.3]", "must be a number", "Try one number, the same both ways"],
    ),
    ("value = 20", "value = [20, 30]", ["half_value_angle = [20, 30]", "must be a number", "Try one number alone"]),
    ("diameter = 62\n", "diameter = [62, 63]\n", ["lens.diameter = [62, 63]", "Try one number alone"]),
    ('shape = "sheet"', 'shape = "shet"', ['shape = "shet"', '"curved sheet"', 'Try "sheet"']),
    ('shape = "sheet"\n', "", ['diffuser "front"', '"shape" is missing', '"curved sheet"', "shape ="]),
    (
        'kind = "round", diameter = 66',
        'kind = "ronud", diameter = 66',
        ['holes[1].kind = "ronud"', '"rectangle"', 'Try "round"'],
    ),
    ('kind = "round", diameter = 66', "diameter = 66", ["holes[1]", '"kind" is missing', '"rectangle"', "kind ="]),
    ("diameter = 66", "diameter = 300", ['diffuser "front"', "leave 0 mm^2", "at least 1 mm^2", "smaller holes"]),
    ("right = 60", "right = 6e5", ['diffuser "front"', "holes[2].right = 600000", "within 10 m"]),
    (
        '"thin paper"\nfrom',
        '"thin papr"\nfrom',
        ['diffuser "front"', '"thin papr"', "lightsim materials", 'Try "thin paper"'],
    ),
    ('"white card"', '"gold"', ['diffuser "box"', 'material = "gold"', 'write your own [material."gold"]']),
    ('"white card"', "7", ['diffuser "box"', "material = 7", "must be a text", "in quotes"]),
    ('from = "front"', 'from = "frnt"', ['diffuser "box"', 'from = "frnt"', '"subject"', 'Try "front"']),
    ('from = "front"', 'from = "box"', ['from = "box"', "circle", 'Try from = "subject"']),
    ('from = "lens"\n', "", ['diffuser "front"', '"from" is missing', '"subject"', "from ="]),
    (
        "toward_lens = 90",
        "toward_lens = 90\ntoward_subject = 1",
        ['diffuser "box"', "both", "one of them", "leaving one out"],
    ),
    ("tilt = 15", 'tilt = 15\naim = "subject"', ['head "flash"', "aim", "leaving tilt and turn out"]),
    ("tilt = 15", "tilt = 400", ['head "flash": tilt = 400', "-360 to 360", "Try 360"]),
    ("tilt = 15", "place = {}", ["head 1".replace("1", '"flash"'), '"place"', "Try from"]),
    ('hold = "top"', 'hold = "back"', ["arc", 'hold = "back"', '"centre"', 'Try "centre"']),
    ('hold = "top"', 'hold = "tpo"', ['diffuser "arc": hold = "tpo"', '"centre"', 'Try "top"']),
    ("[[head]]", "[head]", ["head = a table", "[[head]]", "double brackets"]),
    ("[camera]", "[[camera]]", ["camera = ", "[camera]", "single brackets"]),
    ("[36, 24]", "[36]", ["camera.sensor = [36]", "from 0.1 mm to 10 m", "Try [36, 24]"]),
    ("[36, 24]", "36", ["camera.sensor = 36", "list", "Try [36, 24]"]),
    ("[36, 24]", "[36, 24, 1]", ["camera.sensor = [36, 24, 1]", "too many", "Try [36, 24]"]),
    ("[6000, 4000]", "[6000.5, 4000]", ["camera.pixels[1] = 6000.5", "whole number", "Try 6000"]),
    ("[6000, 4000]", '["6000", 4000]', ['camera.pixels[1] = "6000"', "whole numbers", "Try 6000 without quotes"]),
    ("[1, 2]", "[1, 2, 3]", ["lens.working_distance", "camera.magnification 3", "one working distance for each"]),
    ("[1, 2]", "[]", ["camera.magnification = []", "one to eight", "Try [1]"]),
    ("[1, 2]", "[1, 200]", ["camera.magnification[2] = 200", "0.01 to 20", "Try "]),
    ('title = "White box"', 'title = ""', ["title", "empty", "1 to 120"]),
    ('title = "White box"', "title = 3", ["title = 3", "must be a text", "in quotes"]),
    ('title = "White box"', 'title = "a"\nunit = "cm"', ['unit = "cm"', '"inch"', 'Try "mm"']),
    ('title = "White box"', 'title = "a"\ncamara = 1', ['"camara"', "surroundings", 'Try "camera"']),
    (
        "cos_power = 5",
        "angle = [0, 30], intensity = [1]",
        ['head "flash": beam', "2 numbers, intensity 1", "equally many"],
    ),
    (
        "cos_power = 5",
        "angle = [0, 30], intensity = [0, 1]",
        ['head "flash": beam', "above 0 on the axis", "intensity = [1"],
    ),
    ("{ cos_power = 5 }", "5", ['head "flash": beam = 5', "must be a table", "cos_power = 5"]),
    ("beam = { cos_power = 5 }\n", "", ['head "flash"', '"beam" is missing', "cos_power", "beam = {"]),
    ("guide_number = 40", "guide_number = 1e-300", ["guide_number = 1e-300", "0.1 to 1000", "Try 0.1"]),
    ('name = "box"', 'name = "front"', ['"front"', "twice", "a name of its own", 'Try "front 2"']),
    ('name = "box"', 'name = "lens"', ['"lens"', "a name of its own"]),
    ('name = "box"\n', "", ["diffuser 2", '"name" is missing', "name ="]),
    ('open = ["front"]', 'open = ["fron"]', ['diffuser "box": open[1] = "fron"', '"bottom"', 'Try "front"']),
    ('open = ["front"]', 'open = ["back"]', ['diffuser "box"', "back wall", "Try "]),
    ("background = [50, 150]", "background = [-3]", ["subject.background[1] = -3", "0.001 mm to 10 m", "Try 3"]),
    ("background = [50, 150]", "eye = [0, 0, 0]", ["eye points nowhere", "not all 0", "Try eye = [0, 0, 1]"]),
    ('"ruler" }\ndiameter', '"ruler", vaule = 3 }\ndiameter', ["lens.working_distance", '"vaule"', "value, source"]),
    ('"ruler" }\ndiameter', "3 }\ndiameter", ["lens.working_distance.source = 3", "a text", "Try source ="]),
    ("depth = 90", f"depth = {'[' * 50}1{']' * 50}", ["too deep", "8 levels"]),
    ("depth = 90", f"depth = {'[' * 5000}1{']' * 5000}", ["too deep", "8 levels"]),
    ("depth = 90", f"depth = {'{a=' * 5000}1{'}' * 5000}", ["too deep", "8 levels"]),
    ("depth = 90", f"{'a.' * 200_000}b = 90", ["too deep", "8 levels"]),
    ("depth = 90", '"a" . ' * 100_000 + "b = 90", ["too deep", "8 levels"]),
    ("depth = 90", f"depth = [{'1,' * 2000}]", ["depth", "2000 entries", "at most 1000"]),
    ("slits = [", f"slits = [{'{ start = [0, 0], end = [0, 60], gap = 0.5 },' * 200}", ["slits", "204", "at most 200"]),
    ("depth = 90", "depth = 90\x00", ["line", "depth = 90"]),
    ("depth = 90", "depth = 90\n\u2028\u200f", ["line"]),
]


@pytest.mark.parametrize("before, after, parts", REFUSED)
def test_a_fault_is_told_with_key_given_allowed_and_remedy(before: str, after: str, parts: list[str]) -> None:
    message = refused(changed(before, after))
    assert [part for part in parts if part not in message] == [], message


# What people call the numbers of a sheet, and what they are told to try: what passes a sheet of paper is no forward
# lobe, which would make a frosted film of it.
@pytest.mark.parametrize(
    "given_key, tried",
    [
        ("transmittance", '"diffuse_transmittance", for what passes evenly scattered'),
        ("Transmittance", '"diffuse_transmittance", for'),
        ("transmitance", '"diffuse_transmittance", for'),
        ("total_transmittance", '"diffuse_transmittance", for'),
        ("transmission", '"diffuse_transmittance", for'),
        ("reflectance", '"diffuse_reflectance", for what comes back evenly'),
        ("reflection", '"diffuse_reflectance", for'),
        ("gloss", '"glossy_reflectance", about 0.04'),
        ("metal", '"metallic_reflectance", for foil and metal'),
        ("specular_transmittance", '"straight", for what passes straight through'),
        ("haze", "lightsim measure film"),
        ("opacity", "lightsim measure paper"),
        ("caliper", '"thickness", in the unit of the file'),
        ("gsm", '"grammage", in g/m2'),
        ("thicknes", '"thickness", if you meant that'),
        ("absorption", "leaving it out: what no key names is absorbed"),
        ("diffuse", '"diffuse_transmittance" or "diffuse_reflectance"'),
        ("diffuse_transmission", '"diffuse_transmittance", if you meant that'),
        ("forward_transmission", '"forward_transmittance", if you meant that'),
        ("half_angle", '"half_value_angle", if you meant that'),
        ("rougness", '"roughness", if you meant that'),
        ("colour", "leaving it out; docs/materials.md"),
    ],
)
def test_a_key_that_people_call_otherwise_is_told_by_what_it_means(given_key: str, tried: str) -> None:
    message = refused(changed("glossy_reflectance", f"{given_key} = 0.1\nglossy_reflectance"))
    assert f'material "milky film": the key "{given_key}" is not known' in message
    assert message.partition("Try ")[2].startswith(tried), message
    assert not tried.startswith('"') or "docs/materials.md" in message or "if you meant that" in message


def test_an_unknown_material_names_few_others_and_the_command_that_lists_all() -> None:
    message = refused(changed('"thin paper"\nfrom', '"frosted film"\nfrom'))
    # The file's own goes before those of the library; two words tell more than one that five names share.
    assert message.endswith(
        'Allowed: "thin paper", "milky film", "taped paper" of this file, or the 31 of the library, all named by: '
        'lightsim materials. Try "milky film", "frosted polyester" or "PTFE film", or write your own '
        '[material."frosted film"].'
    )
    assert len(message) < 400
    many = "".join(f'[material."own {number}"]\n' for number in range(9))
    message = refused(changed('"white card"', '"gold"') + many)
    assert "and 9 more of this file" in message
    assert 'Try "thin paper", or write your own [material."gold"].' in message


# What a person meant by a value that a rig cannot use, and which line that is: derived here, from what cameras, flashes
# and data sheets show (1/200, 1/16, 50 %, 58 x 38 mm, f/8; common practice, no source).
UNDER = {"shot": "[limits]", "camera": "pixels", "lens": "diameter = 62", "head": "guide_number = 40"}
MEANT = [
    # table, line, and how what is to be tried begins
    ("shot", "shutter = 200", '"1/200".'),
    ("shot", 'shutter = "200"', '"1/200".'),
    ("shot", 'shutter = "1:125"', '"1/125".'),
    ("shot", "shutter = 0", '"1/200".'),
    ("shot", "shutter = -0.01", "0.01."),
    ("shot", "shutter = 1e300", '"1/200".'),
    ("shot", "shutter = 1/160", 'the fraction in quotes, "1/160".'),
    ("shot", "shutter = 1 / 160 s", 'the fraction in quotes, "1/160".'),
    ("shot", "power = 16", '"1/16".'),
    ("shot", 'power = "16"', '"1/16".'),
    ("shot", "power = 50", '"1/50", or "50%" if that was a percentage.'),
    ("shot", "power = 0", '"1/16".'),
    ("shot", 'power = "150%"', '"1/16".'),
    ("shot", "power = 1/16 + 1/3", 'the fraction in quotes, "1/16 + 1/3".'),
    ("shot", "iso = auto", 'a number, or a text in quotes, "auto".'),
    ("shot", 'iso = "ISO 400"', "400 without quotes and ISO."),
    ("shot", "iso = ISO 400", "400, the number alone."),
    ("shot", 'ambient = "2000 lx"', "2000 without quotes and unit."),
    ("shot", 'ambient = "10,000 lx"', "10000 without quotes and unit."),
    ("shot", "ambient = 10 000", "10000, or a point for the decimals."),
    ("shot", "sway_time = 0", "0.3."),
    ("shot", "frame_time = 700", "600."),  # no camera shows 1/700 here
    ("camera", "sync = 160", '"1/160".'),
    ("camera", 'sync = "160"', '"1/160".'),
    ("camera", "curtain = 250", '"1/250".'),
    ("camera", "sync = 1/160 # s", 'the fraction in quotes, "1/160".'),
    ("lens", "close_up = 4", "close_up = 250."),
    ("lens", "close_up = +4", "close_up = 250."),
    ("lens", 'close_up = "+4"', "close_up = 250."),
    ("lens", 'close_up = "2.5 dpt"', "close_up = 400."),
    ("lens", 'close_up = "200 mm"', "200 without quotes; lengths are in mm in this file."),
    ("lens", 'extension = "2 cm"', "20 without quotes; lengths are in mm in this file."),
    ("lens", 'f_number = "f/8"', "8 without quotes and f/."),
    ("lens", 'f_number = "1:2.8"', "2.8 without quotes."),
    ("lens", "f_number = f/8", "8, the number alone."),
    ("lens", "reversed = yes", "true, in small letters."),
    ("head", "power_least = 64", '"1/64".'),
    ("head", 'power_least = "64"', '"1/64".'),
    ("head", "power_step = 3", '"1/3".'),
    ("head", 'power_step = "0.3 EV"', "0.3 without quotes and unit."),
    ("head", "duration = 450", '"1/450".'),
    ("head", 'duration = "fast"', '"1/500".'),
    ("head", "duration = [1/450]", 'the fraction in quotes, "1/450".'),
    ("head", 'kelvin = "5600 K"', "5600 without quotes and unit."),
    ("head", "kelvin = 5600 K", "5600, the number without its unit."),
    ("head", 'flashes = "140 flashes"', "140 without quotes and unit."),
    ("head", 'energy = "75 Ws"', "75 without quotes and unit."),
    ("head", 'recycle = "3 minutes"', "3 without quotes and unit."),
    ("head", "zoom = 24 mm", 'quotes around the text, "24 mm".'),
    ("head", 'body = "58 x 38 x 70"', "[58, 38, 70]."),
    ("head", 'body = "5.8 x 3.8 x 7 cm"', "[58, 38, 70]; lengths are in mm in this file."),
    ("head", "body = 58 x 38 x 70 mm", "square brackets and a comma, [58, 38, 70]."),
    ("head", "body = 58", "[62, 42, 70]."),
]


@pytest.mark.parametrize("table, line, tried", MEANT)
def test_the_value_that_a_person_meant_is_to_be_tried(table: str, line: str, tried: str) -> None:
    before = UNDER[table]
    heading = f"[{table}]\n" if table == "shot" else ""
    message = refused(changed(before, f"{heading}{line}\n{before}"))
    assert message.partition("Try ")[2] == tried, message
    assert line.partition("=")[0].strip() in message


def test_two_times_are_mended_each_by_its_own() -> None:
    line = 'duration = { power = ["full", "1/2"], time = [450, 12000] }'
    message = refused(changed("guide_number = 40", f"guide_number = 40\n{line}"))
    first, second = message.split("(2) ")
    assert "duration.time[1] = 450" in first
    assert first.rstrip().endswith('Try "1/450".')
    assert "duration.time[2] = 12000" in second
    assert second.endswith('Try "1/12000".')


@pytest.mark.parametrize(
    "before, after, tried",
    [
        ("guide_number = 40", 'guide_number = "38 m"', "38 without quotes and unit."),
        ("guide_number = 40", 'guide_number = "131 ft"', '131 without quotes and unit, and guide_number_unit = "ft".'),
        ("window = [60, 40]", 'window = "58 x 38"', "[58, 38]."),
        ("window = [60, 40]", 'window = "58 x 38 mm"', "[58, 38]; lengths are in mm in this file."),
        ("window = [60, 40]", "window = 58 x 38", "square brackets and a comma, [58, 38]."),
        ("window = [60, 40]", 'window = "58 mm"', "[60, 40]."),
        ("[6000, 4000]", '"6000x4000"', "[6000, 4000]."),
        ("magnification = [1, 2]", 'magnification = "1:2"', "0.5 without quotes."),
        ("magnification = [1, 2]", "magnification = 2:1", "2, the number alone."),
        ("cos_power = 5", 'half_value_angle = "39 x 30"', "[39, 30]."),
        ("cos_power = 5", "coverage = [78, 60]", "half_value_angle = [39, 30], half of each full angle"),
        ("cos_power = 5", "beam_angle = 78", "half_value_angle = 39, half of each full angle"),
        ("cos_power = 5", 'coverage = "wide"', '"half_value_angle" in its beam, half of each full angle'),
        ("beam =", 'coverage = "78 x 60"\nbeam =', "beam = { half_value_angle = [39, 30] }, half of each full angle"),
    ],
)
def test_what_a_data_sheet_says_is_to_be_tried_in_the_words_of_the_file(before: str, after: str, tried: str) -> None:
    message = refused(changed(before, after))
    assert message.partition("Try ")[2].startswith(tried), message


# The inch is 25.4 mm, exact by definition: 4 dioptres are 250 mm, and 1000/25.4 = 39.37 inches over the dioptres.
def test_what_was_meant_is_told_in_the_unit_of_the_file() -> None:
    assert "diameter = 2.5\n" in IN_INCHES

    def tried(line: str) -> str:
        return refused(IN_INCHES.replace("diameter = 2.5\n", f"diameter = 2.5\n{line}\n", 1)).partition("Try ")[2]

    assert tried("close_up = 0.5") == "close_up = 78.74."  # 1000 / 0.5 / 25.4
    assert tried('close_up = "+4"') == "close_up = 9.843."
    assert tried('extension = "50.8 mm"') == "2 without quotes; lengths are in inch in this file."


def test_the_f_number_lies_within_the_range_of_the_lens() -> None:
    def with_lines(lines: str) -> str:
        return changed("diameter = 62\n", f"diameter = 62\n{lines}\n")

    assert loads(with_lines("f_number_range = [2.8, 22]")).rig.lens.f_number_range == (2.8, 22.0)
    message = refused(with_lines("f_number = 4\nf_number_range = [5.6, 22]"))
    assert "f_number is 4, and the lens has f/5.6 to f/22" in message
    assert message.endswith("Try f_number = 5.6.")
    assert refused(with_lines("f_number = 32\nf_number_range = [2.8, 22]")).endswith("Try f_number = 22.")
    assert refused(with_lines("f_number_range = [22, 2.8]")).endswith("Try f_number_range = [2.8, 22].")
    assert refused(with_lines("f_number_range = [8, 8]")).endswith("Try f_number_range = [2.8, 22].")


def test_the_lowest_iso_speed_of_a_camera_is_100_unless_stated() -> None:
    assert loads(BASE).rig.camera.base_iso == 100.0
    assert loads(changed("[camera]\n", "[camera]\nbase_iso = 64\n")).rig.camera.base_iso == 64.0
    assert "from 1 to 1000000. Try 1." in refused(changed("[camera]\n", "[camera]\nbase_iso = 0\n"))


OTHER_FILES = {
    '[material."my paper"]\ndiffuse_transmittance = 0.5\n': (
        'this file holds materials ("my paper"), no rig',
        'copying its table [material."my paper"], into a rig file (lightsim measure ... --into RIG does so)',
        'material = "my paper"',
    ),
    "[material.a]\n[material.b]\n[material.c]\n[material.d]\n": ('"c" and 1 more)', "the table that you want, such as"),
    'name = "mine"\nwindow = 0.8\nwhite = 0.3\nblack = { stops = 1.6, uncertainty = 0.1 }\n': (
        "these are readings of a sheet, no rig",
        "Try lightsim measure sheet --readings hedge.toml",
    ),
    'name = "mine"\nblack = 1\n': ("lightsim measure sheet --readings hedge.toml",),
    'name = "f"\nwall_distance = 1000\ncard = { value = 0.2, low = 0.1, high = 0.3 }\n[[zoom]]\nup = [[200, 1]]\n': (
        "these are readings of a flash, no rig",
        "Try lightsim measure flash --readings hedge.toml",
    ),
    '["35 mm"]\nbeam = { cos_power = 4 }\n["50 mm"]\nbeam = { cos_power = 5 }\n': ("beams of a flash", "[[head]]"),
}


@pytest.mark.parametrize("text", OTHER_FILES)
def test_files_of_lightsim_measure_are_told_as_what_they_are(text: str) -> None:
    message = refused(text)
    assert [part for part in OTHER_FILES[text] if part not in message] == [], message
    assert "not known" not in message
    assert "missing" not in message


def test_a_rig_that_is_begun_is_no_file_of_another_kind() -> None:
    assert 'the key "camera" is missing' in refused('title = "a"\n[material.mine]\ndiffuse_reflectance = 0.5\n')
    assert '"window" is not known' in refused('title = "a"\nwindow = 1\n')


# What is to be tried in place of a length out of range is allowed itself, in inches too.
@pytest.mark.parametrize(
    "before, after, key",
    [
        ("width = 120", "width = 0.001", "width = "),
        ("radius = 1.5", "radius = 0.00001", "radius = "),
        ("radius = 1.5", "radius = 40", "radius = "),
        ("length = 5\n", "length = 300\n", "length = "),
    ],
)
def test_what_is_to_be_tried_in_inches_is_allowed(before: str, after: str, key: str) -> None:
    assert before in IN_INCHES
    message = refused(IN_INCHES.replace(before, after, 1))
    tried = message.rpartition("Try ")[2].partition(";")[0].rstrip(".")
    loads(IN_INCHES.replace(before, f"{key}{tried}", 1))


def test_ten_metres_are_allowed_as_the_messages_say() -> None:
    assert loads(changed("[150, 110]", "[150, 10000]")).rig.lens.working_distance[1] == 10_000.0
    assert "to 10 m" in refused(changed("[150, 110]", "[150, 10000.1]"))


@pytest.mark.parametrize("before, after", [("radius = 1.5", "radius = 40"), ("length = 5\n", "length = 300\n")])
def test_lengths_too_large_for_inches_bring_up_the_unit(before: str, after: str) -> None:
    assert 'is the file in mm? Then unit = "mm".' in refused(IN_INCHES.replace(before, after, 1))
    assert "is the file in mm" not in refused(changed("diameter = 62\n", "diameter = 6200\n"))


def test_pixels_may_be_left_out() -> None:
    assert loads(changed("pixels = [6000, 4000]\n", "")).rig.camera.pixels == (6000, 4000)


def test_parts_chained_far_away_are_refused() -> None:
    text = BASE
    for name, anchor in (("front", "lens"), ("box", "front"), ("arc", "flash")):
        text = text.replace(f'from = "{anchor}"\ntoward', f'from = "{anchor}"\nup = 9000\ntoward', 1)
        assert f'name = "{name}"' in text
    text = text.replace('from = "flash"\nup', 'from = "box"\nup')
    assert "box" in refused(text)
    assert "10 m" in refused(text)


def test_too_many_triangles_are_refused_before_they_eat_the_memory() -> None:
    dome = '\n[[surroundings]]\nname = "d{}"\nshape = "dome"\ndiameter = 9990\ndepth = 4990\n'
    dome += 'material = "leaf"\nfrom = "lens"\n'
    message = refused(BASE.replace("[subject]", "".join(dome.format(n) for n in range(9)) + "[subject]"))
    assert "2,000,000" in message
    assert "d6" in message


def test_several_faults_are_told_in_the_order_of_the_file_and_counted() -> None:
    text = changed("depth = 90", "dept = 90").replace("diameter = 62\n", "diameter = -1\n").replace("6000,", "0.5,")
    message = refused(text.replace("guide_number = 40", "guide_number = 0").replace("most_stops = 4", "most_stop = 4"))
    order = [message.index(key) for key in ("camera.pixels[1]", "lens.diameter", "guide_number")]
    assert order == sorted(order)
    assert [message.index(f"({number}) ") for number in (1, 2, 3)] == sorted(
        message.index(f"({number}) ") for number in (1, 2, 3)
    )
    assert "There are 3 more faults." in message  # dept not known, depth missing, most_stop not known


def test_every_key_of_the_models_describes_itself() -> None:
    seen: set[type[BaseModel]] = set()
    bare: list[str] = []

    def walk(model: type[BaseModel]) -> None:
        if model not in seen:
            seen.add(model)
            for name, field in model.model_fields.items():
                if not (field.description or field.exclude):  # what a model works out itself is no key
                    bare.append(f"{model.__name__}.{name}")
                look(field.annotation)

    def look(annotation: Any) -> None:
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            walk(annotation)
        for inner in get_args(annotation):
            look(inner)

    walk(Rig)
    assert Sheet in seen
    assert len(seen) > 15
    assert bare == []


# --- files


def test_a_file_is_read_from_its_folder(tmp_path: Path) -> None:
    path = tmp_path / FILE
    path.write_text(BASE, encoding="utf-8")
    for given_path in (path, str(path)):
        loaded = load(given_path)
        assert loaded.folder == tmp_path
        assert loaded.file == str(path)
        assert loaded.rig == loads(BASE).rig


@pytest.mark.parametrize(
    "content, parts",
    [
        (b"", ["empty", "title", "lightsim new"]),
        (b" \n\n", ["empty"]),
        (b"\xff\xfe" + BASE.encode("utf-16-le"), ["UTF-8", "line 1"]),
        (BASE.encode().replace(b"hedge", b"h\xe9dge"), ["UTF-8", "line 2"]),
        (b"#" * 1_000_001, ["larger than 1 MB"]),
        (b"\x00" * 1000, ["line 1", "not TOML"]),
    ],
)
def test_files_that_are_no_rigs_are_refused(tmp_path: Path, content: bytes, parts: list[str]) -> None:
    path = tmp_path / FILE
    path.write_bytes(content)
    with pytest.raises(RigError) as caught:
        load(path)
    message = checked(str(caught.value))
    assert [part for part in parts if part not in message] == [], message


def test_a_missing_file_is_refused_with_names_like_it(tmp_path: Path) -> None:
    (tmp_path / FILE).write_text(BASE, encoding="utf-8")
    for name, part in (
        ("hegde.toml", f'Try "{FILE}"'),
        ("none/x.toml", "there is no folder"),
        ("a\x00b", "no such file"),
        ("quite-another.toml", "Try lightsim designs"),  # only the ending is alike
    ):
        with pytest.raises(RigError) as caught:
            load(tmp_path / name)
        assert part in checked(str(caught.value), file=tmp_path.name)
    with pytest.raises(RigError, match=r"this is a folder.*Try.*hedge"):
        load(tmp_path)


def test_a_file_that_may_not_be_read_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / FILE
    path.write_text(BASE, encoding="utf-8")

    def denied(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", denied)
    with pytest.raises(RigError) as caught:
        load(path)
    assert "Permission denied" in checked(str(caught.value))


def test_writing_leaves_existing_files_alone(tmp_path: Path) -> None:
    path = tmp_path / "out.txt"
    assert write_safely(path, "one\n") == path
    assert path.read_bytes() == b"one\n"
    with pytest.raises(RigError, match=r"out\.txt: this file exists already.*--replace"):
        write_safely(path, "two\n")
    assert path.read_bytes() == b"one\n"
    write_safely(path, b"\x00two", replace=True)
    assert path.read_bytes() == b"\x00two"
    assert os.listdir(tmp_path) == ["out.txt"]


@pytest.mark.parametrize("interruption", [KeyboardInterrupt, OSError(28, "No space left on device")])
@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_an_interrupted_write_leaves_the_old_file_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str, interruption: BaseException | type[BaseException]
) -> None:
    path = tmp_path / "out.txt"
    write_safely(path, "old")

    def stop(*_: object) -> None:
        raise interruption

    monkeypatch.setattr(os, step, stop)
    with pytest.raises((KeyboardInterrupt, RigError)):
        write_safely(path, "new" * 1000, replace=True)
    monkeypatch.undo()
    assert path.read_text() == "old"
    assert os.listdir(tmp_path) == ["out.txt"]


def test_a_name_taken_in_the_meantime_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "out.txt"
    sync = os.fsync

    def overtaken(descriptor: int) -> None:
        sync(descriptor)
        path.write_text("theirs")

    monkeypatch.setattr(os, "fsync", overtaken)
    with pytest.raises(RigError, match="exists already"):
        write_safely(path, "ours")
    assert path.read_text() == "theirs"
    assert os.listdir(tmp_path) == ["out.txt"]


def test_places_where_nothing_can_be_written_are_refused(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none" / "x", tmp_path / ("n" * 400), tmp_path / "a\x00b"):
        with pytest.raises(RigError) as caught:
            write_safely(path, "text")
        checked(str(caught.value), file=tmp_path.name if path == tmp_path or "none" in str(path) else "")
    assert os.listdir(tmp_path) == []


# --- library


@pytest.fixture
def ready(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of ready designs with one that needs a mesh."""
    folder = tmp_path / "shapes"
    folder.mkdir()
    (folder / "materials.toml").write_text((library.folder_of_designs() / "materials.toml").read_text())
    mesh = 'shape = "mesh"\nfile = "meshes/leaf.stl"\nunit = "mm"\n'
    (folder / "white-box.toml").write_text('# Copy this file with "lightsim new white-box".\n' + BASE)
    (folder / "leafy.toml").write_text(BASE.replace('shape = "disc"\ndiameter = 60\n', mesh))
    (folder / "meshes").mkdir()
    (folder / "meshes" / "leaf.stl").write_bytes(_stl())
    monkeypatch.setattr(library, "folder_of_designs", lambda: folder)
    return folder


def _stl() -> bytes:
    facet = np.zeros(2, np.dtype([("normal", "<3f4"), ("corner", "<9f4"), ("spare", "<u2")]))
    facet["corner"] = [[0, 0, 0, 0, 10, 0, 10, 0, 0], [10, 0, 0, 0, 10, 0, 10, 10, 0]]
    return b"\0" * 80 + (2).to_bytes(4, "little") + facet.tobytes()


def test_ready_designs_are_found_by_name(ready: Path) -> None:
    assert [(design.name, design.title) for design in designs()] == [("leafy", "White box"), ("white-box", "White box")]
    loaded = load("white-box")
    assert loaded.file == "white-box.toml"
    assert loaded.folder == ready
    assert loaded.rig == loads(BASE).rig
    with pytest.raises(RigError, match=r'"white-bok".*Allowed.*Try "white-box"'):
        design_path("white-bok")
    with pytest.raises(RigError, match=r'white-bok.*ready designs.*Try "white-box"'):
        load("white-bok")


def test_a_new_file_comes_with_its_comments_and_its_mesh(ready: Path, tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    mine.mkdir()
    assert new_file("white-box", mine / "box.toml") == (mine / "box.toml",)
    begun = "# box: a rig file for lightsim, begun from the ready design white-box.\n"
    assert (mine / "box.toml").read_text() == begun + BASE
    written = new_file("leafy", mine / "leafy.toml")
    assert written == (mine / "leafy.toml", mine / "meshes" / "leaf.stl")
    assert [part.name for part in placed(load(written[0])).parts].count("leaf") == 1
    with pytest.raises(RigError, match="exists already"):
        new_file("white-box", mine / "leafy.toml")
    (mine / "meshes" / "leaf.stl").write_bytes(b"mine")
    with pytest.raises(RigError, match=r"leaf\.stl: this file exists already"):
        new_file("leafy", mine / "other.toml")
    assert (mine / "meshes" / "leaf.stl").read_bytes() == b"mine"
    new_file("leafy", mine / "leafy.toml", replace=True)
    other = tmp_path / "other"
    other.mkdir()
    (other / "meshes").write_text("a file where the folder would be")
    with pytest.raises(RigError, match="meshes: this folder cannot be made"):
        new_file("leafy", other / "leafy.toml")
    assert (mine / "meshes" / "leaf.stl").read_bytes() == _stl()


def test_a_missing_mesh_is_told_with_its_key_its_folder_and_names_like_it(ready: Path) -> None:
    loaded = load(ready / "leafy.toml")
    (ready / "meshes" / "leaf.stl").rename(ready / "meshes" / "leaf2.stl")
    with pytest.raises(RigError) as caught:
        placed(loaded)
    message = checked(str(caught.value), file="leafy.toml")
    for part in ('surroundings "leaf": file = "meshes/leaf.stl"', str(ready / "meshes"), 'Try "leaf2.stl"'):
        assert part in message


def test_a_broken_mesh_is_told_with_the_file_of_the_rig(ready: Path) -> None:
    (ready / "meshes" / "leaf.stl").write_bytes(b"solid nothing")
    loaded = load(ready / "leafy.toml")
    with pytest.raises(RigError) as caught:
        placed(loaded)
    assert "leafy.toml" in str(caught.value)
    assert "leaf.stl" in str(caught.value)
    assert "Try " in str(caught.value)


# --- anything at all: 2,100 random and mutated files end in a placed rig or in one paragraph

SECONDS = 5.0  # for one file; most take a few milliseconds
OUTCOMES: Counter[str] = Counter()
EXTREMES = (
    "nan inf -inf 1e308 -1e308 1e-320 0 -0.0 0.1 -1 9999.9 10000 1e4 360 1e6 true false [] [1] {} [[1]] [nan] "
    "1979-05-27 "
    '0x1F 1_000 "" "text" "subject" "lens" "shoe" "front" "flash" "leaf" "sheet" "dome" "mesh" "\\u0000" "\\U0001F41B" '
    "1 2 5 10 20 30 45 60 75 90 100 0.5 0.3 "
    '{value=1} {value=nan,source=""} {value={value=1}} [{}] 07:32:00 [1,2] [1,2,3] ["a","b"] '
    "{value=0.3,low=0.2,high=0.4} {value=[0.1,0.2],low=0,high=[1,nan]} {value=0.1,low=0.2,high=0} {low=0.1} {value=[]} "
    '{value=0.2,known="guess"} {value=0.2,lo=0.1} ["copy_paper","leaf"] ["thin","leaf"] ' + "9" * 400
).split()
ODD_TEXT = st.text(max_size=20) | st.sampled_from(["[[head]]", "[lens]", "= ", '"""', "#", "\r", "\u2028", "a.b.c = 1"])
RUN = settings(deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))


def ends_well(read: Any) -> None:
    """A rig that can be placed without a NaN at every magnification, or a RigError of one paragraph, soon."""
    begin = time.perf_counter()
    try:
        loaded: LoadedRig = read()
        for index in range(len(loaded.rig.camera.magnification)):
            rig = placed(loaded, index)
            for mesh in (*(part.mesh for part in rig.parts), *(head.window.mesh for head in rig.heads)):
                assert np.isfinite(mesh.vertices).all()
                assert len(mesh.faces)
            assert np.isfinite([head.share for head in rig.heads]).all()
            assert sum(head.share for head in rig.heads) == pytest.approx(1)
        OUTCOMES["placed"] += 1
    except RigError as error:
        checked(str(error))
        OUTCOMES["refused"] += 1
    assert time.perf_counter() - begin < SECONDS


def _mutated(text: str, what: str, at: int, other: int, word: str) -> str:
    lines = text.splitlines()
    at, other = at % len(lines), other % len(lines)
    key, equals, _ = lines[at].partition("=")
    if what == "delete":
        del lines[at]
    elif what == "repeat":
        lines.insert(other, lines[at])
    elif what == "swap":
        lines[at], lines[other] = lines[other], lines[at]
    elif what == "value" and equals:
        lines[at] = f"{key}= {word}"
    elif what == "swap values" and equals:
        lines[at] = f"{key}={lines[other].partition('=')[2]}"
    elif what == "key":
        lines[at] = f'"{word}" = 1' if "=" not in word else word
    elif what == "inside":
        middle = other % (len(lines[at]) + 1)
        lines[at] = lines[at][:middle] + word + lines[at][middle:]
    return "\n".join(lines)


MUTATION = st.tuples(
    st.sampled_from(["delete", "repeat", "swap", "value", "value", "value", "swap values", "key", "inside"]),
    st.integers(0, 200),
    st.integers(0, 200),
    st.sampled_from(EXTREMES) | ODD_TEXT,
)


@settings(RUN, max_examples=900)
@given(st.lists(MUTATION, min_size=1, max_size=2))
def test_mutated_files_end_well(mutations: list[tuple[str, int, int, str]]) -> None:
    text = BASE
    for mutation in mutations:
        text = _mutated(text, *mutation)
    ends_well(lambda: loads(text, file=FILE))


@settings(RUN, max_examples=400)
@given(st.binary(max_size=60), st.integers(0, len(BASE)), st.integers(0, 30))
def test_files_with_foreign_bytes_end_well(
    tmp_path_factory: pytest.TempPathFactory, junk: bytes, at: int, gone: int
) -> None:
    path = tmp_path_factory.getbasetemp() / FILE
    content = BASE.encode()
    path.write_bytes(content[:at] + junk + content[at + gone :] if at % 5 else junk)
    ends_well(lambda: load(path))


VALUE = st.floats(0.1, 90) | st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from(["lens", "mesh", "box"]),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8) | st.just("value"), inner, max_size=4)
    ),
    max_leaves=6,
)
DATA = loads(BASE).data
DATA_IN_INCHES = loads(IN_INCHES).data


def _paths(here: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    items = here.items() if isinstance(here, dict) else enumerate(here) if isinstance(here, list) else ()
    return [path, *(found for key, value in items for found in _paths(value, (*path, key)))]


PATHS = _paths(DATA)[1:]


@settings(RUN, max_examples=400)
@given(st.lists(st.tuples(st.sampled_from(PATHS), VALUE, st.text(max_size=4)), min_size=1, max_size=2))
def test_data_with_foreign_values_end_well(changes: list[tuple[tuple[str | int, ...], Any, str]]) -> None:
    data = copy.deepcopy(dict(DATA))
    for path, value, name in changes:
        here: Any = data
        for key in path[:-1]:
            there = isinstance(here, dict) and key in here
            there = there or (isinstance(here, list) and isinstance(key, int) and key < len(here))
            here = here[key] if there else {}
        if isinstance(here, dict):
            here[name if len(name) == 3 else path[-1]] = value
        elif isinstance(here, list) and isinstance(path[-1], int) and path[-1] < len(here):
            here[path[-1]] = value
    ends_well(lambda: load_data(data, file=FILE))


SIZE = st.one_of(*[st.floats(1, 300)] * 12, st.floats(0.1, 9999), st.sampled_from([0.0, 0.1, 9999.0, 1e4]))
LENGTH = st.one_of(*[st.floats(-200, 200)] * 12, st.floats(-9999, 9999))
PAIR = st.lists(SIZE, min_size=2, max_size=2)
HOLES = st.lists(
    st.fixed_dictionaries({"kind": st.just("round"), "diameter": SIZE, "right": LENGTH, "up": LENGTH})
    | st.fixed_dictionaries(
        {"kind": st.just("rectangle"), "width": SIZE, "height": SIZE, "right": LENGTH, "up": LENGTH}
    ),
    max_size=4,
)
SLITS = st.lists(
    st.fixed_dictionaries(
        {
            "start": st.lists(LENGTH, min_size=2, max_size=2),
            "end": st.lists(LENGTH, min_size=2, max_size=2),
            "gap": SIZE,
        }
    ),
    max_size=3,
)
SHAPE = st.one_of(
    st.fixed_dictionaries(
        {"shape": st.just("sheet"), "width": SIZE, "height": SIZE}, optional={"holes": HOLES, "slits": SLITS}
    ),
    st.fixed_dictionaries({"shape": st.just("disc"), "diameter": SIZE}, optional={"holes": HOLES, "slits": SLITS}),
    st.fixed_dictionaries(
        {"shape": st.just("curved sheet"), "width": SIZE, "length": SIZE, "angle": st.floats(0.1, 359)},
        optional={"holes": HOLES, "slits": SLITS, "bend": st.sampled_from(["up-down", "left-right"])},
    ),
    st.fixed_dictionaries(
        {"shape": st.just("cone"), "near_diameter": SIZE, "far_diameter": SIZE, "depth": SIZE},
        optional={"sweep": st.floats(1, 360), "start": st.floats(-360, 360)},
    ),
    st.fixed_dictionaries({"shape": st.just("dome"), "diameter": SIZE, "depth": SIZE}, optional={"crown_hole": SIZE}),
    st.fixed_dictionaries(
        {"shape": st.just("box"), "back": PAIR, "front": PAIR, "depth": SIZE},
        optional={"front_up": LENGTH, "open": st.lists(st.sampled_from(["back", "front", "left", "top"]), max_size=3)},
    ),
    st.fixed_dictionaries({"shape": st.just("funnel"), "near": PAIR, "far": PAIR, "depth": SIZE}),
)
PLACE = st.fixed_dictionaries(
    {"from": st.sampled_from(["subject", "lens", "shoe", "lens", "shoe", "flash", "part 0"])},
    optional={
        "right": LENGTH,
        "up": LENGTH,
        "toward_lens": LENGTH,
        "tilt": st.floats(-360, 360),
        "roll": st.floats(-360, 360),
        "aim": st.sampled_from(["ahead", "ahead", "ahead", "subject"]),
        "hold": st.sampled_from(["reference", "centre", "top", "bottom", "left", "right", "front"]),
    },
)
BEAM = st.fixed_dictionaries({"cos_power": st.floats(0, 500)}) | st.fixed_dictionaries(
    {
        "angle": st.lists(st.floats(0.01, 90), min_size=3, max_size=3, unique=True).map(lambda a: [0, *sorted(a)]),
        "intensity": st.lists(st.floats(0, 1e9), min_size=4, max_size=4),
    }
)


@settings(RUN, max_examples=500)
@given(
    st.lists(st.tuples(SHAPE, PLACE), min_size=1, max_size=2),
    PLACE,
    BEAM,
    PAIR,
    st.floats(0.1, 1000),
    st.sampled_from(["mm", "inch"]),
)
def test_rigs_of_any_sizes_end_well(
    parts: list[tuple[dict[str, Any], dict[str, Any]]],
    place: dict[str, Any],
    beam: dict[str, Any],
    window: list[float],
    guide_number: float,
    unit: str,
) -> None:
    head = {**place, "beam": beam, "window": window, "guide_number": guide_number}
    diffuser = [
        {"name": f"part {n}", "material": "copy paper", **shape, **where} for n, (shape, where) in enumerate(parts)
    ]
    ends_well(
        lambda: load_data(
            {**(DATA if unit == "mm" else DATA_IN_INCHES), "head": [head], "diffuser": diffuser, "surroundings": []},
            file=FILE,
        )
    )


def test_random_files_were_many_and_ended_both_ways() -> None:
    if not OUTCOMES:
        pytest.skip("runs with the tests above")
    assert OUTCOMES.total() >= 2000
    assert min(OUTCOMES["placed"], OUTCOMES["refused"]) > 300
