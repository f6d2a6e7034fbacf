"""What commands print: tables and sentences at any width, bold where a terminal shows it, plain text in a pipe."""

import os
import re
import subprocess
import sys
from collections import Counter
from dataclasses import replace

import pytest
from rich.cells import cell_len
from terminal import on_a_terminal

import lightsim
from lightsim.cli.compare import comparison
from lightsim.cli.holds import contents
from lightsim.cli.layout import Cell, Line, Row, say, sentence, table
from lightsim.cli.materials import listed as materials
from lightsim.cli.run import Asked, traced
from lightsim.cli.sweep import swept
from lightsim.cli.tell import told
from lightsim.light.estimate import Estimate
from lightsim.measure.report import Second
from lightsim.search.vary import vary

ROUGH = ("--error", "5%")
WIDTHS = (40, 60, 80, 100, 200)
ON_UNIX = pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
MATERIAL = ("-m", "lightsim.cli", "materials", "packing", "foam")  # prints a table, and soon


def piped(*words, **environment):
    env = {name: value for name, value in os.environ.items() if name not in ("NO_COLOR", "FORCE_COLOR")}
    env |= {"COLUMNS": "100", **environment}
    encoding = environment.get("PYTHONIOENCODING", "utf-8")
    return subprocess.run([sys.executable, *words], capture_output=True, env=env, encoding=encoding)


def texts(*words, **options):
    return [line.text for line in table(*words, **options)]


def figures(text):
    """Values with error bars, and ranges, as often as each is told."""
    words = " ".join(text.split()).replace("10 to ", "")  # as in the label "10 to 90 % width", which may be broken
    return Counter(re.findall(r"-?[\d.]+ ±[\d.]+", words) + re.findall(r"-?[\d.]+ to -?[\d.]+", words))


def test_spans_stand_beside_values_where_there_is_room_and_below_them_elsewhere():
    rows = [
        Row("group"),
        Row("  alpha", (Cell("1.0", "±0.1", "0.5 to 2"), Cell("2"))),
        Row("  b", (Cell("3"), Cell("4"))),
    ]
    wide = texts("name", ["first", "second"], rows, columns=60)
    assert "  alpha  1.0 ±0.1   0.5 to 2       2" in wide
    assert [line.split() for line in wide[:2]] == [["by"], ["name", "first", "materials", "second"]]
    narrow = texts("name", ["first", "second"], rows, columns=34)
    at = narrow.index("  alpha       1.0 ±0.1       2")
    assert narrow[at + 1] == "by materials  0.5 to 2"
    assert narrow[at + 2].split() == ["b", "3", "4"]
    assert max(map(len, narrow)) <= 34
    narrowest = texts("name", ["first", "second"], rows, columns=28)
    assert sum("by materials" in line for line in narrowest) == 1  # not beside the second column, which has none


def test_tables_split_by_columns_and_repeat_the_labels():
    rows = [
        Row("heading"),
        Row("alpha", (Cell("1.0", "±0.1"), Cell("2"))),
        Row("beta", (Cell("10.0", "±2"), Cell("3"))),
    ]
    lines = texts("name", ["first", "second"], rows, columns=20)
    assert lines.count("heading") == 2
    assert "alpha   1.0 ±0.1" in lines
    assert "beta   10.0 ±2" in lines
    assert max(map(len, lines)) <= 20


# By hand: labels of 5 and columns of 6 with a gap of 2 each, so that seven fit in 61, six in 60, three in 29.
def test_columns_that_do_not_fit_are_shared_out_evenly():
    rows = [Row("alpha", tuple(Cell("1" * 6) for _ in range(7)))]
    for room, expected in ((61, [7]), (60, [3, 4]), (29, [2, 2, 3]), (21, [1, 2, 2, 2])):
        lines = texts("name", [str(each) for each in range(7)], rows, columns=room)
        assert [line.count("111111") for line in lines if line.startswith("alpha")] == expected
        assert max(map(len, lines)) <= room


def test_a_long_head_of_labels_is_wrapped():
    lines = texts("a very, very long head", ["1"], [Row("alpha", (Cell("1" * 10),))], columns=24)
    assert max(map(len, lines)) <= 28  # labels never get less than 16 columns
    assert [line.split() for line in lines[:2]] == [["a", "very,", "very"], ["long", "head", "1"]]


def test_sentences_do_not_part_numbers_from_units():
    lines = [line.text for line in sentence("about a length of 12 mm or so", columns=20)]
    assert lines == ["about a length of", "12 mm or so"]


def test_labels_and_heads_do_not_part_numbers_from_units():
    rows = [Row("about a length of 12 mm or so", (Cell("9" * 10),)), Row("in all 7 lx s per lm s", (Cell("9"),))]
    lines = texts("a label", ["150 mm behind"], rows, columns=32)
    assert [line[:20].rstrip() for line in lines[3:]] == [
        "about a length of",
        "  12 mm or so",
        "in all 7 lx s per",
        "  lm s",
    ]
    assert [line[20:].split() for line in lines[:2]] == [["150", "mm"], ["behind"]]


# Derived here: every line of a table fits, every figure stands in it whole, every word of every label too.
@pytest.mark.parametrize("columns", WIDTHS)
def test_tables_fit_the_window_and_lose_nothing(columns):
    heads = ["highlight against a white card, stops", "width and height seen, mm", "known", "1x, 95 mm"]
    values = [
        ("Foam arc over the subject", "-2.22", "±0.05", "-2.25 to -2.20", "23.5 x 15.6", "from memory"),
        ("  Shadow of an edge, 1 mm above the surface, up and down: 10 to 90 % width, mm", "0.001", "", "3 or more",
         "11.75 x 7.8", "derived"),
        ("unbroken_and_far_too_long_for_a_column_of_labels_in_a_window", "12345", "±100", "", "1", "assumed"),
    ]  # fmt: skip
    rows = [Row("A heading that is longer than the narrowest of the windows that there are")]
    for label, value, error, span, size, known in values:
        rows.append(Row(label, (Cell(value, error, span), Cell(size), Cell("", known), Cell("kept, 1.95"))))
    lines = texts("design", heads, rows, columns=columns)
    assert max(map(cell_len, lines)) <= columns
    assert not any(line.endswith(" ") or "\N{HORIZONTAL ELLIPSIS}" in line for line in lines)
    squeezed = [re.sub(" +", " ", line) for line in lines]
    for _, value, error, span, size, known in values:
        for words in (f"{value} {error}".strip(), span, size, known, "kept, 1.95"):
            assert any(words in line for line in squeezed), words
    assert any("1 mm" in line for line in lines)
    assert any("90 %" in line for line in lines)
    for row in rows:
        alone = texts("", ["mm"], [Row(row.label, (Cell(""),))], columns=columns)
        assert "".join("".join(alone[2:]).split()) == "".join(row.label.split())


def test_error_bars_and_both_ends_of_ranges_stand_below_each_other():
    rows = [
        Row("a", (Cell("1.0", "±0.1", "-0.5 to 2"),)),
        Row("b", (Cell("-10", "±2", "3 to 12.25"),)),
        Row("c", (Cell("below", "0.3", "not reckoned"),)),
    ]
    for columns in (60, 24):
        lines = texts("name", ["size"], rows, columns=columns)
        assert len({line.index("±") for line in lines if "±" in line}) == 1
        assert len({line.index(" to ") for line in lines if " to " in line}) == 1
        below, bar = (next(line for line in lines if sign in line) for sign in ("below", "±"))
        assert below.index("0.3") == bar.index("±")
    assert ["a", "1.0", "±0.1", "-0.5", "to", "2"] in [line.split() for line in texts("n", ["s"], rows, columns=60)]


# Signs of Chinese and Japanese take two columns each (Unicode Standard Annex 11).
def test_wide_signs_count_twice():
    rows = [Row("日本" * 9, (Cell("1.5"),)), Row("plain", (Cell("2.5"),))]
    for columns in (60, 24):
        lines = texts("name", ["mm"], rows, columns=columns)
        assert max(map(cell_len, lines)) <= columns
        assert len({cell_len(line.partition(".")[0]) for line in lines if "." in line}) == 1
        assert "".join(lines).count("日") == 9


@pytest.fixture(scope="module")
def printed():
    """What commands print, as functions of nothing, from light traced once."""
    asked = Asked(0.05, 1, backward=False)
    boxes = traced([(lightsim.load("white-box"), index) for index in (0, 1)], asked)
    both = Second(Estimate(2.7e-6, 1e-8), Estimate(2.8e-6, 2e-8))
    boxes = [replace(each, report=replace(each.report, second=both)) for each in boxes]
    three = [boxes[0], *traced([(lightsim.load(name), 0) for name in ("bare-flash", "foam-arc")], asked)]
    foam = vary(lightsim.load("flat-foam"), "diffuser.foam.width", [40, 240], error=0.05)
    return {
        "report": lambda: told(boxes, asked, everything=True),
        "compare": lambda: comparison(three, asked),
        "vary": lambda: swept(foam, asked),
        "explain": lambda: told(boxes, asked, explain=True),
        "check": lambda: contents(lightsim.load("white-box")),
        "materials": materials,
    }


@pytest.mark.parametrize("columns", WIDTHS)
def test_commands_fit_the_window_and_tell_every_figure(printed, columns, monkeypatch, capsys):
    for name, lines in printed.items():
        found = []
        for each in (300, columns):
            monkeypatch.setenv("COLUMNS", str(each))
            say(lines())
            found.append(capsys.readouterr().out)
        assert max(map(len, found[1].splitlines())) <= columns, name
        # Labels are repeated where a table is split, and so are their numbers.
        wide, narrow = (figures(text) for text in found)
        if name in ("report", "compare", "vary"):
            assert len(narrow) >= 10
            assert set(narrow) == set(wide), name
            assert all(narrow[each] >= wide[each] for each in wide), name


# An open convention, https://no-color.org (from memory): NO_COLOR, if not empty, stops all colour codes.
@ON_UNIX
def test_terminals_get_bold_headings_unless_they_are_not_to():
    assert "\x1b[1m" in on_a_terminal(*MATERIAL)
    assert "\x1b[1m" in on_a_terminal(*MATERIAL, NO_COLOR="")
    assert "\x1b" not in on_a_terminal(*MATERIAL, NO_COLOR="0")
    assert "\x1b" not in on_a_terminal(*MATERIAL, TERM="dumb")


# https://force-color.org (from memory): FORCE_COLOR, if not empty, asks for codes where there is no terminal.
def test_pipes_get_plain_text_unless_codes_are_asked_for():
    plain = piped(*MATERIAL).stdout
    assert "\x1b" not in plain
    assert not any(line.endswith(" ") for line in plain.splitlines())
    forced = piped(*MATERIAL, FORCE_COLOR="1", TERM="xterm").stdout
    assert "\x1b[1m" in forced
    assert re.sub(r"\x1b\[[\d;]*m", "", forced) == plain
    assert piped(*MATERIAL, FORCE_COLOR="1", NO_COLOR="1", TERM="xterm").stdout == plain


@ON_UNIX
def test_a_terminal_shows_the_lines_of_a_pipe():
    shown = re.sub(r"\x1b\[[\d;]*m", "", on_a_terminal(*MATERIAL, columns=100)).replace("\r\n", "\n")
    assert shown == piped(*MATERIAL).stdout


@ON_UNIX
def test_a_closed_pipe_ends_quietly_even_where_codes_are_asked_for():
    env = {**os.environ, "FORCE_COLOR": "1", "TERM": "xterm"}
    with subprocess.Popen(
        [sys.executable, *MATERIAL], stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=env
    ) as child:
        child.stdout.close()
        assert child.stderr.read() == b""
        assert child.wait() == 141


SAID = "from lightsim.cli.layout import *; say([*table('name', ['mm'], [Row({0!r}, (Cell('1'),))]), Line({0!r}, True)])"
ODD = "[bold]x[/bold] [red] :smile: [link=a]b[/] \\[i] 12 https://example.org/a"


@ON_UNIX
def test_nothing_is_read_into_the_words_of_a_user():
    code = SAID.format(ODD)
    plain = piped("-c", code).stdout
    assert plain.count(ODD) == 2
    shown = on_a_terminal("-c", code, columns=100)
    assert re.sub(r"\x1b\[0?1?m", "", shown).replace("\r\n", "\n") == plain  # bold, and its end, is all there is


def test_a_title_cannot_steer_the_terminal(capsys):
    say([Line("a\x1b[31mb\x9b2Jc\nd\u202ee"), *table("name", ["mm"], [Row("x\x1b[2J\ty\nz", (Cell("1"),))])])
    told = capsys.readouterr().out
    assert told.splitlines()[0] == "a [31mb 2Jc d e"
    assert re.search(r"^x \[2J y z +1$", told, re.MULTILINE)
    assert all(sign.isprintable() or sign == "\n" for sign in told)


@pytest.mark.parametrize(("encoding", "sign"), [("ascii", "+-"), ("latin-1", "±")])
def test_output_fits_encodings_without_the_signs_of_tables(encoding, sign):
    code = (
        "from lightsim.cli.layout import *; cells = Cell('1', '±0.1'), Cell('2', '±13'); "
        "say([*sentence('café — 5 mm × 9 mm ' * 9), *table('name', ['a', 'b'], [Row('one', cells)])])"
    )
    done = piped("-c", code, PYTHONIOENCODING=encoding, PYTHONUTF8="0")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[-1] == f"one   1 {sign}0.1  2 {sign}13"
    assert lines[-2] == "-" * len(lines[-1])
    assert ("cafe - 5 mm x 9 mm" if encoding == "ascii" else "café - 5 mm × 9 mm") in lines[0]
    assert max(map(len, lines)) <= 100


def test_a_heading_wider_than_the_window_is_wrapped(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")
    long = "source = " + "x" * 50
    say([Line("Illuminance facing the lens by two independent estimators", bold=True), Line(long)])
    assert capsys.readouterr().out.splitlines() == [
        "Illuminance facing the lens by two", "independent estimators", long,
    ]  # fmt: skip
