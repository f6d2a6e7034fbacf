"""The command line, tried as a photographer would: every command, what it writes, how it ends."""

import csv
import io
import json
import os
import re
import subprocess
import sys

import pytest
from typer.testing import CliRunner

import lightsim
from lightsim.cli import app, options
from lightsim.cli.failures import complain
from lightsim.cli.notes import swept
from lightsim.measure.merged import merged
from lightsim.measure.rounding import span
from lightsim.rig.errors import RigError
from lightsim.rig.keys import number_keys
from lightsim.rig.library import design_path

ROUGH = ("--error", "5%")
HEAVY = ("numpy", "pydantic", "rich", "scipy", "trimesh", "shapely", "matplotlib", "embreex", "jinja2")


def run(*words, columns=100):
    return CliRunner().invoke(app, [str(word) for word in words], env={"COLUMNS": str(columns)})


def cold(*words, cwd=None, **environment):
    env = {**os.environ, "COLUMNS": "100", **environment}
    return subprocess.run(
        [sys.executable, "-m", "lightsim.cli", *map(str, words)], capture_output=True, text=True, cwd=cwd, env=env
    )


def loaded_modules(*words):
    """Heavy modules that a command has loaded by the time it ends."""
    code = (
        "import sys\nsys.argv = ['lightsim', *sys.argv[1:]]\nfrom lightsim.cli import app\n"
        "try:\n    app()\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code, *words], capture_output=True, text=True, check=True)
    return done.stdout, done.stderr.strip().splitlines()[-1]


@pytest.fixture
def broken_rig(tmp_path):
    """A rig whose owner asks for more light than any diffuser leaves."""
    path = tmp_path / "mine.toml"
    assert run("new", "foam-arc", "--to", path).exit_code == 0
    text = re.sub(r"most_stops = [\d.]+", "most_stops = 0.1", path.read_text())
    assert "most_stops = 0.1" in text
    path.write_text(text)
    return path


def test_help_loads_nothing_heavy():
    text, loaded = loaded_modules("--help")
    assert "compare" in text
    assert loaded == "[]"


def test_a_text_report_loads_only_what_it_needs():
    text, loaded = loaded_modules("report", "flat-foam", *ROUGH)
    assert "Light lost" in text
    assert not {"scipy", "trimesh", "shapely", "matplotlib"} & set(re.findall(r"\w+", loaded))


def test_compare_needs_no_argument():
    result = run("compare", *ROUGH, columns=250)
    assert result.exit_code == 0
    lines = result.stdout.splitlines()
    for name in ("bare-flash", "flat-paper", "foam-arc", "white-box"):
        title = lightsim.load(name).rig.title
        assert sum(line.startswith(title) and "±" in line for line in lines) == 1
    assert "Softest: " in result.stdout
    bare = next(line for line in lines if line.startswith("Bare flash"))
    others = [line for line in lines if line.startswith("White box")]
    numbers = r"±|below \d"
    assert len(re.findall(numbers, bare)) == len(re.findall(numbers, others[0])) - 1  # stops per doubling stays blank


def test_many_designs_make_no_wall_of_text():
    few = run("compare", "flat-paper", "foam-arc", "white-box", *ROUGH).stdout
    assert re.search(r"^light lost: .*White box$", few, re.MULTILINE)
    names = ("bare-flash", "flat-paper", "flat-foam", "foam-arc", "white-box", "grey-box", "dome")
    many = " ".join(run("compare", *names, *ROUGH).stdout.split())
    told = many.partition("Too close to call")[2]
    assert re.search(r"of 21 pairs: .*light lost \d+, .*Compare a few alone to see which\.", told)


def test_compare_takes_the_magnification_by_its_value():
    result = run("compare", "bare-flash", "flat-foam", "--magnification", 2, *ROUGH)
    assert "at 2x, 55 mm before the lens" in result.stdout
    wrong = run("compare", "bare-flash", "--magnification", 3)
    assert wrong.exit_code == 2
    assert "Allowed: 1, 2" in wrong.output


def test_report_covers_all_magnifications_with_verdict_and_test_frame():
    result = run("report", "white-box", *ROUGH)
    assert result.exit_code == 0
    for words in (
        "How big and even the source looks", "Highlight on the ball", "Shadow", "Falloff",
        "Light lost, stage by stage", "Where each lumen went", "Your limits", "kept", "In a test frame", "grey card",
        "Where your numbers come from", "invented", "seed 1", "Flash heads get hot",
    ):  # fmt: skip
        assert words in result.stdout, words
    assert re.search(r"^magnification, subject to lens +1x, 95 mm +(by materials +)?2x, 55 mm", result.stdout, re.M)
    assert "Illuminance vector" not in result.stdout
    assert len(result.stdout.splitlines()) < 105


def test_report_all_names_every_figure_and_explain_defines_it():
    result = run("report", "bare-flash", "--magnification", 1, "--all", "--explain", *ROUGH, columns=300)
    text = " ".join(result.stdout.split())
    report = lightsim.report(lightsim.trace(lightsim.load("bare-flash"), error=0.05))
    for figure in report.figures:
        assert figure.label.removeprefix("Budget: ").split(": ")[-1] in text, figure.name
        assert figure.definition in text, figure.name
    assert "everything else" not in text


def test_the_short_report_loses_no_light():
    text = run("report", "white-box", "--magnification", 1, *ROUGH).stdout
    budget = text.partition("Where each lumen went")[2].partition("\n")[2].partition("\n\n")[0]
    shares = [float(line.split()[-1]) for line in budget.strip().splitlines()]
    assert sum(shares) == pytest.approx(100, abs=0.05 * len(shares))  # each is rounded to 0.1


def test_backward_prints_both_estimators_and_their_difference():
    result = run("compare", "bare-flash", "--backward", *ROUGH)
    assert "two independent estimators" in result.stdout
    assert re.search(r"^Bare flash .*±.*±.* [+-]\d\.\d$", result.stdout, re.MULTILINE)


def test_strict_ends_with_1_where_a_limit_is_broken(broken_rig):
    plain = run("report", broken_rig, *ROUGH)
    assert plain.exit_code == 0
    assert "broken, " in plain.stdout
    assert run("report", broken_rig, "--strict", *ROUGH).exit_code == 1
    assert run("report", "bare-flash", "--strict", *ROUGH).exit_code == 0


def test_json_holds_every_figure_and_csv_the_same_numbers(tmp_path):
    files = tmp_path / "out.json", tmp_path / "out.csv"
    words = ("compare", "bare-flash", "flat-foam", "--json", files[0], "--csv", files[1], "--backward", "--seed", 5)
    result = run(*words, *ROUGH)
    assert result.exit_code == 0
    assert "Wrote" in result.stdout
    found = json.loads(files[0].read_text(), parse_constant=lambda name: pytest.fail(name))
    assert (found["version"], found["seed"], found["error"]) == (lightsim.__version__, 5, 0.05)
    assert [design["file"] for design in found["designs"]] == ["bare-flash.toml", "flat-foam.toml"]
    rows = list(csv.DictReader(io.StringIO(files[1].read_text())))
    figures = [(design, figure) for design in found["designs"] for figure in design["figures"]]
    assert len(rows) == len(figures)
    assert not all(figure["value"] is not None for _, figure in figures)  # the bare head has no clearance
    for row, (design, figure) in zip(rows, figures, strict=True):
        assert set(figure) >= {"name", "value", "standard_error", "unit", "definition"}
        assert (row["design"], row["name"]) == (design["title"], figure["name"])
        for key in ("value", "standard_error", "half_interval"):
            assert (float(row[key]) if row[key] else None) == figure[key]
    design = found["designs"][0]
    assert {"magnification", "working_distance", "verdicts", "notes", "sources", "second_estimator"} <= set(design)
    assert design["second_estimator"]["backward"]["standard_error"] > 0
    # The same seed from Python gives the same numbers.
    light = lightsim.trace(lightsim.load("bare-flash"), error=0.05, seed=5)
    assert [figure["value"] for figure in design["figures"]] == [each.value for each in lightsim.report(light).figures]


@pytest.mark.parametrize("words", [("compare", "bare-flash"), ("report", "bare-flash")])
def test_a_dash_writes_nothing_else_to_standard_output(words):
    found = json.loads(run(*words, "--json", "-", *ROUGH).stdout)
    assert found["designs"][0]["figures"]
    rows = list(csv.reader(io.StringIO(run(*words, "--csv", "-", *ROUGH).stdout)))
    assert rows[0][0] == "design"
    assert len({len(row) for row in rows}) == 1


def test_two_things_for_one_file_are_refused_however_it_is_spelt(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    refused = run("compare", "bare-flash", "--json", "out", "--csv", "./out", "--replace", *ROUGH)
    assert refused.exit_code == 2
    assert "a file of its own for each" in refused.output


@pytest.fixture
def in_the_picture(tmp_path):
    """A white box whose front hangs down before the lens."""
    path = tmp_path / "low.toml"
    assert run("new", "white-box", "--to", path).exit_code == 0
    text = path.read_text()
    assert "up = 74" in text
    path.write_text(text.replace("up = 74", "up = 20").replace('title = "White box"', 'title = "Low box"'))
    return path


def test_warnings_stand_beside_the_figures_of_every_command(in_the_picture):
    words = '"front" stands in the picture'
    told = run("report", in_the_picture, *ROUGH).stdout
    assert 0 < told.index(f"Note (1x, 2x): {words}") < told.index("How big and even")
    assert f"In the way: {words}" in run("check", in_the_picture).stdout
    told = run("compare", in_the_picture, "white-box", "bare-flash", *ROUGH).stdout
    assert f"Note (Low box): {words}" in told
    assert "as part of it stands in the picture: Low box." in " ".join(told.split())
    assert "Softest: White box" in told
    found = run("vary", in_the_picture, "diffuser.front.up", 20, 80, "--steps", 3, *ROUGH).stdout
    assert f"Note (at 20 mm): {words}" in found


def test_notes_that_differ_in_figures_alone_are_one():
    notes = [['"5 % hood" hides 10 % of it'], ['"5 % hood" hides 2 % of it', "b"], ['"6 % hood" hides 3 % of it']]
    assert merged(notes) == [([0, 1], '"5 % hood" hides 2 to 10 % of it'), ([1], "b"), ([2], notes[2][0])]
    assert merged([["same"], ["same"]]) == [([0, 1], "same")]
    lines = [line.text for line in swept([["a"], ["a"], [], ["a"]], ["1", "2", "3", "4"])]
    assert lines == ["Note (at 1 to 2, 4): a"]


def test_cells_without_a_number_have_their_reason_below():
    text = " ".join(run("report", "bare-flash", "--magnification", 1, *ROUGH).stdout.split())
    assert "nearest part of the diffuser: there is no diffuser." in text


def test_several_highlights_are_counted_in_a_comparison():
    assert "highlights" not in run("compare", "bare-flash", *ROUGH).stdout
    told = run("compare", "two-heads", "bare-flash", *ROUGH, columns=300).stdout
    assert "highlights" in " ".join(told.splitlines()[2:7])
    assert "Two heads with foam panels makes 2 highlights" in told


# The inch is 25.4 mm, exact by definition.
def test_a_file_in_inches_is_told_in_mm_once_and_rounded(tmp_path):
    text = original = design_path("bare-flash").read_text()
    lengths = (("[95, 55]", "[3.937, 2.3622]"), ("120  ", "4.724"), ("= 65", "= 2.559"), ("[45, 85]", "[1.8, 3.4]"))
    for mm, inch in (('"mm"', '"inch"'), *lengths):
        assert mm in text
        text = text.replace(mm, inch, 1)
    (tmp_path / "inch.toml").write_text(text)
    (tmp_path / "mm.toml").write_text(original.replace("95, 55", "100, 60"))
    for command in (("check", tmp_path / "inch.toml"), ("report", tmp_path / "inch.toml", *ROUGH)):
        told = run(*command)
        assert told.stdout.count("Lengths in mm; the file is in inches.") == 1, told.output
        assert not re.search(r"\d\.\d{3}", told.stdout.partition("How big")[0])
    assert "at 1x, 100 mm before" in run("compare", tmp_path / "inch.toml", tmp_path / "mm.toml", *ROUGH).stdout


def test_files_are_not_replaced_unless_asked(tmp_path):
    path = tmp_path / "out.json"
    path.write_text("mine")
    words = ("compare", "bare-flash", "--json", path, *ROUGH)
    refused = run(*words)
    assert refused.exit_code == 2
    assert "exists already" in refused.output
    assert path.read_text() == "mine"
    assert run(*words, "--replace").exit_code == 0
    assert json.loads(path.read_text())


def test_errors_wrap_on_a_terminal_and_nowhere_else(monkeypatch, capsys):
    text = "word " * 40
    complain(text.strip())
    assert capsys.readouterr().err.count("\n") == 1
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "50")
    complain(text.strip())
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) > 3
    assert max(map(len, lines)) <= 50


def test_new_writes_a_rig_that_check_accepts(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run("new", "white-box").exit_code == 0
    text = (tmp_path / "white-box.toml").read_text()
    assert "#" in text
    (tmp_path / "white-box.toml").write_text(text + "\n# mine\n")
    assert run("new", "white-box").exit_code == 2
    assert "# mine" in (tmp_path / "white-box.toml").read_text()
    result = run("check", "white-box.toml")
    assert result.exit_code == 0
    for words in ("copy paper", "150 x 90 mm", "135 cm2", "guide number 30 m", "2x", "11.75 x 7.8", "invented"):
        assert words in result.stdout, words
    assert run("new", "white-box", "--replace").exit_code == 0
    assert "# mine" not in (tmp_path / "white-box.toml").read_text()


# Of the white box with other lines in its head. By hand, from C GN^2 / S and 2 pi / (m + 1): cos^4 holds 1.2566 sr,
# cos^24 0.2513 sr, a fifth of it, so the same light has a guide number smaller by the square root of 5 on the axis.
@pytest.mark.parametrize(
    "lines, words",
    [
        (
            "guide_number_beam = { cos_power = 24 }",
            ["at 35 mm, which is 13.4 m with the beam in use, 80 mm"],
        ),
        ("guide_number_beam = { cos_power = 4 }", ["at 35 mm, 80 mm up"]),
        # 250 x 900 / 100 = 2250 cd s, times 1.2566 sr: 2827 lm s.
        ("energy = 20", ['Note: head "flash"', "2830 lm s", "141 for each of its 20 J", "add guide_number_beam"]),
        ("energy = 400", ["7.07 for each of its 400 J", "beyond the coverage"]),
        (
            "beam = { half_value_angle = [78, 60] }",
            ["beam.half_value_angle = [78, 60] is wider", "Half of it would be [39, 30]."],
        ),
        ("beam = { half_value_angle = 70 }", ["Is that the full angle? Half of it would be 35."]),
        ("beam = { half_value_angle = 60 }", []),
        ("energy = 75", []),  # 37.7 lm s/J
    ],
)
def test_check_tells_what_follows_from_the_numbers_of_a_head_and_asks(tmp_path, lines, words):
    text = design_path("white-box").read_text()
    table = r"^\[head\.beam\]\n(?:#.*\n)*cos_power = .*\n"
    for gone in (r"^energy = .*\n", *([table] if lines.startswith("beam") else [])):
        text, count = re.subn(gone, "", text, flags=re.MULTILINE)
        assert count == 1
    text, count = re.subn(r"^(guide_number = .*\n)", rf"\1{lines}\n", text, flags=re.MULTILINE)
    assert count == 1
    (tmp_path / "mine.toml").write_text(text)
    said = " ".join(run("check", tmp_path / "mine.toml").stdout.split())
    assert [each for each in words if each not in said] == [], said
    assert ('Note: head "flash"' in said) == any("at 35 mm" not in each for each in words)


@pytest.mark.parametrize("text, value", [("2", 2), ("2x", 2), ("1:1", 1), ("2:1", 2), (" 1 : 2 ", 0.5), ("1.5:1", 1.5)])
def test_magnifications_are_taken_as_people_write_them(text, value):
    assert options.magnification(text) == value


@pytest.mark.parametrize("text", ["1:0", ":1", "1:1:1", "life size", "nan"])
def test_what_is_no_magnification_is_refused(text):
    with pytest.raises(RigError, match="Try 2 for 2x"):
        options.magnification(text)


def test_a_ratio_picks_the_magnification_of_a_rig():
    assert "at 2x, 55 mm before the lens" in run("compare", "bare-flash", "--magnification", "2:1", *ROUGH).stdout


# The clearance that check prints without tracing is the report's figure.
def test_check_gives_the_clearance_of_the_report():
    report = lightsim.report(lightsim.trace(lightsim.load("foam-arc"), error=0.05))
    assert f"{report['clearance'].value:.1f}" in run("check", "foam-arc").stdout


def test_designs_lists_every_ready_design():
    from lightsim.rig.library import designs

    text = run("designs").stdout
    assert len(designs()) >= 15
    for design in designs():
        assert re.search(rf"^{re.escape(design.name)} +{re.escape(design.title)}", text, re.MULTILINE)


def test_vary_prints_a_line_a_value_and_writes_charts(tmp_path):
    key = next(key for key in number_keys(lightsim.load("flat-foam").data) if key.endswith(".width"))
    words = ("vary", "flat-foam", key, 60, 120, "--steps", 3, *ROUGH)
    result = run(*words, "--figure", "loss.total", "--chart", tmp_path / "a.png", "--csv", tmp_path / "a.csv")
    assert result.exit_code == 0, result.output
    assert re.findall(r"^(\d+) mm .*±", result.stdout, re.MULTILINE) == ["60", "90", "120"]
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")
    rows = csv.DictReader(io.StringIO((tmp_path / "a.csv").read_text()))
    assert {(row["varied"], row["varied_value"], row["varied_unit"]) for row in rows} == {
        (key, value, "mm") for value in ("60.0", "90.0", "120.0")
    }


def test_vary_takes_negative_values():
    result = run("vary", "bare-flash", "head.flash.right", -20, 20, "--steps", 2, "--figure", "loss.total", *ROUGH)
    assert result.exit_code == 0, result.output
    assert "-20 mm" in result.stdout


def test_figures_writes_every_picture(tmp_path):
    folder = tmp_path / "new" / "pictures"
    words = ("compare", "bare-flash", "flat-foam", "--figures", folder, *ROUGH)
    result = run(*words)
    assert result.exit_code == 0, result.output
    pictures = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert all(data.startswith(b"\x89PNG") and len(data) > 5000 for data in pictures.values())
    assert all(name in result.stdout for name in pictures)
    of_each = ("portrait-alike", "portrait-same-flash", "highlight-ball", "highlight-wing-case", "source")
    of_each += ("rig-side", "rig-front")
    of_all = ("edge-across", "edge-up-down", "hair-across", "hair-up-down", "falloff")
    of_all += ("field-across", "field-up-down", "budget", "cost", "power", "frames")
    expected = {f"{name}.png" for name in of_all}
    expected |= {f"{name}-{design}.png" for name in of_each for design in ("bare-flash", "flat-foam")}
    expected.add("pieces-flat-foam.png")  # a bare flash has none
    assert set(pictures) == expected
    (folder / "falloff.png").write_text("mine")
    (folder / "sourcery.png").write_text("not ours")
    for command in (words, ("report", "bare-flash", "--figures", folder, *ROUGH)):
        again = run(*command)
        assert again.exit_code == 2
        assert (again.stdout, "exists already" in again.output) == ("", True)  # refused before anything is computed
    assert (folder / "falloff.png").read_text() == "mine"


def test_pictures_do_not_take_other_names_for_theirs(tmp_path):
    from lightsim.page.files import require_free_folder

    (tmp_path / "sourcery.png").write_text("not ours")
    (tmp_path / "budget.svg").write_text("not ours")
    require_free_folder(tmp_path, replace=False)
    (tmp_path / "budget.png").write_text("mine")
    with pytest.raises(RigError, match="budget"):
        require_free_folder(tmp_path, replace=False)
    require_free_folder(tmp_path, replace=True)


def test_vary_draws_a_chart_for_each_figure_shown(tmp_path):
    words = ("vary", "bare-flash", "head.flash.up", 60, 80, "--steps", 2, "--figure", "loss.total", *ROUGH)
    result = run(*words, "--figure", "shadow.edge_x", "--figures", tmp_path / "charts")
    assert result.exit_code == 0, result.output
    assert sorted(path.name for path in (tmp_path / "charts").iterdir()) == ["loss-total.png", "shadow-edge_x.png"]


@pytest.mark.parametrize(
    "words",
    [
        ("compare", "no-such-design"),
        ("report", "bare-flash", "--error", "5"),
        ("report", "bare-flash", "--error", "half"),
        ("report", "nothing.toml"),
        ("check", "."),
        ("new", "white-bx"),
        ("new", "white-box", "--to", "no/such/folder/x.toml"),
        ("vary", "white-box", "no.key", "1", "2"),
        ("vary", "white-box", "diffuser.front.width", "100", "-20"),
        ("vary", "white-box", "diffuser.front.width", "100", "100"),
        ("vary", "white-box", "diffuser.front.width", "nan", "100"),
        ("vary", "bare-flash", "lens.length", "100", "120", "--steps", "2", "--figure", "size.cone", *ROUGH),
        ("compare", "--json", "-", "--csv", "-"),
        ("report", "bare-flash", "--seed", "-1"),
        ("report", "bare-flash", "--seed", "one"),
        ("report", "bare-flash", "--magnification", "large"),
        ("report", "bare-flash", "--json"),
        ("report", "bare-flash", "--stps", "4"),
        ("vary", "bare-flash", "lens.length", "1mm", "2"),
        ("vary", "bare-flash", "lens.length", "1", "2", "--steps", "1"),
        ("vary", "bare-flash", "lens.length", "1", "2", "--stps", "4"),
        ("vary", "bare-flash"),
        ("check", "bare-flash", "white-box"),
        ("reprt", "bare-flash"),
        ("--vrsion",),
    ],
)
def test_bad_input_ends_with_one_paragraph(words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run(*words)
    assert result.exit_code == 2
    assert isinstance(result.exception, SystemExit)
    text = result.output.strip()
    assert "\n" not in text
    assert "Allowed: " in text
    assert "Try " in text


def test_bad_input_goes_to_standard_error_without_a_traceback(tmp_path):
    (tmp_path / "bad.toml").write_text("title = ")
    done = cold("report", "bad.toml", cwd=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("bad.toml: line 1")
    assert done.stderr.count("\n") == 1


@pytest.mark.parametrize(
    ("words", "remedy"),
    [
        (("report", "bare-flash", "--stict"), "Try --strict."),
        (("vary", "bare-flash", "lens.length", "1", "2", "--stps", "4"), "Try --steps."),
        (("reprt", "bare-flash"), "Try lightsim report."),
        (("vary", "bare-flash"), "Try lightsim vary --help."),
    ],
)
def test_what_no_command_understands_is_told_with_what_was_meant(words, remedy):
    done = cold(*words)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.strip().endswith(remedy)


@pytest.mark.parametrize("columns", [60, 80])
def test_the_summaries_of_the_commands_are_whole(columns):
    text = cold("--help", COLUMNS=str(columns)).stdout
    assert "vary " in text
    assert "..." not in text.partition("Commands:")[2]


def test_an_interruption_ends_quietly(monkeypatch):
    def interrupted(*args):
        raise KeyboardInterrupt

    monkeypatch.setattr(lightsim, "load", interrupted)
    result = run("report", "bare-flash")
    assert (result.exit_code, result.output) == (130, "")


@pytest.mark.skipif(sys.platform == "win32", reason="signals of pipes are those of Unix")
def test_a_closed_pipe_ends_quietly():
    command = [sys.executable, "-m", "lightsim.cli", "designs"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        process.stdout.close()
        assert process.stderr.read() == ""
        assert process.wait() == 141


def test_a_report_tells_ranges_and_the_number_that_matters_most(tmp_path):
    told = run("report", "white-box", "--magnification", 1, *ROUGH).stdout
    report = lightsim.report(lightsim.trace(lightsim.load("white-box"), error=0.05))
    assert re.search(rf"Light lost in all, stops +\S+ ±\S+ +{span(report['loss.total'])}$", told, re.MULTILINE)
    assert report.heaviest.words in " ".join(told.split())
    assert "by materials" in told.partition("How big")[0]
    assert "By materials: how far" in told
    assert re.search(rf"Lost by front, stops +\S+ ±\S+ +{span(report['loss.front'])}$", told, re.MULTILINE)
    assert re.search(r"Local exponent of the falloff +\S+ ±\S+ +not reckoned$", told, re.MULTILINE)
    assert "Where each lumen went (by materials: not reckoned)" in told
    assert told.count("not reckoned") == 3  # beside the light on the lens front
    assert "No range is known" not in told
    path = tmp_path / "mine.toml"
    assert run("new", "white-box", "--to", path).exit_code == 0
    own = "[material.mine]\ndiffuse_transmittance = 0.3\n"
    path.write_text(path.read_text().replace('material = "copy paper"', 'material = "mine"') + own)
    for command in ("report", "compare"):
        told = run(command, path, *ROUGH).stdout
        assert told.count("No range is known for diffuse transmittance of mine (0.3)") == 1, told


def test_explain_tells_what_each_number_does():
    plain = run("report", "white-box", "--magnification", 1, *ROUGH, columns=200).stdout
    told = run("report", "white-box", "--magnification", 1, "--explain", *ROUGH, columns=200).stdout
    assert "How far the materials move the figures" not in plain
    explained = told.partition("How far the materials move the figures")[2]
    sentences = " ".join(explained.split())
    report = lightsim.report(lightsim.trace(lightsim.load("white-box"), error=0.05))
    for step in report.steps:
        assert step.words in explained
    low, high = report.steps[0].shifts["loss.total"]
    assert f"{low:+.2f} to {high:+.2f}" in explained
    assert "No range by materials is reckoned for falloff.exponent" in explained
    assert "budget.*" in explained
    assert "the one that moves the key figures most (size, hot spot, light lost, highlight, shadow)" in sentences
    assert "half-value angle: --window, --white, --black, --spot-width and --spot-side" in sentences


def test_json_and_csv_hold_the_ranges_and_what_each_number_does(tmp_path):
    files = tmp_path / "out.json", tmp_path / "out.csv"
    assert run("compare", "white-box", "--json", files[0], "--csv", files[1], *ROUGH).exit_code == 0
    (design,) = json.loads(files[0].read_text())["designs"]
    report = lightsim.report(lightsim.trace(lightsim.load("white-box"), error=0.05))
    assert [(each["low"], each["high"], each["moved_by"]) for each in design["figures"]] == [
        (each.low, each.high, each.moved_by) for each in report.figures
    ]
    assert sum(each["low"] is not None for each in design["figures"]) > 20
    first, step = design["steps"][0], report.steps[0]
    assert (first["material"], first["key"], first["value"], first["low"], first["high"], first["known"]) == (
        "copy paper", "diffuse_transmittance", 0.16, [0.13, 0.13], [0.2, 0.2], "derived",
    )  # fmt: skip
    assert first["shifts"]["loss.total"] == list(step.shifts["loss.total"])
    assert design["matters_most"] == report.heaviest.words
    assert design["without_range"] == []
    assert [each["low"] for each in design["verdicts"]] == [each.found.low for each in report.verdicts]
    rows = {row["name"]: row for row in csv.DictReader(io.StringIO(files[1].read_text()))}
    lost = rows["loss.total"]
    assert (float(lost["low"]), float(lost["high"])) == (report["loss.total"].low, report["loss.total"].high)
    assert lost["steps"].startswith(f"copy paper diffuse_transmittance {step.shifts['loss.total'][0]:.6g} ")
    assert rows["clearance"]["low"] == rows["clearance"]["steps"] == ""


def test_compare_says_that_designs_of_one_material_may_be_told_apart():
    words = "Designs of a common material may be told apart even where their ranges overlap"
    for designs, said in ((("white-box", "flat-paper"), True), (("white-box",), False)):
        told = " ".join(run("compare", *designs, *ROUGH).stdout.split())
        assert (words in told, told.count("Measure this next: ")) == (said, 1)


def test_a_source_that_ends_a_sentence_gets_no_second_full_stop(tmp_path):
    path = tmp_path / "mine.toml"
    assert run("new", "flat-paper", "--to", path).exit_code == 0
    own = '[material.mine]\ndiffuse_transmittance = 0.3\nsource = "Try readings (lightsim measure)."\n'
    path.write_text(path.read_text().replace('material = "copy paper"', 'material = "mine"') + own)
    told = run("check", path).stdout
    assert "Source: Try readings (lightsim measure)." in " ".join(told.split())
    assert "(lightsim measure).." not in told


# A share and the same in per cent.
@pytest.mark.parametrize(("text", "value"), [("0.005", 0.005), ("0.5%", 0.005), (" 10 % ", 0.1), ("0.05%", 0.0005)])
def test_errors_are_asked_for_as_a_share_or_in_per_cent(text, value):
    assert options.relative_error(text) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(("text", "value"), [("2", 2.0), ("2x", 2.0), (" 0.5 ", 0.5), (None, None)])
def test_magnifications_may_be_written_with_x(text, value):
    assert options.magnification(text) == value


@pytest.mark.parametrize("text", ["0", "-1%", "nan", "inf", "11%", "0.0004", "", "%"])
def test_errors_out_of_range_are_refused(text):
    with pytest.raises(RigError, match=r"Allowed: from 0\.05% to 10%"):
        options.relative_error(text)
