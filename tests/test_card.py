"""The card for the bag: what it tells, room to write, marks to cut it by. Read back by pypdf (tests/pdf_reader.py).

Expected numbers are those of the plans put in, and derived here where a formula stands beside the check.
"""

from dataclasses import replace

import numpy as np
import pytest
from pdf_reader import sheets
from pictures import LONG
from rigs import bare_text, lit

from lightsim.measure.report import report
from lightsim.page.card import TICK, card_pdf, fields, notes, settings, warning
from lightsim.rig.errors import RigError
from lightsim.shot.ladder import nearest
from lightsim.shot.plan import Fits, plan_of

PAPERS = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}  # mm: ISO 216; ANSI/ASME Y14.1 (from memory)
EDGE = 4.0  # mm, that printers may leave blank (common practice, no source)


@pytest.fixture(scope="module")
def plan():
    light = lit(bare_text(guide_number=20.0, distance=400.0), error=0.02)
    found = plan_of(light, report(light))
    return replace(
        found,
        title="Reed panel",
        start=nearest(found.rungs, 1 / 16),
        wanted=1 / 16,
        off=0.0,
        lost=replace(found.lost, value=2.04),
        ball=replace(found.ball, value=0.384, half_interval=0.01),
        focus=replace(found.focus, frames_most=23),
    )


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(("count", "pages"), [(1, 1), (4, 1), (5, 2)])
def test_up_to_four_cards_stand_on_a_page_each_in_its_quarter(plan, paper, count, pages):
    plans = [replace(plan, title=f"Panel {'abcde'[number]}") for number in range(count)]
    found = sheets(card_pdf(plans, paper=paper))
    assert len(found) == pages
    width, height = PAPERS[paper]
    titles = []
    for sheet in found:
        assert (sheet.width, sheet.height) == pytest.approx((width, height), abs=0.01)
        for word in sheet.words:
            corners = word.corners / (width / 2, height / 2)
            assert len({tuple(np.floor(corner)) for corner in corners}) == 1, word.text
            assert (word.corners >= EDGE).all(), word.text
            assert (word.corners <= np.array([width, height]) - EDGE).all(), word.text
        titles += [word.text for word in sheet.words if word.text.startswith("Panel ")]
    assert titles == [each.title for each in plans]


def test_no_words_cover_others(plan):
    for paper in PAPERS:
        weak = replace(plan, title=LONG[1], fits=Fits.TOO_WEAK, wanted=2.0, off=-1.0)
        (sheet,) = sheets(card_pdf([plan, weak], paper=paper))
        boxes = [(word.corners.min(axis=0), word.corners.max(axis=0), word.text) for word in sheet.words]
        for number, (low, high, text) in enumerate(boxes):
            for other_low, other_high, other in boxes[:number]:
                # Letters hang lower and stand higher in the reader's boxes than most do.
                overlap = np.minimum(high, other_high) - np.maximum(low, other_low)
                assert (overlap < (0.01, 0.75)).any(), (text, other)


def test_a_card_tells_what_to_set_and_what_to_expect(plan):
    (sheet,) = sheets(card_pdf([plan], paper="A4"))
    words = [word.text for word in sheet.words]
    for text in ("Reed panel", "1x, 2000 mm from subject to lens", "200", "f/8", "1/200 s", "1/16"):
        assert text in words
    whole = " ".join(words)
    assert "One stop less: 1/32; one stop more: 1/8; 4.0 stops left." in whole
    assert "Effective f-number f/16" in whole  # N (1 + m / P), 8 x 2
    assert {"−2.0 stops", "38 %", "23 (9 in 10)"} <= set(words)


# IEC 61966-2-1 (sRGB): linear 0.18 is encoded as 0.461, 0.36 as 0.634.
@pytest.mark.parametrize(("placement", "peak"), [(0.0, "at 46 %"), (1.0, "at 63 %")])
def test_the_grey_card_belongs_where_the_settings_put_it(plan, placement, peak):
    (field,) = [each for each in fields(replace(plan, placement=placement)) if each.label.endswith("histogram")]
    assert field.planned == peak
    assert all(text.startswith(TICK) for text in field.seen)
    assert any(f"belongs {peak} of the width" in text for text in notes(replace(plan, placement=placement)))
    # A rung that is a little off leaves it where it belongs; a stop too dark shows, and is told.
    near, weak = (replace(plan, placement=1.0, off=off) for off in (-0.19, -1.0))
    assert fields(near)[2].planned == "at 63 %"
    assert fields(weak)[2].planned == "46 %, too dark"
    assert any("belongs at 63 % of the width" in text for text in notes(weak))


# IEC 61966-2-1: linear 0.18 x 0.18 / 0.09 = 0.36 is encoded as 0.634, also where a dark subject is meant to be grey.
def test_the_grey_card_of_a_dark_subject_stands_brighter(plan):
    assert fields(replace(plan, reflectance=0.09))[2].planned == "at 63 %"


def test_the_power_that_was_right_is_the_one_that_fits(plan):
    """A power that the rig file states wrongly is set, but is not called right."""
    wrong = replace(plan, start=nearest(plan.rungs, 1), off=4.0)
    planned = {field.label: field.planned for field in fields(wrong)}
    assert planned["Power that was right"] == "1/16"
    assert planned["Grey card, histogram"].endswith(", too bright")
    assert ("flash, manual", "full") in settings(wrong)
    assert warning(wrong) == "This setting: 4.0 stops too bright; 1/16 would be right."
    whole = " ".join(word.text for word in sheets(card_pdf([wrong], paper="A4"))[0].words)
    assert "This setting: 4.0 stops too bright; 1/16 would be right." in whole
    assert f"{planned['Grey card, histogram']} " in whole
    assert warning(plan) == warning(replace(plan, off=-0.19)) == ""
    # What no rung gives: wanted beyond either end of the ladder, or by the day alone.
    for fits, right in ((Fits.TOO_WEAK, "above full"), (Fits.TOO_STRONG, "below 1/128"), (Fits.DAY_ALONE, "no flash")):
        assert fields(replace(plan, fits=fits))[1].planned == right


@pytest.mark.parametrize("paper", PAPERS)
def test_long_settings_fit_their_boxes(plan, paper):
    odd = replace(plan, start=replace(plan.start, power=2 ** (-7 + 1 / 3)), iso=12_800, f_number=5.6, shutter=1 / 8000)
    words = [word.text for word in sheets(card_pdf([odd, odd], paper=paper))[0].words]
    for text in ("12800", "f/5.6", "1/8000 s", "1/128 + 1/3"):
        assert words.count(text) == 2, text
    assert not any("…" in text for text in words)


def test_there_is_room_for_what_was_seen(plan):
    (sheet,) = sheets(card_pdf([plan], paper="Letter"))
    labels = {field.label for field in fields(plan)}
    assert labels <= {word.text for word in sheet.words}
    # Lines to write on, at least 6 mm apart, and three boxes to tick.
    card = [line.points for line in sheet.lines if (line.points[:, 0] < 104).all() and not line.filled]
    rules = sorted({round(float(line[0, 1]), 2) for line in card if len(line) == 2 and np.ptp(line[:, 0]) > 80})
    assert len(rules) >= len(labels) + 1
    assert min(np.diff(rules)) >= 6.0 - 1e-6
    boxes = [line for line in card if len(line) == 5 and np.ptp(line[:, 0]) < 3]
    assert len(boxes) == 3


def test_the_card_says_take_care(plan):
    whole = " ".join(word.text for word in sheets(card_pdf([plan], paper="A4"))[0].words)
    for text in ("eyes of people or animals", "epilepsy", "Never open a flash", "makers' instructions", "no claim of"):
        assert text in whole


# Derived here: what is off stands there in stops, and why in words.
@pytest.mark.parametrize(
    ("fits", "wanted", "day", "words"),
    [
        (Fits.TOO_WEAK, 4.0, 0.0, "the flash is too weak"),
        (Fits.TOO_STRONG, 1 / 256, 0.0, "the flash is too strong"),
        (Fits.DAY_ALONE, 0.0, 4.0, "the day alone is enough"),
    ],
)
def test_what_the_flash_cannot_do_stands_on_the_card(plan, fits, wanted, day, words):
    given = replace(plan, wanted=wanted, day=day * plan.needed, fits=fits, off=-0.1)
    assert warning(given) == f"This setting: 0.1 stops too dark; {words}."
    assert words in " ".join(word.text for word in sheets(card_pdf([given], paper="Letter"))[0].words)


def test_what_is_not_known_is_a_dash_and_out_of_reach_is_told(plan):
    blank = replace(
        plan,
        lost=replace(plan.lost, value=None),
        ball=replace(plan.ball, value=None),
        focus=replace(plan.focus, frames_most=None),
    )
    planned = {field.label: field.planned for field in fields(blank)}
    assert planned["Grey card vs bare head"] == "–"
    none = replace(plan, lost=replace(plan.lost, value=0.01))
    assert fields(none)[3].planned == "0.0 stops"
    assert planned["Highlight, share of the ball"] == "–"
    assert planned["Frames for a sharp one"] == "over 1000"


def test_marks_to_cut_by_stand_on_the_middle_lines(plan):
    (sheet,) = sheets(card_pdf([plan] * 4, paper="A4"))
    width, height = PAPERS["A4"]
    marks = [line.points for line in sheet.lines if len(line.points) == 2 and line.length == pytest.approx(5, abs=0.01)]
    upright = [each for each in marks if np.allclose(each[:, 0], width / 2, atol=0.01)]
    level = [each for each in marks if np.allclose(each[:, 1], height / 2, atol=0.01)]
    assert len(upright) == len(level) == 3  # both edges and the middle
    # 4 mm from the edge and 5 mm long.
    assert sorted(each[:, 1].mean() for each in upright) == pytest.approx([6.5, height / 2, height - 6.5], abs=0.01)
    assert sorted(each[:, 0].mean() for each in level) == pytest.approx([6.5, width / 2, width - 6.5], abs=0.01)


def test_equal_plans_give_equal_files_and_odd_ones_are_refused(plan):
    assert card_pdf([plan], paper="A4") == card_pdf([plan], paper="A4")
    with pytest.raises(RigError, match="A4"):
        card_pdf([plan], paper="napkin")
    with pytest.raises(ValueError, match="needs a plan"):
        card_pdf([], paper="A4")
