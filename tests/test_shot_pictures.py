"""Pictures of the shot: places of the marks on the power ladder, ranges, times; the curve of the chances.

Expected places derived here: stops are log2 of powers. Exposure constants: ISO 2720 as quoted by Conrad.
"""

from dataclasses import replace
from math import erf, log2, pi, sqrt

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from pictures import LONG, assert_nothing_is_cut_off, list_of
from rigs import bare_text, lit

from lightsim.measure.report import report
from lightsim.page.drawing import Drawn
from lightsim.page.pictures import SECTIONS
from lightsim.picture.focus import focus_picture
from lightsim.picture.ladder import ladder_picture
from lightsim.picture.style import alternative_text
from lightsim.shot.ladder import nearest
from lightsim.shot.plan import Fits, plan_of

NO_DAY = "\n[shot]\nambient = 0\nsway = 2\nsway_time = 0.001\nframe_time = 100\n"
STEADY = bare_text(guide_number=20.0, distance=400.0).replace("[head.beam]", 'duration = "1/1000"\n[head.beam]')


@pytest.fixture(scope="module")
def light():
    return lit(STEADY + NO_DAY)


@pytest.fixture(scope="module")
def plan(light):
    return replace(plan_of(light, report(light)), title="Panel")


def at_power(plan, power):
    return replace(plan, start=nearest(plan.rungs, power))


def marks(made):
    """Places along the ladder by the names of the marks: of a point, or both ends of a line."""
    found = {}
    for line in made.axes[0].lines:
        if (gid := line.get_gid()) is not None:
            places = np.unique(np.asarray(line.get_xdata(), float))
            found[gid] = places[0] if len(places) == 1 else tuple(places)
    for patch in made.axes[0].patches:
        if (gid := patch.get_gid()) is not None:
            found[gid] = (patch.get_x(), patch.get_x() + patch.get_width())
    return found


def test_marks_stand_at_their_powers(plan):
    found = marks(ladder_picture([at_power(plan, 1 / 16), at_power(plan, 1), at_power(plan, 1 / 128)]))
    assert [found[f"start {number}"] for number in range(3)] == pytest.approx([-4, 0, -7], abs=1e-9)
    assert found["below 0"] == pytest.approx(-5, abs=1e-9)
    assert found["above 0"] == pytest.approx(-3, abs=1e-9)
    assert found["left 0"] == pytest.approx((-4, 0), abs=1e-9)
    assert "above 1" not in found
    assert "below 1" in found
    assert "below 2" not in found
    assert "above 2" in found


# ISO 2720 as quoted by Conrad: C N^2 / S; K = 12.5 with a card of 18 % stands log2(0.18 C / (pi K)) = 0.1965 stops from
# C = 250, which stands log2(330 / 250) = 0.4005 from C = 330. A guide number of 20 m at 0.4 m is f/50 at ISO 100.
def test_what_would_fit_and_how_far_meters_disagree(plan):
    found = marks(ladder_picture([plan]))
    by_hand = log2(plan.working_f_number**2 / (2 * (20 / 0.4) ** 2))  # ISO 200; the lens is set to f/8 at 1x
    assert plan.working_f_number == pytest.approx(16, abs=1e-9)
    assert found["wanted 0"] == pytest.approx(by_hand, abs=0.01)  # the engine's light, sampled
    low, high = found["meters 0"]
    assert found["wanted 0"] - low == pytest.approx(log2(0.18 * 250 / (pi * 12.5)), abs=1e-9)
    assert high - found["wanted 0"] == pytest.approx(log2(330 / 250), abs=1e-9)
    assert "sheets 0" not in marks(ladder_picture([replace(plan, full=replace(plan.full, low=None, high=None))]))


def test_materials_that_pass_half_the_light_take_a_stop_more(plan):
    value = plan.full.value
    ranged = replace(plan, full=replace(plan.full, low=value / 2, high=value * 2))
    found = marks(made := ladder_picture([ranged]))
    assert found["sheets 0"] == pytest.approx((found["wanted 0"] - 1, found["wanted 0"] + 1), abs=1e-9)
    assert "the same, as far as materials may move it" in list_of(made.axes[0])
    # Without any light at one end the line goes on to the end of the scale.
    dark = ladder_picture([replace(plan, full=replace(plan.full, low=0.0, high=value))])
    assert marks(dark)["sheets 0"][1] == pytest.approx(dark.axes[0].get_xlim()[1], abs=1e-9)


# t0.1 = log2(10) t0.5 of an exponential pulse (PH-41: 3.321928 ms for 1/1000 s), which is 1/301 s.
def test_times_of_the_flash_stand_under_its_powers(plan):
    made = ladder_picture([plan, replace(plan, title="Other")])
    labels = dict(
        zip(made.axes[0].get_xticks(), (text.get_text() for text in made.axes[0].get_xticklabels()), strict=True)
    )
    assert labels[0] == "full\n1/301"
    assert labels[-2].startswith("1/4\n1/")
    # Heads that differ have their times each under its own ladder.
    slow = replace(plan, title="Slow", rungs=tuple(replace(rung, tenth=2 * rung.tenth) for rung in plan.rungs))
    made = ladder_picture([plan, slow])
    texts = [text.get_text() for text in made.axes[0].texts]
    assert "1/301" in texts
    assert "1/151" in texts  # 1/150.5
    assert "full" in [text.get_text() for text in made.axes[0].get_xticklabels()]


def test_what_the_flash_cannot_do_is_told(plan):
    weak = replace(
        at_power(plan, 1),
        title="Weak",
        wanted=4.0,
        levels=tuple(replace(level, power=4.0) for level in plan.levels),
        fits=Fits.TOO_WEAK,
        off=-2.0,
    )
    day = replace(
        at_power(plan, 1 / 128),
        title="Noon",
        wanted=0.0,
        levels=tuple(replace(level, power=0.0) for level in plan.levels),
        fits=Fits.DAY_ALONE,
    )
    made = ladder_picture([weak, day])
    found = marks(made)
    assert found["wanted 0"] == pytest.approx(2, abs=1e-9)
    assert made.axes[0].get_xlim()[1] > 2
    assert not {"wanted 1", "meters 1"} & set(found)
    words = alternative_text(made)
    assert "Weak, start at full, 2.0 stops too dark" in words
    assert "Noon, the day alone is enough" in words
    assert any("light that the flash does not have" in text.get_text() for text in made.axes[0].texts)


@pytest.mark.parametrize("count", [0, 1, 7])
def test_nothing_is_cut_off(plan, count):
    plans = [replace(at_power(plan, 2.0**-number), title=LONG[number % 3]) for number in range(count)]
    assert_nothing_is_cut_off(ladder_picture(plans))
    chances = [np.linspace(0.1, 0.5 + number / 20, 50) for number in range(count)]
    assert_nothing_is_cut_off(focus_picture(plans, chances))


def test_pictures_draw_in_axes_that_are_given(plan):
    whole = Figure()
    FigureCanvasAgg(whole)
    left, right = (part.add_subplot() for part in whole.subfigures(1, 2))
    assert ladder_picture([plan], axes=left) is whole
    assert focus_picture([plan], [np.linspace(0.1, 1, 50)], axes=right) is whole
    assert len(list_of(left)) == 4


# A normal sway and frames far apart in time: one frame lands with erf(depth / (2 sqrt 2 sway)), n independent ones miss
# together with (1 - p)^n (textbooks of probability). PH-32: 2 N_w c / m^2 deep.
def test_curve_of_the_page_is_that_of_independent_frames(light):
    (section,) = [each for each in SECTIONS if each.key == "frames"]
    (variant,) = section.draw(Drawn((light,), (report(light),), ("Panel",)))
    (line,) = [each for each in variant.pictures[0].figure.axes[0].lines if each.get_gid() == "chance 0"]
    circle = sqrt(24**2 + 16**2) / 1500
    one = erf(2 * 16 * circle / (2 * sqrt(2) * 2))
    frames = np.arange(1, 51)
    assert line.get_xdata() == pytest.approx(frames)
    assert line.get_ydata() == pytest.approx(100 * (1 - (1 - one) ** frames), abs=1e-6)


def test_designs_with_the_same_chances_share_a_curve(plan):
    same, other = np.linspace(0.1, 0.9, 50), np.linspace(0.2, 0.95, 50)
    plans = [replace(plan, title=name) for name in "ABC"]
    made = focus_picture(plans, [same, other, same])
    names = list_of(made.axes[0])
    assert [name.partition(":")[0] for name in names] == ["A; C", "B"]
    assert len([line for line in made.axes[0].lines if line.get_gid()]) == 2
    alone = list_of(focus_picture(plans, [same] * 3).axes[0])
    assert [name.partition(":")[0] for name in alone] == ["All of them"]
    assert "sway 2 mm" in alone[0]


def test_focus_says_its_numbers_in_words(plan):
    focus = replace(plan.focus, chance=0.12, frames_half=6, frames_most=19)
    words = alternative_text(focus_picture([replace(plan, focus=focus)], [np.linspace(0.12, 1, 50)]))
    assert "one frame 12 %, 6 frames for an even chance, 19 for nine in ten" in words
    never = replace(plan.focus, frames_half=None, frames_most=None)
    words = alternative_text(focus_picture([replace(plan, focus=never)], [np.zeros(50)]))
    assert "for nine in ten" not in words
