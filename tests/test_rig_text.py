"""Measured materials and flashes put into rig files: nothing else changes, or nothing at all.

What a text must say afterwards is a definition here: what it said before but for what was to be changed, read by
Python's own TOML reader.
"""

from __future__ import annotations

import copy
import re
import shlex
import tomllib

import pytest
from typer.testing import CliRunner

from lightsim.cli import app
from lightsim.measure.flash_readings import measured_flash
from lightsim.measure.reading_files import add_flash, add_material, head_lines, how_to_put_in, material_text, users_of
from lightsim.measure.readings import FlashReadings
from lightsim.measure.rig_text import with_head, with_material
from lightsim.rig.errors import RigError
from lightsim.rig.library import design_files
from lightsim.rig.load import load, loads
from lightsim.sheet import Sheet

MINE = Sheet(diffuse_transmittance=0.5, diffuse_reflectance=0.4, about='my "foam"')
LINES = ['zoom = "24 mm"', "beam = { cos_power = 7 }", "guide_number = 20", 'guide_number_unit = "m"', "iso = 100"]
HEADS = [name for name in design_files() if name != "materials"]


def run(*words):
    return CliRunner().invoke(app, [str(word) for word in words], env={"COLUMNS": "100"})


def design(name):
    return design_files()[name].read_text(encoding="utf-8")


def measured(**more):
    zoom = {"setting": "24 mm", "across": [[300, 0.9], [500, 2.0]], "f_number": 8, "power": "1/16"}
    readings = {"name": "my flash", "wall_distance": 1000, "zoom": [zoom | more]}
    return measured_flash(FlashReadings.model_validate(readings))[0]


def with_new_head(data, index, lines=LINES):
    wanted = copy.deepcopy(data)
    head = {key: value for key, value in data["head"][index].items() if key != "zoom"}
    wanted["head"][index] = head | tomllib.loads("\n".join(lines))
    return wanted


# Heads


@pytest.mark.parametrize("name", HEADS)
def test_only_the_head_of_a_ready_design_changes(name):
    old = design(name)
    data = tomllib.loads(old)
    for index in range(len(data["head"])):
        new = with_head(old, index, LINES, gone=("zoom",), file="rig.toml")
        assert tomllib.loads(new) == with_new_head(data, index)
        loads(new, folder=design_files()[name].parent)
        # All lines but those of the head's own numbers stand as they did, in order.
        rest = [line for line in new.splitlines() if line not in LINES]
        before = iter(old.splitlines())
        assert all(line in before for line in rest), "a line was changed"
        gone = set(old.splitlines()) - set(new.splitlines())
        assert all(re.match(r"(zoom|guide_number|guide_number_unit|iso|cos_power) = |\[head\.beam\]|# Light", line)
                   for line in gone), gone  # fmt: skip


@pytest.mark.parametrize("name", HEADS)
def test_the_sentence_for_the_editor_works_when_it_is_followed(name):
    zoom = measured()
    told = how_to_put_in([zoom])
    assert "the lines zoom, guide_number, guide_number_beam, guide_number_unit and iso and all of beam" in told
    assert "the table [head.beam] down to the next blank line" in told
    assert told.endswith("put these lines directly under the line [[head]]")
    before, start, rest = design(name).partition("[[head]]\n")
    first, *others = re.split(r"(?=^\[\[)", rest, flags=re.MULTILINE)
    first = re.sub(r"^(zoom|guide_number|guide_number_unit|iso|beam) = .*\n", "", first, flags=re.MULTILINE)
    first = re.sub(r"^\[head\.beam\]\n(.+\n)*\n", "", first, flags=re.MULTILINE)
    lines = head_lines(zoom)
    text = "".join([before, start, "\n".join(lines), "\n", first, *others])
    assert tomllib.loads(text) == with_new_head(tomllib.loads(design(name)), 0, lines)
    loads(text, folder=design_files()[name].parent)


TOP = 'title = "t"\n\n'
ODD = {
    "without any of the keys": "[[head]]\nup = 3\n",
    "beam in one line": "[[head]]\nbeam = { cos_power = 4 }  # mine\nup = 3 # stays\n",
    "beam over several lines": "[[head]]\nbeam = { angle = [\n 0,\n 30, # far\n], intensity = [\n1,\n0,\n] }\nup = 3\n",
    "beam by its parts": "[[head]]\nbeam.angle = [0, 30]\nup = 3\nbeam.intensity = [1, 0]\n",
    "tables of their own": "[[head]]\nup = 3\n[head.guide_number]\nvalue = 3\nsource = 's'\n[head.beam]\na = 1\n",
    "a table in a table": "[[head]]\nup = 3\n[head.beam.cos_power]\nvalue = 4\nx = '''\n[lens]\n'''\n[lens]\nx = 1\n",
    "spaces and quotes": '[[ "head" ]]   # mine\n  "zoom" = "35 mm"\n  up = 3\n',
    "a beam after another table": "[[head]]\nup = 3\n[lens]\nx = 1\n[head.beam]\ncos_power = 4\n# end",
    "a text that looks like a head": '[[head]]\nup = 3\nname = """\n[[head]]\n zoom = 3\n"""\niso = 200\n',
    "no line at the end": "[[head]]\niso = 200",
}


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@pytest.mark.parametrize("kind", ODD)
def test_heads_in_other_ways_of_writing(kind, ending):
    old = (TOP + ODD[kind]).replace("\n", ending)
    new = with_head(old, 0, LINES, gone=("zoom",), file="rig.toml")
    assert tomllib.loads(new) == with_new_head(tomllib.loads(old), 0)
    assert ending == "\n" or not re.search(r"(?<!\r)\n", new)
    for kept in ("# stays", "# end", "# mine" if "beam = " not in old else "title"):
        assert (kept in new) == (kept in old)


@pytest.mark.parametrize(
    "text", ['head = [{ up = 3 }]\n', "head = [\n  { up = 3, beam = { cos_power = 4 } },\n]\n[lens]\nx = 1\n"]
)  # fmt: skip
def test_a_head_that_cannot_be_changed_surely_is_refused(text):
    with pytest.raises(RigError, match=r"cannot be changed surely, so it was left as it is\. Allowed: heads as tables"):
        with_head(text, 0, LINES, file="rig.toml")


def test_a_flash_goes_into_a_rig(tmp_path):
    rig = tmp_path / "rig.toml"
    assert run("new", "two-heads", "--to", rig).exit_code == 0
    names = [head.name for head in load(rig).rig.head]
    words = shlex.split('measure flash "my flash" --wall-distance 1000 --across "300:0.9 500:2.0" --f-number f/8')
    refused = run(*words, "--power", "1/16", "--into", rig)
    assert refused.exit_code == 2
    assert f'this rig has several heads. Allowed: "{names[0]}", "{names[1]}". Try --head "{names[0]}"' in refused.output
    wrong = run(*words, "--into", rig, "--head", "third")
    assert wrong.exit_code == 2
    assert "has no head of this name" in wrong.output
    before = load(rig).rig.head
    done = run(*words, "--power", "1/16", "--zoom", "24 mm", "--into", rig, "--head", names[1])
    assert done.exit_code == 0, done.output
    after = load(rig).rig.head
    assert after[0] == before[0]
    assert after[1].beam == measured().beam
    assert after[1].zoom == "24 mm"
    assert after[1].guide_number == pytest.approx(measured().guide_number.value, rel=0.01)
    assert after[1].place == before[1].place
    kept = rig.read_text()
    refused = run(*words[:-2], "--into", rig, "--head", names[1])
    assert refused.exit_code == 2
    assert "beam: this was measured" in refused.output
    assert "Try --replace" in refused.output
    assert rig.read_text() == kept
    unnamed = run(*words[:-2], "--into", rig, "--head", names[1], "--replace")
    assert unnamed.exit_code == 0, unnamed.output
    again = load(rig).rig.head[1]
    assert (again.zoom, again.guide_number) == ("", after[1].guide_number)
    assert "zoom setting was not named" in unnamed.stdout
    assert "The guide number was not measured and stays" in unnamed.stdout


@pytest.mark.parametrize("note, free", [("invented", True), ("Measured in May", False)])
def test_only_measured_numbers_of_a_head_are_kept(note, free, tmp_path):
    rig = tmp_path / "rig.toml"
    old = re.sub(r'(?m)^(guide_number = .*source = )"[^"]*"', rf'\1"{note}"', design("flat-foam"))
    assert f'"{note}"' in old
    rig.write_text(old)
    if free:
        add_flash(measured(), rig)
    else:
        with pytest.raises(RigError, match=r'head "flash", guide_number: this was measured \("Measured in May"\)'):
            add_flash(measured(), rig)
        assert rig.read_text() == old
        # A guide number that stays needs no permission.
        add_flash(measured(f_number=None, power=1), rig)
        add_flash(measured(), rig, replace=True)
    assert load(rig).rig.head[0].beam == measured().beam


# Derived here: a guide number measured with the beam in use belongs to no other beam.
@pytest.mark.parametrize("number", ["measured", "kept"])
def test_a_measured_guide_number_takes_the_old_ones_beam_away(number, tmp_path):
    rig = tmp_path / "rig.toml"
    rig.write_text(
        design("flat-foam").replace("guide_number_unit", "guide_number_beam = { cos_power = 20 }\nguide_number_unit", 1)
    )
    assert load(rig).rig.head[0].guide_number_beam is not None
    add_flash(measured() if number == "measured" else measured(f_number=None, power=1), rig)
    assert (load(rig).rig.head[0].guide_number_beam is None) == (number == "measured")


def test_one_of_several_zoom_settings_goes_into_a_rig(tmp_path):
    rig, readings = tmp_path / "rig.toml", tmp_path / "flash.toml"
    zooms = "".join(f'[[zoom]]\nsetting = "{mm} mm"\nacross = [[300, {mm / 24}]]\n' for mm in (24, 105))
    readings.write_text(f'name = "my flash"\nwall_distance = 1000\n{zooms}')
    assert run("new", "flat-paper", "--to", rig).exit_code == 0
    words = ("measure", "flash", "--readings", readings, "--into", rig)
    refused = run(*words)
    assert refused.exit_code == 2
    assert 'Allowed: "24 mm", "105 mm". Try --zoom "24 mm"' in refused.output
    assert "it was not read" in run(*words, "--zoom", "35 mm").output
    assert run(*words, "--zoom", "105 mm").exit_code == 0
    assert load(rig).rig.head[0].zoom == "105 mm"


# Materials


def test_a_material_that_the_rig_names_already_can_be_added(tmp_path):
    # Whoever first changes the part and then measures must not be sent back.
    rig = tmp_path / "rig.toml"
    rig.write_text(design("flat-foam").replace('material = "packing foam"', 'material = "my foam"'))
    with pytest.raises(RigError, match="this material is not known"):
        load(rig)
    add_material("my foam", MINE, rig)
    assert load(rig).rig.material["my foam"] == MINE
    assert users_of("my foam", rig) == ("foam",)
    foam = ("measure", "foam", "my foam", "--transmittance", 55, "--thickness", 2, "--into", rig, "--replace")
    told = run(*foam).stdout
    assert re.search(r'The part "foam" of \S+ names it already\.', " ".join(told.split()))
    assert "Name it in a part" not in told
    other = tmp_path / "other.toml"
    other.write_text(design("flat-foam").replace('material = "packing foam"', 'material = "your foam"'))
    with pytest.raises(RigError, match=r"your foam.*this material is not known"):
        add_material("my foam", MINE, other)
    assert "my foam" not in other.read_text()


@pytest.mark.parametrize("after", ["", "\n# of the limits\n[limits]\nmost_stops = 3  # mine\n"])
def test_a_material_is_replaced_where_it_stands(after):
    mine = '[material."my foam"]\nstraight = 0.5\n# inside\nsource = "x"\n'
    old = f"{TOP}{mine}# about yours\n\n[material.yours]\npores = 0.1\n{after}"
    table = material_text("my foam", MINE)
    with pytest.raises(RigError, match="another name, --replace"):
        with_material(old, "my foam", table, file="rig.toml")
    new = with_material(old, "my foam", table, file="rig.toml", replace=True)
    data = tomllib.loads(old)
    data["material"]["my foam"] = tomllib.loads(table)["material"]["my foam"]
    assert tomllib.loads(new) == data
    assert new == old.replace(mine, table)


@pytest.mark.parametrize(
    "text", ['material = { yours = { pores = 0.1 } }\n', '[material]\n"my foam".pores = 0.1\nyours.pores = 0.1\n']
)  # fmt: skip
def test_a_material_that_cannot_be_put_in_surely_is_refused(text):
    with pytest.raises(RigError, match="cannot be changed surely"):
        with_material(text, "my foam", material_text("my foam", MINE), file="rig.toml", replace=True)


def test_files_and_materials_are_replaced_when_asked(tmp_path):
    rig, file, kept = (tmp_path / name for name in ("rig.toml", "foam.toml", "readings.toml"))
    assert run("new", "flat-foam", "--to", rig).exit_code == 0
    words = ["measure", "sheet", "my", "new", "foam", "--white", "0.2", "--black", "1.1"]
    files = ["--to", file, "--record", kept, "--into", rig]
    assert run(*words, "--window", "0.9", *files).exit_code == 0
    first = load(rig).rig.material["my new foam"]
    before = [path.read_text() for path in (rig, file, kept)]
    refused = run(*words, "--window", "0.7", *files)
    assert refused.exit_code == 2
    assert "--replace" in refused.output
    assert [path.read_text() for path in (rig, file, kept)] == before
    done = run(*words, "--window", "0.7", *files, "--replace")
    assert done.exit_code == 0, done.output
    second = load(rig).rig.material["my new foam"]
    assert second.diffuse_transmittance > first.diffuse_transmittance
    assert Sheet.model_validate(tomllib.loads(file.read_text())["material"]["my new foam"]) == second
    assert "window = 0.7" in kept.read_text()
    paper = ("measure", "paper", "my new foam", "--grammage", 80, "--opacity", 91, "--to", file)
    assert run(*paper).exit_code == 2
    assert run(*paper, "--replace").exit_code == 0
    flash = shlex.split("measure flash f --wall-distance 1000 --across 300:0.9 --to")
    assert run(*flash, file).exit_code == 2
    assert run(*flash, file, "--replace").exit_code == 0


def test_a_name_of_the_library_is_told_to_hide_the_ready_one(tmp_path):
    rig = tmp_path / "rig.toml"
    assert run("new", "flat-foam", "--to", rig).exit_code == 0
    done = run("measure", "foam", "packing", "foam", "--transmittance", 55, "--thickness", 2, "--into", rig)
    assert '"packing foam" is also the name of a ready material, which yours hides in that rig' in done.stdout
    assert load(rig).rig.material["packing foam"].about == "2 mm thick"
    other = run("measure", "foam", "my foam", "--transmittance", 55, "--thickness", 2)
    assert "ready material" not in other.stdout


def test_an_unknown_head_is_no_reason_to_write_anything(tmp_path):
    rig, file = tmp_path / "rig.toml", tmp_path / "flash.toml"
    assert run("new", "flat-foam", "--to", rig).exit_code == 0
    before = rig.read_text()
    with pytest.raises(RigError, match="has no head of this name"):
        add_flash(measured(), rig, head="other")
    words = shlex.split("measure flash f --wall-distance 1000 --across 300:0.9 --head other --into")
    assert run(*words, rig, "--to", file).exit_code == 2
    assert rig.read_text() == before
    assert not file.exists()
