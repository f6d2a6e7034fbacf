"""The plan of a shot: worked by hand, against itself when its advice is followed, and for every ready design."""

from __future__ import annotations

import json
import math
import re
import shlex
from dataclasses import replace
from pathlib import Path

import pytest
from typer.main import get_command
from typer.testing import CliRunner

import lightsim
from lightsim.cli import app
from lightsim.measure.report import report as bare_report
from lightsim.rig.errors import RigError
from lightsim.rig.keys import with_value
from lightsim.rig.library import design_files
from lightsim.rig.load import LoadedRig, load, load_data, loads
from lightsim.shot.changes import TROUBLES, changes, frozen, ghost, ready_words, smeared, stopped
from lightsim.shot.focus import airy_diameter
from lightsim.shot.plan import Background, Fits, Plan, has_plan, plan_of
from lightsim.shot.spoken import in_percent, in_stops, two_figures
from lightsim.shot.words import (
    SAID,
    answer,
    background_words,
    colour_words,
    focus_words,
    frame_steps,
    histogram,
    motion_words,
    settings,
)

DOCS = Path(__file__).parent.parent / "docs"

# A small head far away, on the axis of a lens that is farther, and nothing else: all of it can be worked out by hand.
FAR = """
title = "A far head"
camera = { sensor = [36, 24], magnification = 0.1, sync = "1/200" }
lens = { working_distance = 3000, diameter = 1, length = 1, f_number = 8 }
subject = { background = [1000] }
[[head]]
from = "subject"
toward_lens = 2000
window = [1, 1]
beam = { cos_power = 4 }
guide_number = 40
recycle = 2
flashes = 100
[shot]
iso = 100
ambient = 0
"""


def planned(loaded: LoadedRig, *, index: int = 0, error: float = 0.05) -> Plan:
    """The plan without the ranges of the materials, which take most of the time."""
    light = lightsim.trace(loaded, magnification=index, error=error)
    return plan_of(light, bare_report(light))


def changed(loaded: LoadedRig, **values: float | str) -> LoadedRig:
    data = loaded.data
    for key, value in values.items():
        data = with_value(data, key.replace("__", "."), value)
    return load_data(data, file=loaded.file, folder=loaded.folder)


# Guide number 40 m at ISO 100 over 2 m is f/20 for mid-grey (definition of the guide number, ISO 1230, from memory).
# The lens works at 8 (1 + 0.1) = f/8.8, so 2 log2(20 / 8.8) = 2.3689 stops are left: 1/5.165 of full power is wanted.
def test_a_far_head_by_hand():
    plan = planned(loads(FAR))
    assert plan.working_f_number == pytest.approx(8.8)
    assert plan.headroom.value == pytest.approx(2 * math.log2(20 / 8.8), abs=5e-4)
    assert 1 / plan.wanted == pytest.approx((20 / 8.8) ** 2, rel=4e-4)
    assert plan.fits is Fits.WELL
    assert plan.start.power == pytest.approx(2 ** (-7 / 3))  # the third of a stop nearest to 2.369
    assert plan.off == pytest.approx(2.3689 - 7 / 3, abs=1e-3)
    assert plan.left == pytest.approx(7 / 3)
    assert (plan.start.recycle, plan.start.flashes) == (pytest.approx(2 / 5.0397, rel=1e-4), 503)
    # C = 250 is 8.8^2 x 250 / 100 lx s; K = 12.5 with a card of 18 % is 0.1965 stops less, C = 330 0.4005 more.
    assert [level.needed for level in plan.levels] == pytest.approx([168.95, 193.6, 255.55], rel=1e-4)
    # The background a metre farther: twice log2(3 / 2) stops darker.
    assert plan.backgrounds[0].all == pytest.approx(-2 * math.log2(3 / 2), abs=2e-3)
    assert "1/5.2 of full power" in answer(plan)
    assert "1/5.9 to 1/3.9 by what meters call mid-grey" in answer(plan)


# 193.6 lx s are wanted; daylight of 9680 lx gives a quarter of it in 1/200 s, so the flash has to give three quarters.
def test_the_day_does_its_share():
    dark, day = planned(loads(FAR)), planned(changed(loads(FAR), shot__ambient=9680))
    assert day.day == pytest.approx(48.4)
    assert day.wanted == pytest.approx(0.75 * dark.wanted, rel=1e-6)
    assert day.day_share == pytest.approx(48.4 / (48.4 + day.flash))
    both = (day.flash / 2.25 + 48.4) / (day.flash + 48.4)  # 1/2.25 of the flash arrives at 3 m of what does at 2 m
    assert day.backgrounds[0].all == pytest.approx(math.log2(both), abs=2e-3)
    assert day.colour.ambient_share == pytest.approx(day.day_share)


@pytest.mark.parametrize(
    "given, fits, words",
    [
        (
            {"lens__f_number": 32},
            Fits.TOO_WEAK,
            "even at full power the picture is 1.9 stops too dark. ISO 400 would do",
        ),
        ({"lens__f_number": 1}, Fits.TOO_STRONG, "even at its least power, 1/128, the picture is 1.4 stops too bright"),
        (
            {"shot__ambient": 60_000},
            Fits.DAY_ALONE,
            "even at the least power of the flash, 1/128, the picture is 0.7 stops too bright",
        ),
    ],
)
def test_what_the_flash_cannot_do_is_said(given, fits, words):
    # At f/32 full power lacks 2 log2(35.2 / 20) = 1.63 stops, and 0.28 more: of its pulse, t0.5 = 1/500 s, the shutter
    # lets 1 - 2^-2.5 = 82 % in. 300 lx s of the day are 0.63 stops above 193.6, and the flash gives a little too.
    plan = planned(changed(loads(FAR), **given))
    assert plan.fits is fits
    assert words in answer(plan)
    assert plan.start.power == {Fits.TOO_WEAK: 1.0}.get(fits, 1 / 128)


# The placement of mid-grey and the subject's own reflectance (derived here): a card of 18 % in place of a beetle of
# 4.5 % that shall come out a stop darker than mid-grey comes out two stops less one brighter.
def test_placement_and_reflectance():
    plan = planned(changed(loads(FAR), shot__placement=-1, subject__reflectance=0.045))
    assert plan.headroom.value == pytest.approx(2 * math.log2(20 / 8.8) - 1, abs=5e-4)
    assert "belongs at 63 % of the width" in frame_steps(plan)[2]


# IEC 61966-2-1 by hand: linear 0.18 is 0.4614 (118 of 255), 0.36 is 0.6343, 0.09 is 0.3318, 1 is 1.
@pytest.mark.parametrize("stops, place", [(0, 0.4614), (1, 0.6343), (-1, 0.3318), (math.log2(1 / 0.18), 1.0), (9, 1.0)])
def test_mid_grey_in_the_histogram(stops, place):
    assert histogram(stops) == pytest.approx(place, abs=5e-5)


# ISO 517 (from memory): marked f-numbers are powers of root two, rounded.
@pytest.mark.parametrize(
    "f_number, stops, expected", [(8, 1, 11), (8, -1, 5.6), (11, 1, 16), (6.3, 1, 8.9), (64, 1, 91)]
)
def test_marked_f_numbers(f_number, stops, expected):
    assert stopped(f_number, stops) == expected


KEYS = {"power": "shot__power", "ISO": "shot__iso", "f/": "lens__f_number", "shutter": "shot__shutter"}


def _as_values(do: str) -> dict[str, float | str]:
    """What an advice means for the rig file."""
    values: dict[str, float | str] = {}
    for part in do.split(" and "):
        if found := re.fullmatch(r"(power|ISO|f/|shutter) ?(.+)", part):
            key = {"power": "shot__power", "ISO": "shot__iso", "f/": "lens__f_number", "shutter": "shot__shutter"}[
                found[1]
            ]
            values[key] = found[2] if found[1] in ("power", "shutter") else float(found[2])
        elif part == "full shade over the subject":
            values["shot__ambient"] = 0.0
    return values


@pytest.mark.parametrize(
    "given",
    [
        {},
        {"shot__ambient": 20_000.0, "shot__shake": 100.0, "shot__shutter": "1/60"},
        {"shot__wind": 5000.0, "shot__ambient": 100.0},
        {"shot__ambient": 50_000.0, "camera__base_iso": 50},
    ],
)
def test_following_the_advice_does_what_it_says(given):
    """Each change made in the rig file, with the power of the plan, changes the picture by the stops it names."""
    loaded = changed(load("flat-foam"), **given)
    before = planned(loaded)
    tried = 0
    for change in changes(before):
        values = _as_values(change.do)
        if not values:
            continue
        tried += 1
        after = planned(changed(loaded, **{"shot__power": before.start.power, **values}))
        # Marked f-numbers are rounded by up to 0.1 stops.
        rounding = 0.11 if "lens__f_number" in values else 1e-6
        assert after.off - before.off == pytest.approx(change.picture, abs=rounding), change
        assert after.left == pytest.approx(change.left, abs=1e-6), change
    assert tried >= 6


# Common practice, no source, for the thresholds; what follows from them by hand: 1x, 0.5 mm/s x 5 ms is less than the
# blur circle of 0.0188 mm, 100 mm/s is 0.5 mm; 20 000 lx in 1/200 s are 100 lx s against some 320.
def test_a_ghost_needs_movement_and_daylight():
    loaded = load("flat-foam")
    still = planned(changed(loaded, shot__ambient=20_000, shot__shake=0.5, shot__wind=0))
    moving = planned(changed(loaded, shot__ambient=20_000, shot__shake=100))
    dark = planned(changed(loaded, shot__ambient=100, shot__shake=100))
    assert [ghost(each) for each in (still, moving, dark)] == [False, True, False]
    assert "may show beside the sharp one" in motion_words(moving)
    assert any("shade" in change.do for change in changes(moving))
    assert not any("shutter" in change.do for change in changes(moving))  # as short as flash allows
    slow = planned(changed(loaded, shot__ambient=20_000, shot__shake=100, shot__shutter="1/30"))
    assert next(change.do for change in changes(slow) if change.trouble == "too shaky") == "shutter 1/200 s"
    fast = planned(changed(loaded, shot__wind=5000))
    assert frozen(still)
    assert not frozen(fast)
    assert motion_words(fast).partition("sharp: ")[2].startswith("blurred")


# PH-43: a curtain of 4 ms leaves 1 ms of 1/200 s; t0.5 of 1/200 s at full power is a time constant of 7.2135 ms, of
# whose pulse 1 - exp(-1 / 7.2135) = 12.94 % comes in that time.
def test_a_long_pulse_is_cut_by_the_curtain():
    text = FAR.replace('sync = "1/200"', 'sync = "1/200", curtain = 0.004')
    text = text.replace("recycle", 'duration = "1/200"\nrecycle')
    plan = planned(changed(loads(text), shot__power="full"))
    assert plan.inside == pytest.approx(0.1294, abs=5e-5)
    assert "Only 13 % of the pulse" in motion_words(plan)
    # Without a known curtain the shutter time itself: 1/500 s is a time constant of 2.885 ms, 1 - 2^(-2.5).
    assert planned(changed(loads(FAR), shot__power="full")).inside == pytest.approx(0.82322, abs=5e-6)
    assert planned(changed(loads(FAR), shot__power="full")).motion.flash_time == pytest.approx(1 / 200)


# Common practice, no source: ISO 200, f/8, 1/200 s and about 1/16 power for a paper sheet with a hole at life size. The
# invented flash of the ready design is no evidence; that its plan says something else than a stop beside it would be.
def test_the_usual_start_is_near_the_plan_of_the_paper_sheet():
    plan = planned(load("flat-paper"))
    assert (plan.iso, plan.f_number, plan.shutter) == (200, 8, pytest.approx(1 / 200))
    assert abs(math.log2(plan.wanted * 16)) < 1


DESIGNS = sorted(design_files())


@pytest.mark.parametrize("name", DESIGNS)
def test_every_ready_design_has_a_plan_without_contradictions(name):
    loaded = load(name)
    for index in range(len(loaded.rig.camera.magnification)):
        plan = planned(loaded, index=index, error=0.05)
        assert plan.fits is Fits.WELL
        assert abs(plan.off) <= 1 / 6 + 0.02  # on a ladder of thirds
        without_day = plan.headroom.value + math.log2(plan.needed / (plan.needed - plan.day))
        assert plan.left == pytest.approx(without_day, abs=0.2)
        assert plan.rungs[0].power == 1 > plan.rungs[-1].power
        assert plan.start in plan.rungs
        assert {change.trouble for change in changes(plan)} == set(TROUBLES)
        assert all(change.left >= 0 for change in changes(plan))
        assert background_words(plan)
        assert all(not each.warn and not each.unknown for each in plan.warming)


@pytest.mark.parametrize("value", [None, 0.0])
def test_without_light_from_before_there_is_no_plan(value):
    light = lightsim.trace(loads(FAR), error=0.05)
    report = bare_report(light)
    dark = [replace(each, value=value) if each.name == "exposure.full_power" else each for each in report.figures]
    with pytest.raises(RigError, match=r"no light falls on the side of the subject that faces the lens"):
        plan_of(light, replace(report, figures=tuple(dark)))


def test_the_command_writes_what_it_says(tmp_path):
    out = tmp_path / "plan.json"
    done = CliRunner().invoke(
        app, shlex.split(f"shot flat-paper --error 2% --json {out} --card {tmp_path / 'card.pdf'}")
    )
    assert done.exit_code == 0, done.output
    document = json.loads(out.read_text())
    first, second = document["plans"]
    assert (first["magnification"], second["magnification"]) == (1, 2)
    assert first["settings"] in done.stdout
    assert first["fits"] == "on the ladder"
    assert len(first["rungs"]) == 22
    assert first["headroom"]["unit"] == "stops"
    assert {change["trouble"] for change in first["changes"]} == set(TROUBLES)
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF")
    again = CliRunner().invoke(app, shlex.split(f"shot flat-paper --json {out}"))
    assert again.exit_code == 2
    alone = CliRunner().invoke(app, shlex.split("shot bare-flash --error 5% --magnification 1 --json -"))
    assert json.loads(alone.stdout)["plans"][0]["title"] == "Bare flash"


@pytest.mark.parametrize(
    "option, words",
    [
        ("--shutter 1/500", "shorter than camera.sync, 1/200 s"),
        ("--power 1/512", 'below the least power of "flash", 1/128'),
        ("--iso 0", "shot.iso = 0: this is too small"),
        ("--f-number 0", "lens.f_number = 0: this is too small"),
        ("--ambient=-5", "shot.ambient = -5: this is too small"),
        ("--power bright", "this is no power of a flash"),
        ("--paper A9", "cards are not made for this paper. Allowed: A4, Letter"),
        ("--magnification 3", "the rig has no such magnification"),
    ],
)
def test_settings_that_no_camera_has_are_refused(option, words):
    done = CliRunner().invoke(app, shlex.split(f"shot flat-paper {option}"))
    assert done.exit_code == 2
    assert words in done.output


PAGE = (DOCS / "shot.md").read_text(encoding="utf-8")


def test_the_page_on_the_shot_tells_true_numbers():
    light = lightsim.trace(load("flat-paper"))
    plan = plan_of(light, lightsim.report(light))
    assert settings(plan) in PAGE
    printed = " ".join(PAGE.split())
    shown = re.search(r"1x: (ISO 200.*? above this setting\.)", printed)
    assert shown is not None
    assert shown[1] == f"{settings(plan)}. {answer(plan)}"
    assert f"{abs(math.log2(plan.wanted * 16)):.1f} stops lie between the two" in printed
    # Half fields of 36 x 24 mm at 35 mm (geometry), the histogram, the guide number of a flash 0.7 stops weaker.
    assert f"{math.degrees(math.atan(18 / 35)):.0f}° and {math.degrees(math.atan(12 / 35)):.0f}° at 35 mm" in printed
    assert f"2^(-0.7/2) = {2 ** (-0.35):.2f}" in printed
    for stops, where in ((0, "46 %"), (1, "63 %"), (-1, "33 %")):
        assert f"{100 * histogram(stops):.0f} %" == where
        assert where in printed


@pytest.mark.parametrize("command", re.findall(r"^\$ lightsim (.+)$", PAGE, flags=re.MULTILINE))
def test_commands_of_the_page_exist(command):
    known = get_command(app).commands
    name, *words = shlex.split(command)
    options = {option for param in known[name].params for option in param.opts}
    assert {word for word in words if word.startswith("--")} <= options


def test_keys_of_the_page_are_keys_of_rig_files():
    """Every row of its tables, put into a ready design, loads."""
    text = design_files()["flat-paper"].read_text()
    rows = re.findall(r"^\|[^|]+\| (`.+?) \|$", PAGE, flags=re.MULTILINE)
    tried = 0
    for row in rows:
        for line in re.findall(r"`(\w+ = [^`]+)`", row):
            key = line.partition(" = ")[0]
            if key in ("magnification", "working_distance", "half_value_angle", "shutter", "guide_number_beam"):
                continue  # tried below, or in pairs
            table = (
                "[[head]]"
                if key in ("guide_number", "guide_number_unit", "iso", "zoom")
                or key.startswith(("power", "duration", "recycle", "flashes", "kelvin", "energy"))
                else "[lens]"
            )
            before, here, after = text.partition(table)
            own = re.sub(rf"^{key} = .*\n", "", after, count=1, flags=re.MULTILINE)
            loads(f"{before}{here}\n{line}{own}")
            tried += 1
    assert tried >= 15


@pytest.fixture(scope="module")
def far() -> Plan:
    return planned(loads(FAR))


# Recharging goes as the power (derived in shot/ladder.py): a fifth of 2 s is 0.4 s, which is less than the half second
# between two frames.
def test_the_pace_of_a_burst_is_the_slower_of_flash_and_hand(far):
    assert far.pace == 0.5
    assert planned(changed(loads(FAR), shot__power="full")).pace == 2
    assert planned(loads(FAR.replace("recycle = 2\n", ""))).pace == 1  # a choice, no source


# SF-16 counts 20 flashes. Twice the power is twice the heat (balance of energy).
def test_heat_is_that_of_the_power_set():
    full, half = (planned(changed(load("flat-foam"), shot__power=power)) for power in ("full", "1/2"))
    assert full.warming[0].flashes == 20
    assert full.warming[0].rise.value == pytest.approx(2 * half.warming[0].rise.value)


# H = 0.65 L t / N^2 with L t = 0.18 E t / pi, and E t = C N^2 / S with C = 250 (ISO 12232 and ISO 2720, as in PH-21):
# 0.65 x 0.18 x 250 / (100 pi) = 0.0931 lx s on the sensor at ISO 100, through any lens, by day and flash together.
@pytest.mark.parametrize(
    "given", [{}, {"lens__transmittance": 0.5}, {"shot__ambient": 9680}, {"camera__magnification": 1.0}]
)
def test_a_right_picture_has_the_right_light_on_the_sensor(given):
    plan = planned(changed(loads(FAR), **given))
    assert plan.sensor == pytest.approx(0.65 * 0.18 * 2.5 / math.pi * 2**plan.off, rel=1e-9)


# As test_a_long_pulse_is_cut_by_the_curtain: of half the light that a full pulse has, 12.94 % of it is 25.89 %; and of
# two heads the slower counts, a time constant of 0.72 ms having given 75 % = 1 - 2^(-2) by then.
def test_the_cut_pulse_is_that_of_the_power_set_and_of_the_slowest_head():
    text = FAR.replace('sync = "1/200"', 'sync = "1/200", curtain = 0.004')
    text = text.replace("recycle", 'duration = "1/200"\nrecycle')
    assert planned(changed(loads(text), shot__power="1/2")).inside == pytest.approx(0.2589, abs=5e-5)
    quick = text.replace('duration = "1/200"', 'name = "quick"\nduration = "1/2000"')
    both = text.replace("[shot]", quick[quick.index("[[head]]") : quick.index("[shot]")] + "[shot]")
    assert planned(changed(loads(quick), shot__power="full")).inside == pytest.approx(0.75, abs=5e-5)
    assert planned(changed(loads(both), shot__power="full")).inside == pytest.approx(0.1294, abs=5e-5)


def test_heads_without_a_stated_time_are_named(far):
    assert far.assumed == ("flash",)
    assert planned(loads(FAR.replace("recycle", 'duration = "1/200"\nrecycle'))).assumed == ()


# By hand: f/20 at the sensor is full power to the dot, 1.1 times as marked; f-numbers go as root two to the stops. A
# ladder of thirds ends at 1/128, 7 stops down; half a step below it, 1/6, it still is the nearest.
@pytest.mark.parametrize(
    "stops, fits",
    [(0.3, Fits.TOO_WEAK), (0.03, Fits.WELL), (-7.1, Fits.WELL), (-7.3, Fits.TOO_STRONG)],
)
def test_where_the_ladder_ends(stops, fits):
    brief = changed(loads(FAR), head__flash__duration="1/5000")  # all of it comes while the shutter is open
    plan = planned(changed(brief, lens__f_number=20 / 1.1 * 2 ** (stops / 2)))
    assert math.log2(plan.wanted) == pytest.approx(stops, abs=1e-3)
    assert plan.fits is fits


def test_where_the_day_is_enough_no_power_is_wanted():
    plan = planned(changed(loads(FAR), shot__ambient=60_000))
    assert [level.power for level in plan.levels] == [0, 0, 0]


# 48.4 lx s by the day are all that a background without flash gets: log2(48.4 / (48.4 + flash)) by hand.
@pytest.mark.parametrize("ambient, words", [(9680, "stops darker"), (0, "black 1000 mm behind")])
def test_a_background_that_the_flash_does_not_reach(ambient, words):
    light = lightsim.trace(changed(loads(FAR), shot__ambient=ambient), error=0.05)
    report = bare_report(light)
    dark = [
        replace(each, value=None) if each.name.startswith("falloff.background") else each for each in report.figures
    ]
    plan = plan_of(light, replace(report, figures=tuple(dark)))
    expected = math.log2(plan.day / (plan.day + plan.flash)) if ambient else None
    assert plan.backgrounds[0].all == (None if expected is None else pytest.approx(expected))
    assert words in background_words(plan)


def test_no_light_is_no_plan():
    report = bare_report(lightsim.trace(loads(FAR), error=0.05))
    assert has_plan(report)
    dark = [replace(each, value=0.0) if each.name == "exposure.full_power" else each for each in report.figures]
    assert not has_plan(replace(report, figures=tuple(dark)))


# 2.37 stops are wanted below full (see test_a_far_head_by_hand): 5/3 below is 0.7 stops too bright.
def test_a_power_that_is_off_is_said():
    plan = planned(changed(loads(FAR), shot__power="1/4 + 1/3"))
    assert not plan.as_meant
    assert "0.7 stops too bright" in answer(plan)
    assert "0.6 stops too dark" in answer(replace(plan, off=-0.6))
    assert f"stand at {100 * histogram(plan.off):.0f} %" in frame_steps(plan)[2]


def moving(plan: Plan, *, flash: tuple[float, float] = (0, 0), day: tuple[float, float] = (0, 0)) -> Plan:
    """A plan with other movements on the sensor, mm, by shake and by wind."""
    moved = replace(plan.motion, shake=flash[0], wind=flash[1], ambient_shake=day[0], ambient_wind=day[1])
    return replace(plan, motion=moved)


# Pythagoras, for two movements that know nothing of each other: 0.02 and 0.022 mm are 0.0297, more than the blur circle
# of 43.27 / 1500 = 0.0288 mm; alone none is. Four stops are a factor of 16.
def test_a_ghost_by_shake_and_wind_together(far):
    bright, dim = (replace(far, day=far.flash * share) for share in (1 / 8, 1 / 32))
    assert ghost(moving(bright, day=(0.02, 0.022)))
    assert not ghost(moving(dim, day=(0.02, 0.022)))
    assert not ghost(moving(bright, day=(0.02, 0)))
    assert not ghost(moving(bright, day=(0, 0.022)))
    assert ghost(moving(bright, day=(0.03, 0)))
    assert ghost(moving(bright, day=(0, 0.03)))


# 3, 4, 5. A pixel is 36 mm / 6000 = 0.006 mm, and 0.0288 mm of blur circle are 4.8 of them.
def test_movement_in_pixels(far):
    assert smeared(moving(far, flash=(0.018, 0.024))) == pytest.approx(5)
    for pixels, word in ((0.5, "frozen"), (3, "sharp enough"), (6, "blurred")):
        told = motion_words(moving(far, flash=(0.006 * pixels, 0)))
        assert f"moves by {pixels:g} pixels; up to 4.8 pixels pass as sharp: {word}." in told
    quicker = [
        [change.do for change in changes(moving(far, flash=(0.006 * pixels, 0))) if change.trouble == "too shaky"]
        for pixels in (3, 6)
    ]
    assert [any(do.startswith("ISO 200 and power") for do in each) for each in quicker] == [False, True]


@pytest.mark.parametrize("share, words", [(1 / 8, "3.0 stops less"), (8, "3.0 stops more"), (0, "no light")])
def test_the_day_against_the_flash_in_words(far, share, words):
    assert f"The day gives {words}" in motion_words(replace(far, day=far.flash * share))


def does(plan: Plan, trouble: str) -> dict[str, str]:
    """What to change, and the price of each, in one trouble."""
    return {change.do: change.price for change in changes(plan) if change.trouble == trouble}


# A stop is a factor of root two in f-number, and so in depth of field and in the diameter of the spot by diffraction.
def test_the_price_of_an_f_number(far):
    plan = replace(far, focus=replace(far.focus, depth=1.0, airy=0.01))
    assert does(plan, "too dark")["f/5.6"].startswith("0.71 mm in focus, not 1")
    assert "f/11" in does(plan, "too bright")
    assert re.match(r"1\.4 mm in focus.* 14 µm", does(plan, "too bright")["f/11"])


@pytest.mark.parametrize("opening, wider, closed", [((5.6, 11), True, True), ((6.3, 9), False, False)])
def test_f_numbers_that_the_lens_has(far, opening, wider, closed):
    plan = replace(far, f_numbers=opening)
    assert ("f/5.6" in does(plan, "too dark"), "f/11" in does(plan, "too bright")) == (wider, closed)


def test_the_next_f_number_below_one():
    assert stopped(1.0, -1) == 0.71  # 1 / root two


def test_advice_that_the_camera_can_follow(far):
    assert "ISO 50" not in does(far, "too bright")
    assert "ISO 50" in does(replace(far, base_iso=50), "too bright")
    shade = [any("shade" in do for do in does(replace(far, day=far.flash * day), "too bright")) for day in (0.1, 0.3)]
    assert shade == [False, True]  # a fifth of the light, a choice
    assert any(do.startswith("power") for do in does(far, "too bright"))
    assert not any(do.startswith("power") for do in does(replace(far, fits=Fits.DAY_ALONE), "too bright"))
    frames = [
        any(
            "through the focus" in do for do in does(replace(far, focus=replace(far.focus, frames_most=n)), "too shaky")
        )
        for n in (1, 2, None)
    ]
    assert frames == [False, True, False]


# By hand: 4 stops below full and 0.7 more to pay are 3.3, of thirds 10/3 is the nearest: 1/16 + 2/3. Of 0.9 of full
# power, log2(1 / 0.9) = 0.152 stops, 0.7 cannot be paid: 0.548 are lacking.
def test_the_price_of_softer_light(far):
    plan = replace(far, doubling=replace(far.doubling, value=0.7), day=0.0)
    (paid,) = (each for each in changes(replace(plan, wanted=1 / 16)) if each.trouble == "too hard")
    assert paid.price == "power 1/16 + 2/3 makes up for it"
    assert paid.left == pytest.approx(10 / 3)
    assert paid.picture == pytest.approx(-0.7)
    (unpaid,) = (each for each in changes(replace(plan, wanted=0.9)) if each.trouble == "too hard")
    assert unpaid.price == "no power is left for it"
    assert unpaid.left == pytest.approx(math.log2(1 / 0.9) - 0.7)


def test_how_soon_it_is_ready():
    assert (ready_words(0.05), ready_words(5)) == ("under 0.1 s", "5.0 s")


# A beetle of which 6 mm shall be sharp, 1 mm at a time, each frame 0.7 mm on: nine frames reach 1 + 8 x 0.7 = 6.6 mm,
# eight 5.9.
def test_a_stack_covers_the_depth_wished_for(far):
    deep = replace(far, wished=6, focus=replace(far.focus, depth=1.0))
    assert "(9 frames one behind the other" in focus_words(deep)
    assert "wished for" not in focus_words(replace(deep, wished=0.9))
    assert planned(changed(loads(FAR), subject__depth=7)).wished == 7


@pytest.mark.parametrize(
    "chance, words", [(0.004, "fewer than 1 in 100"), (0.05, "5 in 100"), (0.7, "70 in 100"), (0.999, "every frame")]
)
def test_the_chance_of_a_sharp_frame_in_words(far, chance, words):
    assert words in focus_words(replace(far, focus=replace(far.focus, chance=chance)))


# PH-31: 21.47 um at f/16 and 550 nm.
def test_diffraction_in_words(far):
    assert "over 21 µm" in focus_words(replace(far, focus=replace(far.focus, airy=airy_diameter(working_f_number=16))))


@pytest.mark.parametrize(
    "stops, words",
    [
        ((-1.5, -2.5), "1.5 stops darker 50 mm behind, 2.5 stops darker 150 mm behind, day included: .* looks dark"),
        ((-2.5, -1.5), "stays in the picture"),
        ((1.0,), "1.0 stops brighter"),
        ((-0.3,), "0.3 stops darker"),
        ((0.01,), "as bright 50 mm behind"),
    ],
)
def test_backgrounds_in_words(far, stops, words):
    found = tuple(Background(distance, each, each) for distance, each in zip((50, 150), stops, strict=False))
    assert re.search(words, background_words(replace(far, backgrounds=found)))


def test_the_white_balance_in_words(far):
    told = colour_words(replace(far, colour=replace(far.colour, ambient_share=0.25, ambient_kelvin=6500.0)))
    assert "75 % of the light is flash (5500 K)" in told


# IEC 61966-2-1: below 0.0031308 the curve is a line of slope 12.92; 7 stops below mid-grey are 0.18 / 128.
def test_the_histogram_of_deep_shade(far):
    assert histogram(-7) == pytest.approx(12.92 * 0.18 / 128, rel=1e-9)
    assert re.search("63 % .* too bright, at 33 % .* too dark", frame_steps(far)[2])


# A hundred times the light is ISO 10 000; beyond 12 800, a choice, something else is wrong.
def test_how_weak_a_flash_may_be(far):
    def weaker(times):
        full = replace(far.full, value=far.needed / times / far.reaching[0])
        return answer(replace(far, fits=Fits.TOO_WEAK, full=full))

    assert re.search(r"6\.6 stops too dark\. ISO 10000 would do", weaker(100))
    assert "far too weak" in weaker(200)
    assert "ISO 160 would do" in weaker(1.6)


@pytest.mark.parametrize(
    "power, words", [(0.97, "takes full power"), (0.9, "takes 90 % of"), (0.6, "60 %"), (0.25, "takes 1/4 of")]
)
def test_powers_in_words(far, power, words):
    assert words in answer(replace(far, wanted=power))
    assert "2.3 stops are left above" in answer(far)


# A sheet that takes half a stop more light than thought makes the flash give root two times as much, one that takes a
# stop less half as much: 1/16 becomes 1/11.3 and 1/32.
def test_the_doubt_of_the_materials_in_words(far):
    value = far.headroom.value
    sure = replace(far.headroom, standard_error=0.0, half_interval=0.0)
    plan = replace(far, wanted=1 / 16, headroom=replace(sure, low=value - 0.5, high=value + 1))
    assert "(1/32 to 1/11 by the materials;" in answer(plan)
    slight = replace(far, headroom=replace(sure, low=value - 0.05, high=value + 0.05))
    assert "by the materials" not in answer(slight)


@pytest.mark.parametrize(
    "share, words", [(0.0005, "less than 0.1 %"), (0.05, "5 %"), (0.46, "46 %"), (0.95, "95 %"), (0.999, "100 %")]
)
def test_shares_in_words(share, words):
    assert in_percent(share) == words


def test_numbers_in_words():
    assert [two_figures(each) for each in (4567, 0.2345, 123_456)] == ["4600", "0.23", "120000"]
    assert (in_stops(-1.04), in_stops(0.5)) == ("1.0 stops", "0.5 stops")


# Ends of what rig files allow (rig/shot.py, rig/camera.py, rig/head.py): everything has a number, and no sentence has
# one that people do not say. Logarithms of nothing, and divisions by it, would show here.
@pytest.mark.parametrize(
    "given",
    [
        {"shot__ambient": 0.0, "shot__sway": 0.0, "shot__shake": 0.0, "shot__wind": 0.0},
        {"camera__magnification": 20.0, "subject__depth": 0.001, "camera__blur_circle": 0.0005},
        {"camera__magnification": 0.01, "lens__f_number": 0.5},
        {"lens__f_number": 128.0, "camera__base_iso": 1.0, "shot__iso": 1.0, "shot__placement": 5.0},
        {"shot__ambient": 200_000.0, "shot__shutter": 30.0, "shot__iso": 1_000_000.0, "subject__reflectance": 0.01},
        {"head__flash__guide_number": 0.1, "head__flash__power_step": 2.0, "head__flash__kelvin": 1000.0},
        {"head__flash__guide_number": 1000.0, "head__flash__power_least": "full", "lens__transmittance": 0.05},
        {"shot__sway": 200.0, "shot__sway_time": 60.0, "shot__frame_time": 0.1, "subject__depth": 200.0},
    ],
)
def test_the_ends_of_what_is_allowed_are_told_in_plain_numbers(given):
    plan = planned(changed(loads(FAR), **given))
    numbers = [plan.off, plan.left, plan.day_share, plan.sensor, plan.wanted, smeared(plan), plan.inside]
    numbers += [plan.focus.depth, plan.focus.chance, plan.colour.mixed_kelvin, plan.colour.behind]
    numbers += [number for change in changes(plan) for number in (change.picture, change.left)]
    assert all(math.isfinite(number) for number in numbers)
    texts = [settings(plan), answer(plan), *frame_steps(plan), *(words(plan) for _, words in SAID)]
    texts += [text for change in changes(plan) for text in (change.do, change.price)]
    assert not re.search(r"\b(nan|inf|None)\b|\de[+-]\d", " ".join(texts))


# 193.6 lx s are wanted; 38 700 lx give 193.5 of them in 1/200 s, and the least flash a few more: 0.06 stops too bright.
def test_a_day_that_is_just_enough_is_met():
    plan = planned(changed(loads(FAR), shot__ambient=38_700))
    assert plan.fits is Fits.WELL
    assert plan.start is plan.rungs[-1]
    assert 0 < plan.off < 0.1


def test_powers_that_a_flash_does_not_have():
    whole = changed(loads(FAR), head__flash__power_step=1.0, shot__power="1/3")
    plan = planned(whole)
    assert plan.start.power == 1 / 4
    assert answer(plan).startswith("The flash has no setting 1/3; the nearest is taken. ")
    # Half stops, as such a flash shows them: 2.37 stops below full lie nearest to 2.5, 1/8 and a half.
    assert settings(planned(changed(loads(FAR), head__flash__power_step="1/2"))).endswith("flash at 1/8 + 1/2")


@pytest.mark.parametrize("step, stops", [(2.0, "2.0 stops"), ("2/3", "0.7 stops"), (1.0, "1.0 stops")])
def test_the_next_setting_is_told_by_its_own_step(step, stops):
    plan = planned(changed(loads(FAR), head__flash__power_step=step, head__flash__duration="1/5000"))
    assert f"is {stops} more flash" in frame_steps(plan)[3]
    change = next(change for change in changes(plan) if change.trouble == "too dark")
    assert change.picture == pytest.approx(math.log2(plan.brighter.power / plan.start.power), abs=0.01)


# A card of 18 % beside a beetle of 3 % that shall be mid-grey is log2(6) = 2.58 stops above it and burns out with a
# stop more; two stops down it belongs 0.58 above mid-grey, at 56 % of the width (IEC 61966-2-1 by hand: linear 0.27).
def test_beside_a_dark_subject_the_card_is_exposed_less():
    steps = frame_steps(planned(changed(loads(FAR), subject__reflectance=0.03)))
    assert "Turn the power down by 2 stops for it" in steps[1]
    assert "belongs at 56 % of the width" in steps[2]


# 1 - 2^-(t / t0.5) of a pulse has come after t: a shutter time shorter than it costs flash, which is no price of none.
def test_no_shutter_time_shorter_than_the_pulse_is_offered():
    quick = changed(loads(FAR), camera__sync="1/2000", shot__shutter="1/60", shot__ambient=5000, shot__shake=1000)
    long = changed(quick, head__flash__duration="1/100")
    assert not any("shutter" in change.do for change in changes(planned(long)))
    short = changed(quick, head__flash__duration="1/20000")
    assert any("shutter 1/2000 s" in change.do for change in changes(planned(short)))


@pytest.mark.parametrize(
    "given, words",
    [
        ({"camera__curtain": 0.01}, "curtain is 1/100 s, longer than sync, 1/200 s"),
        ({"camera__base_iso": 200}, "shot.iso is 100, below camera.base_iso, 200"),
    ],
)
def test_cameras_that_contradict_themselves_are_refused(given, words):
    with pytest.raises(RigError, match=re.escape(words)):
        changed(loads(FAR), **given)
