"""From what is printed on a pack to a material, on the command line: published values, percentages, complaints."""

from __future__ import annotations

import math
import re
import shlex
import tomllib
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from typer.testing import CliRunner

from lightsim.cli import app, printed
from lightsim.measure.reading_files import material_text
from lightsim.rig.errors import RigError
from lightsim.rig.library import design_path
from lightsim.rig.load import load, loads, material, placed
from lightsim.sheet import Sheet
from lightsim.sheet.given import rounded
from lightsim.sheet.pack import film_pack, foam_pack, paper_pack
from lightsim.sheet.sheet import SHARES, both
from lightsim.sheet.stack import stack

PAGE = (Path(__file__).parent.parent / "docs" / "materials.md").read_text(encoding="utf-8")
FOUR_DECIMALS = 5e-5  # half the last digit of a material file


def run(*words):
    return CliRunner().invoke(app, ["measure", *map(str, words)], env={"COLUMNS": "100"})


def sheet_of(command, folder):
    """The sheet that a command writes to a file, and what it prints."""
    path = folder / "out.toml"
    done = run(*shlex.split(command), "--to", path)
    assert done.exit_code == 0, done.output
    ((name, table),) = tomllib.loads(path.read_text(encoding="utf-8"))["material"].items()
    assert name == shlex.split(command)[1]
    return Sheet.model_validate(table), " ".join(done.stdout.split())


# Published and derived values through the commands


@pytest.mark.parametrize(
    ("figures", "passed", "back"),
    [
        # ISO 9416 with R0 = 0.80 and R-infinity = 0.87, so opacity 91.954 % (ISO 2471): derived, two ways.
        ("--grammage 80 --opacity 91.95402% --reflectivity 87", 0.156396, 0.80),
        # The same stuff at 250 g/m2, Kubelka (1948): derived.
        ("--grammage 80 --opacity 91.95402% --reflectivity 87 --wanted-grammage 250gsm", 0.030829, 0.866639),
        # Opacities of US Government paper standards JCP O-65 and O-63 (opened), R-infinity assumed: derived.
        ("--grammage 75 --opacity 86 --reflectivity 0.87", 0.221064, 0.7482),
        ("--grammage '83 g/m²' --opacity 0.90 --reflectivity 87%", 0.178547, 0.783),
        ("--grammage 83g/m2 --opacity 90% --reflectivity 82", 0.198706, 0.738),
        # L* of Y = 0.87 is 116 * 0.87^(1/3) - 16 = 94.7386 (CIE 15, from memory).
        ("--grammage 83 --opacity 90% --lightness 94.7386", 0.178547, 0.783),
    ],
)
def test_papers(figures, passed, back, tmp_path):
    sheet, _ = sheet_of(f"paper 'my paper' {figures}", tmp_path)
    assert sheet.diffuse_transmittance == pytest.approx(passed, abs=FOUR_DECIMALS)
    assert sheet.reflectance_by_side == pytest.approx((back, back), abs=FOUR_DECIMALS)
    assert sheet.origins["diffuse_reflectance"].known == "derived"


def test_whiteness_is_assumed_where_it_is_not_said(tmp_path):
    # Opacity 90 to 92, R-infinity 0.82 to 0.92: T 0.13 to 0.20, R 0.73 to 0.85, rounded outward (derived).
    sheet, text = sheet_of('paper "my paper" --grammage 80 --opacity 90..92%', tmp_path)
    passed, back = sheet.origins["diffuse_transmittance"], sheet.origins["diffuse_reflectance"]
    assert (passed.low[0], passed.high[0]) == pytest.approx((0.135, 0.20), abs=0.005)
    assert (back.low[0], back.high[0]) == pytest.approx((0.74, 0.85), abs=0.01)
    assert (passed.known, back.known) == ("derived", "assumed")
    assert "R-infinity 0.87 (0.82 to 0.92), assumed" in sheet.source
    assert "The whiteness was not given" in text
    assert "sent back 0.79 0.74 to 0.85 assumed" in text
    assert "Read as: opacity 90 to 92 % (likely 91), grammage 80 g/m2." in text
    assert "without a range" not in text


def test_figures_without_a_range_get_the_tolerance_of_labels(tmp_path):
    # Two points either way: common practice, no source. T of opacity 0.89 and 0.93 at R-infinity 0.87: derived.
    plain, text = sheet_of("paper x --grammage 80 --opacity 91% --reflectivity 87", tmp_path)
    passed = plain.origins["diffuse_transmittance"]
    r = 0.87
    least, most = (math.sqrt((r - c * r) * (1 / r - c * r)) for c in (0.93, 0.89))
    assert (passed.low[0], passed.high[0]) == pytest.approx((least, most), abs=FOUR_DECIMALS)
    assert "2 points either way of opacity assumed" in passed.source
    assert "Opacity came without a range, so 2 points either way are assumed" in text
    ranged, text = sheet_of("paper x --grammage 80 --opacity 90..92% --reflectivity 87", tmp_path_of(tmp_path, "b"))
    assert "assumed" not in ranged.source
    assert "without a range" not in text
    film, text = sheet_of("film x --transmittance 87 --haze 20 --half-value-angle 12", tmp_path_of(tmp_path, "c"))
    lobe = film.origins["forward_transmittance"]
    assert (lobe.low[0], lobe.high[0]) == pytest.approx(
        (film.forward_transmittance - 0.02, film.forward_transmittance + 0.02), abs=2 * FOUR_DECIMALS
    )
    assert "Transmittance and haze came without a range" in text
    assert "passed on in all 0.87 0.85 to 0.89" in text
    # Never more than half way to nothing and to all; a full haze is rounded, and has no tolerance.
    near = paper_pack(opacity=0.995, reflectivity=0.87, grammage=80).sheet
    assert "0.995 (0.9925 to 0.9975)" in near.source
    # A clear slab of this absorption passes exp(-2 * 0.296) = 0.553: no two points more.
    grey = foam_pack(transmittance=0.55, thickness=2, absorption=0.296)
    assert "points" not in grey.sheet.source
    assert any("counts as exact" in note for note in grey.notes)


def test_opacities_of_other_papers_are_told():
    # The project's own rule; Kubelka-Munk holds for both, but the owner may have misread.
    for opacity, told in ((0.995, "the last digit decides"), (0.4, "tracing paper or tissue"), (0.9, None)):
        notes = paper_pack(opacity=(opacity, opacity, opacity + 1e-3), reflectivity=0.87, grammage=80).notes
        assert [note for note in notes if "opacity" in note.lower()] == [
            note for note in notes if told and told in note
        ]
        assert bool(notes) == bool(told)


def test_brightened_paper_is_warned_of_on_the_screen_and_in_the_file(tmp_path):
    # Common practice, no source: fluorescence makes a reading hang on the ultraviolet of the lamp.
    sheet, text = sheet_of("paper x --grammage 80 --opacity 91 --reflectivity 87 --brightened", tmp_path)
    assert "Note: Brightened paper glows blue in ultraviolet" in text
    assert "ultraviolet" in sheet.origins["diffuse_transmittance"].source
    file = (tmp_path / "out.toml").read_text()
    assert file.count("ultraviolet") == 1, "once is enough"
    assert not re.search(r'\."?\s*$', sheet.origins["diffuse_transmittance"].source), "reports end it themselves"
    _, white = sheet_of("paper y --grammage 80 --opacity 91 --reflectivity 96", tmp_path_of(tmp_path, "white"))
    assert "rare without fluorescent brightener" in white
    assert "= True" not in white


def tmp_path_of(folder, name):
    (folder / name).mkdir()
    return folder / name


def test_a_film_of_known_haze(tmp_path):
    # ASTM D1003 / ISO 14782: 90 % Lambertian and 10 % straight read a haze of 89.82876 % (derived).
    sheet, text = sheet_of("film x --transmittance 80% --haze 89.82876% --half-value-angle 60", tmp_path)
    assert sheet.straight == pytest.approx(0.08, abs=FOUR_DECIMALS)
    assert sheet.diffuse_transmittance == pytest.approx(0.72, abs=FOUR_DECIMALS)
    assert "defined up to 30 % only" in text
    within = sheet_of("film x --transmittance 87% --haze 10% --half-value-angle 20", tmp_path_of(tmp_path, "b"))
    assert "defined up to" not in within[1]
    assert within[0].origins["half_value_angle"].known == "published"


def test_full_opacity_is_a_rounded_figure(tmp_path):
    # Packs print whole per cents (common practice, no source). ISO 22891: T^2 = (R - R0)(1/R - R0) with R0 = 0.995 R.
    sheet, _ = sheet_of("paper x --grammage 80 --opacity 100% --reflectivity 87", tmp_path)
    passed = sheet.origins["diffuse_transmittance"]
    most = math.sqrt((0.87 - 0.995 * 0.87) * (1 / 0.87 - 0.995 * 0.87))
    assert sheet.diffuse_transmittance == 0
    assert passed.high == pytest.approx((most, most), abs=1e-4)


def test_the_angle_of_luminance_becomes_that_of_intensity(tmp_path):
    # CIE S 017, 17-24-097: luminance exp(-sin^2 / 2 s^2) is half at 25 degrees; where times cosine is half: derived.
    sheet, text = sheet_of("film x --transmittance 87 --haze 80 --luminance-half-value-angle 25", tmp_path)
    doubled = math.sin(math.radians(25)) ** 2 / math.log(2)
    angle = math.radians(sheet.half_value_angle)
    assert math.exp(-(math.sin(angle) ** 2) / doubled) * math.cos(angle) == pytest.approx(0.5, abs=2e-4)
    assert sheet.origins["half_value_angle"].known == "derived"
    assert "half-value angle of luminance 25 degrees" in text


def test_haze_without_an_angle_leaves_the_width_open(tmp_path):
    # The project's own rule: haze does not tell the width, so it is assumed with a wide range.
    sheet, text = sheet_of("film x --transmittance 87 --haze 80", tmp_path)
    width = sheet.origins["half_value_angle"]
    assert (width.low, width.high, width.known) == ((5, 5), (60, 60), "assumed")
    assert "Measure its width: lightsim measure sheet." in text
    told = " ".join(run("film", "x", "--transmittance", "87%", "--haze", "80%").stdout.split())
    assert "The range of a part can be narrower there than above, where what passes in all is left open too." in told


def test_full_haze_is_a_rounded_figure(tmp_path):
    # A Lambertian sheet, the haziest there is, reads 99.80973 % (derived): packs print that as 100.
    sheet, text = sheet_of("film x --transmittance 60 --haze 100", tmp_path)
    assert (sheet.straight, sheet.diffuse_transmittance) == (0, 0.6)
    assert "an opal sheet" in text


def test_gloss_takes_from_what_comes_back():
    # Shares sum to 1 at most, and what a pack calls gloss is no share: definitions.
    shiny = film_pack(total_transmittance=0.87, haze=0.2, half_value_angle=20, glossy_reflectance=0.04).sheet
    assert shiny.gloss_by_side == (0.04, 0.04)
    assert shiny.reflectance_by_side[0] == pytest.approx(0.09, abs=1e-12)
    assert shiny.origins["glossy_reflectance"].known == "assumed"


def test_foam_of_another_thickness(tmp_path):
    # Without absorption 1 / T rises evenly with thickness (diffusion of light in a white slab, from memory).
    command = 'foam "my foam" --transmittance 55% --thickness 2mm'
    found = [sheet_of(command, tmp_path_of(tmp_path, "2"))]
    found += [sheet_of(f"{command} --wanted-thickness {mm}", tmp_path_of(tmp_path, mm)) for mm in ("3", "4")]
    passed = [sheet.straight + sheet.diffuse_transmittance for sheet, _ in found]
    assert passed[0] == pytest.approx(0.55, abs=FOUR_DECIMALS)
    steps = [1 / after - 1 / before for before, after in pairwise(passed)]
    assert steps[1] == pytest.approx(steps[0], rel=0.02)
    for sheet, _ in found:
        assert sheet.straight + sheet.diffuse_transmittance + sheet.diffuse_reflectance == pytest.approx(1, abs=1e-4)
    assert "Look through the sheet at a bare bulb" in found[0][1]
    assert found[0][0].origins["straight"].known == "assumed"


def test_opal_plastic_has_shiny_faces():
    # Fresnel at n = 1.49: ((n - 1) / (n + 1))^2 = 0.0387 of the first face, the second lies behind what scatters.
    opal = foam_pack(transmittance=0.55, thickness=3, opal=True).sheet
    assert opal.gloss_by_side[0] == pytest.approx((0.49 / 2.49) ** 2, abs=0.001)
    assert foam_pack(transmittance=0.55, thickness=3).sheet.gloss_by_side == (0, 0)


def test_foam_that_shows_the_head_says_so():
    # Where what scatters is narrower than in thick foam, the source says so, and so does the note.
    thin = foam_pack(transmittance=0.9, thickness=1)
    assert any("the head shows through" in note for note in thin.notes)


# How figures are read


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("91%", 0.91),
        ("91 %", 0.91),
        ("91", 0.91),
        ("0.91", 0.91),
        ("0.8%", 0.008),
        ("1%", 0.01),
        ("100", 1.0),
        ("0", 0.0),
        ("90..92", (0.90, 0.91, 0.92)),
        ("90..92%", (0.90, 0.91, 0.92)),
        ("90%-92%", (0.90, 0.91, 0.92)),
        ("90 - 92", (0.90, 0.91, 0.92)),
        ("90 to 92 %", (0.90, 0.91, 0.92)),
        ("0.90..0.92", (0.90, 0.91, 0.92)),
        ("0.5..2%", (0.005, 0.0125, 0.02)),
        ("0..2", (0.0, 0.01, 0.02)),
        ("90..90.5..92", (0.90, 0.905, 0.92)),
        ("90 90.5 92", (0.90, 0.905, 0.92)),
        ("91 ± 1%", (0.90, 0.91, 0.92)),
        ("91+-1", (0.90, 0.91, 0.92)),
    ],
)
def test_percentages_and_shares(text, meant):
    # The rule of docs/materials.md: a % sign or a number above 1 makes a percentage.
    assert printed.share("--opacity", text) == pytest.approx(meant, abs=1e-12)


@pytest.mark.parametrize(
    "text",
    ["0.5..2", "0.95..1.04", "", "%", "0,91", "91 percent", "1", "0.9..1", "-5", "92..90", "1 2 3 4", "nan", "101"],
)
def test_what_is_no_share(text):
    with pytest.raises(RigError, match=r"Allowed: .*Try "):
        printed.share("--opacity", text)


@pytest.mark.parametrize(
    ("text", "meant"), [("80", 80), ("80g/m2", 80), ("80 G/M²", 80), ("80 gsm", 80), ("80 g", 80), ("82.5 g/m^2", 82.5)]
)
def test_grammages(text, meant):
    assert printed.grammage("--grammage", text) == meant


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("paper", "NAME is missing"),
        ("paper x", "Try --grammage 80"),
        ("paper x --grammage 80", "Try --opacity 91%"),
        ("paper x --grammage 80 --opacity 1", "this may be 1 % or all of the light"),
        ("paper x --grammage 80 --opacity 0,91", "a point for the decimals"),
        ("paper x --grammage 80 --opacity 910", "more than all of the light"),
        ("paper x --grammage 80 --opacity -5", "less than nothing"),
        ("paper x --grammage 80 --opacity 0.2%", "--opacity 0.2%. Allowed: 0.01 to 1"),
        ("paper x --grammage 80 --opacity 91 --reflectivity 0.95..1.04", '"0.95..1.04": below 1 a number is a share'),
        ("paper my paper to 92% --grammage 80 --opacity 90", '"92%" may be a part of the name or of a figure'),
        ("paper x --grammage 80 --opacity 92..90%", "Try --opacity 90..92%"),
        ("paper x --grammage '20 lb' --opacity 91", "Try 75 for 20 lb office paper"),
        ("paper x --grammage 0.08 --opacity 91", "--grammage 0.08 g/m2. Allowed: 1 to 2000 g/m2"),
        ("paper x --grammage 70..90 --opacity 91", "Try --grammage 80"),
        ("paper x --grammage 80 --opacity 91 --iso-brightness 98", "taken in blue light"),
        ("paper x --grammage 80 --opacity 91 --iso-brightness 98", "Try leaving it out."),
        ("paper x --grammage 80 --opacity 91 --iso-brightness 104 --reflectivity 87", "so add --brightened"),
        ("paper x --grammage 80 --opacity 91 --reflectivity 160", "CIE whiteness"),
        ("paper x --grammage 80 --opacity 91 --reflectivity 87 --lightness 94", "two names of one whiteness"),
        ("paper x --grammage 80 --opacity 91 --lightness 120", "Allowed: 9 to 100"),
        ("paper x --grammage 80 --opacity 91 --lightness 8", "--lightness 8. Allowed: 9 to 100"),
        ("paper x --grammage 80 --opacity 100% --wanted-grammage 60", "below 1 with --wanted-grammage"),
        ("paper 'a[b]' --grammage 80 --opacity 91", "without brackets"),
        ("paper x --grammage 80 --opacity 91 --to nowhere/out.toml", "there is no folder"),
        ("film x --transmittance 87", "Try --haze 80%"),
        ("film x --haze 80", "Try --transmittance 87%"),
        ("film x --transmittance 87 --haze 99 --half-value-angle 5", "Try a wider --half-value-angle"),
        ("film x --transmittance 87 --haze 80 --half-value-angle 75", "Allowed: 0 to 60 degrees"),
        ("film x --transmittance 87 --haze 80 --half-value-angle 9 --luminance-half-value-angle 9", "two measures"),
        ("film x --transmittance 97 --haze 80 --glossy-reflectance 4", "Try --glossy-reflectance 0.03"),
        (
            "film x --transmittance 97 --haze 80 --glossy-reflectance 4",
            "--glossy-reflectance 4 and --transmittance 97 sum",
        ),
        ("film x --transmittance 91 % --haze 80%", '"%" stands alone'),
        ("film --transmittance 91 % --haze 80%", "Try 91% without a space"),
        ("film x --transmittance 97 --haze 120%", "Allowed: at least 0 %, at most 100 %"),
        ("foam x --transmittance 55", "Try --thickness 2"),
        ("foam x --transmittance 55 --thickness '1/8 in'", "an inch is 25.4 mm"),
        ("foam x --transmittance 99 --thickness 2 --absorption 0.5", "Try less absorption"),
        ("foam x --transmittance 55 --thickness 2 --wanted-thickness 5000", "--wanted-thickness 5000 mm"),
        ("foam x --transmittance 55 --thickness 5000", "--thickness 5000 mm"),
        ("papr x", "Try lightsim measure paper"),
    ],
)
def test_mistakes_are_told_in_words_of_the_command(words, told):
    # The project's own rule for errors: what was given, what is allowed, what to try; nothing of Python.
    result = run(*shlex.split(words))
    assert result.exit_code == 2, result.output
    assert told in result.output
    assert "Allowed: " in result.output
    assert "Try " in result.output
    assert not re.search(r"Traceback|\(0\.|= True|\b[a-z]+_[a-z]", result.output), result.output


# Files


def test_a_material_goes_into_a_rig_and_nothing_is_overwritten(tmp_path):
    rig, file = tmp_path / "rig.toml", tmp_path / "paper.toml"
    assert CliRunner().invoke(app, ["new", "flat-foam", "--to", str(rig)]).exit_code == 0
    before = rig.read_text()
    words = ("paper", "my paper", "--grammage", 80, "--opacity", "90..92%", "--about", "from the cupboard")
    done = run(*words, "--into", rig, "--to", file)
    assert done.exit_code == 0, done.output
    assert "Name it in a part of" in done.stdout
    assert rig.read_text().startswith(before.rstrip())
    sheet = load(rig).rig.material["my paper"]
    assert sheet.about == "from the cupboard"
    used = loads(rig.read_text().replace('material = "packing foam"', 'material = "my paper"'))
    assert any(part.sheet == sheet for part in placed(used).parts)
    assert "from what is printed on its pack" in file.read_text()
    kept = rig.read_text(), file.read_text()
    for more in (("--to", file), ("--into", rig), ("--into", rig, "--to", tmp_path / "other.toml")):
        again = run(*words, *more)
        assert again.exit_code == 2
        assert "was left as it is" in again.output
    assert (rig.read_text(), file.read_text()) == kept
    assert not (tmp_path / "other.toml").exists()


def test_without_a_file_the_table_is_on_the_screen():
    done = run("foam", "my foam", "--transmittance", 55, "--thickness", 2)
    table = tomllib.loads(done.stdout[done.stdout.index('[material."my foam"]') :])
    assert Sheet.model_validate(table["material"]["my foam"]).about == "2 mm thick"


shares = some.lists(some.floats(0, 1), min_size=5, max_size=5)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(shares)
def test_rounding_makes_no_light(parts):
    # Definition: no side passes on more than all, and four decimals move nothing by more than they must.
    total = sum(parts) or 1.0
    keys = ("straight", "pores", "forward_transmittance", "diffuse_transmittance", "diffuse_reflectance")
    whole = {key: min(each / total, 1.0) * (1 - 1e-15) for key, each in zip(keys, parts, strict=True)}
    sheet = Sheet(**whole, half_value_angle=20)
    short = rounded(sheet)
    for side in (0, 1):
        assert sum(both(getattr(short, key))[side] for key in SHARES) <= 1 + 1e-12
    for key in keys:
        value = both(getattr(short, key))[0]
        assert value == round(value, 4)
        assert value == pytest.approx(both(getattr(sheet, key))[0], abs=4e-4)


def test_any_sheet_can_be_written_as_a_table():
    # What the table says is the sheet: layers, plain numbers, numbers by side, ranges.
    card = Sheet(diffuse_transmittance=0.03, diffuse_reflectance=(0.85, 0.6), glossy_reflectance=(0.04, 0.0))
    double = rounded(stack([paper_pack(opacity=(0.9, 0.91, 0.92), grammage=80).sheet] * 2))
    for sheet in (card, double, Sheet(layers=("copy paper", "my card"), about="two")):
        table = tomllib.loads(material_text("it", sheet))["material"]["it"]
        assert Sheet.model_validate(table) == sheet


def test_the_second_layer_of_the_page_is_parallel_and_behind_the_first():
    # The gap of parallel planes: from middle to middle, square to both. Geometry.
    (table,) = re.findall(r"^```toml gap\n(.*?)^```$", PAGE, flags=re.MULTILINE | re.DOTALL)
    parts = {part.name: part.mesh for part in placed(loads(design_path("flat-foam").read_text() + table)).parts}
    first, second = parts["foam"], parts["second"]
    normal = np.cross(*(first.vertices[first.faces[0]][1:] - first.vertices[first.faces[0]][0]))
    normal /= np.linalg.norm(normal)
    step = second.vertices.mean(axis=0) - first.vertices.mean(axis=0)
    assert abs(step @ normal) == pytest.approx(15, abs=0.05)  # the page rounds to a tenth
    assert np.linalg.norm(step - (step @ normal) * normal) < 0.1, "it is not shifted"
    assert np.ptp(second.vertices @ normal) < 1e-9, "it is parallel"
    assert step[2] > 0, "it is on the side of the lens"
    assert (round(15 * math.cos(math.radians(36)), 1), round(15 * math.sin(math.radians(36)), 1)) == (12.1, 8.8)


def test_the_commands_of_the_page_run_and_print_what_it_shows(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    commands = re.findall(r"^\$ lightsim measure (.+)$", PAGE, flags=re.MULTILINE)
    assert {shlex.split(command)[0] for command in commands} == {"paper", "film", "foam"}
    rig = design_path("flat-foam").read_text()
    (table,) = re.findall(r'^    (\[material\."double paper"\])\n    (layers = .*)$', PAGE, flags=re.MULTILINE)
    (tmp_path / "double.toml").write_text("\n".join([rig, *table]))
    printed_by = []
    for command in commands:
        done = run(*shlex.split(command))
        assert done.exit_code == 0, f"{command}\n{done.output}"
        printed_by.append(done.stdout)
    shown = re.search(r"^```text\n(my copy paper.*?)\n```$", PAGE, flags=re.MULTILINE | re.DOTALL)[1]
    assert printed_by[0].startswith(shown)
    # "of the ready copy paper one layer passes 16 % (13 to 20), two pass 7 % (4 to 11)"
    ready = material(load("flat-paper"), "copy paper")
    double = loads((tmp_path / "double.toml").read_text())
    one, two = ready, material(double, "double paper")
    words = [
        f"{100 * sheet.diffuse_transmittance:.0f} % ({100 * origin.low[0]:.0f} to {100 * origin.high[0]:.0f})"
        for sheet in (one, two)
        for origin in (sheet.origins["diffuse_transmittance"],)
    ]
    assert f"one layer passes {words[0]}, two pass {words[1]}" in " ".join(PAGE.split())
    # "passes 55 % passes 43 % at 3 mm" on the page
    passed = foam_pack(transmittance=0.55, thickness=2, wanted_thickness=3).sheet.diffuse_transmittance
    assert f"passes {100 * passed:.0f} % at 3 mm" in PAGE
