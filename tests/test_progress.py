"""The bar for long work: seen on a terminal alone, after a second alone, and gone in the end."""

import re
import subprocess
import sys
from contextlib import contextmanager

import pytest
from terminal import on_a_terminal, screen

import lightsim
from lightsim.cli import run
from lightsim.cli.progress import Stretch, progress
from lightsim.search.vary import vary

TITLE = "[red]Long grass[/red] :smile:"
WORK = f"""
import sys, time
from lightsim.cli.progress import progress
pause, ends = float(sys.argv[1]), sys.argv[2:]
print("before")
try:
    with progress() as whole:
        for number in range(3):
            part = whole.part(number, 3, f"{{number + 1}} of 3: {TITLE}")
            part(0.5)
            time.sleep(pause)
        if ends:
            raise ValueError
except ValueError:
    print("failed")
print("after")
"""
ON_UNIX = pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")


# Common practice, no source: a second is when a wait begins to be noticed as one.
@ON_UNIX
def test_a_bar_appears_after_a_second_and_leaves_the_screen_clean():
    written = on_a_terminal("-c", WORK, 0.8, columns=80)
    assert screen(written) == ["before", "after", ""]
    assert "━" in written
    told = re.findall(rf"(\d+) % (\d) of 3: {re.escape(TITLE)}", written)
    assert [int(each) for each, _ in told] == sorted(int(each) for each, _ in told)
    assert {number for _, number in told} >= {"2", "3"}
    assert {50, 83} <= {int(share) for share, _ in told}  # half of the second of three parts, and of the third


@ON_UNIX
def test_a_bar_is_gone_where_the_work_fails():
    assert screen(on_a_terminal("-c", WORK, 0.5, "fails")) == ["before", "failed", "after", ""]


@ON_UNIX
def test_short_work_and_terminals_that_cannot_go_back_show_nothing():
    assert on_a_terminal("-c", WORK, 0.1) == "before\r\nafter\r\n"
    assert on_a_terminal("-c", WORK, 0.4, TERM="dumb") == "before\r\nafter\r\n"


# https://no-color.org (from memory): no colours; what moves the cursor is none.
@ON_UNIX
def test_a_bar_without_colours_and_in_a_narrow_window():
    written = on_a_terminal("-c", WORK, 0.5, NO_COLOR="1", columns=40)
    assert "━" in written
    assert not re.search(r"\x1b\[[\d;]*m", written)
    drawn = re.split(r"\r\x1b\[2K|\r\n", written)
    assert max(len(re.sub(r"\x1b\[[?\d;]*[A-Za-z]", "", line)) for line in drawn) <= 40
    assert screen(written) == ["before", "after", ""]


def test_pipes_get_no_bar():
    done = subprocess.run([sys.executable, "-c", WORK, "0.4"], capture_output=True, text=True)
    assert (done.stdout, done.stderr) == ("before\nafter\n", "")


# Derived here: a part of a part of the whole; the bar never goes back.
def test_parts_make_up_the_whole():
    with progress("start") as whole:
        bar = whole.whole
        assert (bar.text, bar.share) == ("start", 0.0)
        second = whole.part(1, 4, "second")
        assert (bar.text, bar.share) == ("second", 0.25)
        second.part(1, 2)(0.5)
        assert bar.share == pytest.approx(0.25 + 0.25 * 0.75, rel=1e-12)
        second(0.1, "back")
        assert (bar.text, bar.share) == ("back", pytest.approx(0.4375, rel=1e-12))
        whole(7)
        assert bar.share == 1.0


def test_a_sweep_tells_how_far_it_is():
    told = []
    vary(lightsim.load("flat-foam"), "diffuser.foam.width", [40, 80, 120, 160], error=0.1, progress=told.append)
    assert told == [0.25, 0.5, 0.75, 1.0]


def test_tracing_several_designs_tells_which(monkeypatch):
    told = []

    @contextmanager
    def recorded():
        with progress() as whole:
            yield whole
            told.append(whole.whole.share)

    part = Stretch.part
    monkeypatch.setattr(run, "progress", recorded)
    monkeypatch.setattr(Stretch, "part", lambda *words: told.append(words[1:]) or part(*words))
    foam = lightsim.load("flat-foam")
    results = run.traced([(foam, 0), (foam, 1)], run.Asked(0.1, 1, False))
    assert [each.report.magnification for each in results] == list(foam.rig.camera.magnification[:2])
    assert told == [(0, 2, "1 of 2: Flat foam"), (1, 2, "2 of 2: Flat foam"), 0.5]
