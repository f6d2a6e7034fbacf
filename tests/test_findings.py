"""Numbers and sentences for people, from reports made by hand: what is said must follow from the figures alone."""

import re
from dataclasses import replace
from math import inf

import pytest
from typer.testing import CliRunner

from lightsim.cli import app
from lightsim.light.estimate import Estimate, coverage_factor
from lightsim.measure import findings
from lightsim.measure.figure import Figure, figure
from lightsim.measure.findings import changed, compared, described, sure, varied
from lightsim.measure.left_open import (
    READINGS,
    by_its_materials,
    how_to_measure,
    matters_most,
    measure_next,
    not_reckoned,
    without_range,
)
from lightsim.measure.nearness import Nearness, close_calls, nearness, same
from lightsim.measure.ranges import Plain, Step, ranged
from lightsim.measure.report import Report
from lightsim.measure.rounding import blank, brief, length, never_negative, rounded, shown, span
from lightsim.sheet.sheet import NUMBERS

REPLICATES = 16


def made(title="A", *, size=40.0, lost=1.0, paid=0.5, width=0.3, white=-1.0, count=1.0, bars=0.02, vague=(), **more):
    """A report with the figures that the sentences speak of.

    bars: half of the 95 % interval of the size, 0.02 that of the others; vague: names of figures hardly known
    """
    values = {
        "size.cone_angle": size,
        "loss.total": lost,
        "loss.per_doubling": paid,
        "highlight.diameter_share": width,
        "highlight.stops_above_white": white,
        "highlight.count": count,
    }
    factor = coverage_factor(REPLICATES)
    errors = {name: (bars if name == "size.cone_angle" else 0.02) / factor for name in values}
    errors |= {"highlight.count": 0.0} | {name: 10.0 * abs(values[name]) for name in vague}
    figures = tuple(
        figure(name, None if value is None else Estimate(value, errors[name], REPLICATES))
        for name, value in values.items()
    )
    return Report(title, 1.0, 100.0, figures, (), None, "Embree", 8192, 1, **{"notes": (), **more})


BARE = made("Bare", size=13.0, lost=0.02, paid=None, width=0.06, white=2.2)
PAPER = made("Paper", size=60.0, lost=3.4, paid=0.75, width=0.25, white=-1.9)
FOAM = made("Foam", size=52.0, lost=1.7, paid=0.4, width=0.28, white=-2.3)


# Rounding as in JCGM 100, 7.2.6 (from memory): an error of one or two digits, the value to the same place.
@pytest.mark.parametrize(
    ("value", "half_interval", "expected"),
    [
        (39.2134, 0.31, ("39.2", "0.3")),
        (39.2134, 0.128, ("39.21", "0.13")),
        (8060.3, 93.2, ("8060", "90")),
        (8060.3, 113.0, ("8060", "110")),
        (100.936, 0.0, ("100.9", "")),
        (-0.0004, 0.003, ("0.00", "0.01")),
        (0.0, 0.0, ("0.00", "")),
        (1e-6, 0.0, ("0.00", "")),
        (5.3, 20.0, ("5", "20")),
        (63.606, 0.0001, ("63.61", "0.01")),
        (0.96, 0.096, ("0.96", "0.10")),
    ],
)
def test_value_and_error_bar_are_rounded_to_the_same_place(value, half_interval, expected):
    assert rounded(value, half_interval, finest=-2) == expected


def test_an_error_bar_never_reads_as_none_where_there_is_one():
    assert rounded(1.0, 1e-9, finest=-2)[1] == "0.01"


# Common practice: shares are read in per cent.
def test_shares_are_shown_in_per_cent_and_counts_whole():
    assert shown(made()["highlight.diameter_share"])[::2] == ("30", "%")
    assert shown(made(count=1.0)["highlight.count"]).value == "1"
    assert shown(BARE["loss.per_doubling"]) == ("-", "", "stops")


# Derived here: a disc of 100 mm at 100 mm subtends 2 atan(0.5) = 53.13 degrees.
def test_the_disc_that_looks_as_large_is_that_of_geometry():
    first = described(made(size=53.13010235))[0]
    assert "a cone of 53 degrees, or a disc of 100 mm seen from 100 mm" in first


def test_one_rig_is_described_by_size_loss_and_highlight():
    text = " ".join(described(FOAM))
    assert "costs 1.7 stops, 0.4 stops for each doubling" in text
    assert "the highlight is 28 % of the ball's width and 2.3 stops darker than a white card" in text
    assert "double shadow" not in text


def test_a_comparison_names_softest_cheapest_best_trade_and_highlights():
    softest, trade, highlights = compared([BARE, PAPER, FOAM])
    assert softest.startswith(
        "Softest: Paper, whose light looks as large as a cone of 60 degrees, 4.6 times as wide as that of Bare"
    )
    assert "costs 3.4 stops" in softest
    assert "Foam costs least, 1.7 stops, and gives most size for its light: 0.4 stops" in trade
    assert "the highlight of Bare is 6 % of the ball's width and 2.2 stops brighter than a white card" in highlights
    assert "that of Foam is 28 % of the ball's width and 2.3 stops darker than a white card" in highlights


def test_no_conclusion_is_fixed_the_order_of_the_designs_changes_none():
    assert compared([FOAM, BARE, PAPER]) == compared([BARE, PAPER, FOAM])
    cheap = made("Paper", size=60.0, lost=1.2, paid=0.6, width=0.25, white=-1.9)
    trade = compared([BARE, cheap, FOAM])[1]
    assert "Paper costs least, 1.2 stops; Foam gives most size for its light" in trade


# Derived here: two intervals of half width h, independent, cover a difference up to h sqrt(2).
def test_what_lies_within_the_error_bars_is_about_the_same():
    one, other = made(size=40.0, bars=1.0), made(size=41.3, bars=1.0)
    assert same(one["size.cone_angle"], other["size.cone_angle"])
    assert not same(one["size.cone_angle"], made(size=41.5, bars=1.0)["size.cone_angle"])
    assert "All look about the same size" in compared([one, made("B", size=41.3, bars=1.0)])[0]
    peers = compared([BARE, made("P", size=60.0, bars=1.5), made("F", size=59.0, bars=1.5)])[0]
    assert "Softest: P (F about the same)" in peers


def test_a_design_without_light_is_named_and_left_out():
    dark = made("Lid", size=None, lost=None, paid=None, width=None, white=None)
    sentences = compared([BARE, PAPER, dark])
    assert sentences[0] == "No light reaches the side of the subject that faces the lens with Lid."
    assert not any("Lid" in sentence for sentence in sentences[1:])
    assert described(dark) == (
        "No light of a head or the diffuser reaches the subject, or too little to tell anything.",
    )
    assert findings.test_frame(dark).startswith("A test frame will stay dark")


def test_between_two_magnifications_only_what_differs_is_said_to():
    text = changed(made(size=40.0, lost=1.0), made(size=50.0, lost=1.4), start="1x", end="2x")
    assert text == (
        "From 1x to 2x: the light looks 1.2 times as wide and 0.4 stops more light is lost; "
        "the highlight against a white card stays about the same."
    )
    assert "stay about the same" in changed(made(), made(), start="1x", end="2x")


def test_a_sweep_tells_ends_turning_points_and_what_does_not_change():
    reports = [
        made(size=size, lost=lost, white=-1.0)
        for size, lost in ((30.0, 1.0), (40.0, 2.0), (50.0, 1.5))
    ]  # fmt: skip
    size, lost, white = varied([10, 20, 30], reports, key="lens.length", unit="mm")
    assert size == "The light looks 30 degrees wide at 10 mm and 50 degrees wide at 30 mm."
    assert lost == "The light lost is 1.0 stop at 10 mm and 1.5 stops at 30 mm; most, 2.0 stops, at 20 mm."
    assert "about the same all along" in white
    assert "lens.length makes no difference" in white
    steady = varied([1, 2], [made(lost=0.01), made(lost=-0.04)], key="k", figures=["loss.total"])
    assert steady == ("The light lost is about the same all along, 0.0 stops: k makes no difference to speak of.",)


def test_a_figure_without_meaning_takes_no_part_in_a_sweep():
    reports = [made(white=None), made(white=-1.0)]
    assert len(varied([1, 2], reports, key="k")) == 2


def test_sentences_of_a_sweep_speak_of_the_figures_asked_for_alone():
    reports = [made(size=30.0, lost=1.0), made(size=40.0, lost=2.0)]
    (sentence,) = varied([1, 2], reports, key="k", figures=["loss.total", "shadow.edge_x"])
    assert sentence.startswith("The light lost is 1.0 stop at 1")


# Derived here: a third of the light is log2(4/3) = 0.415 stops; other figures are held to a third of themselves.
@pytest.mark.parametrize(("name", "value", "most"), [("loss.total", 5.0, 0.415), ("size.cone_angle", 60.0, 20.0)])
def test_a_figure_is_spoken_of_where_it_is_known_to_a_third(name, value, most):
    assert sure(figure(name, Estimate(value, 0.99 * most, REPLICATES)))
    assert not sure(figure(name, Estimate(value, 1.01 * most, REPLICATES)))
    assert not sure(figure(name, None))


def test_what_is_hardly_known_is_not_said():
    vague = made("Vague", vague=("size.cone_angle", "highlight.diameter_share"))
    text = " ".join(described(vague))
    assert "degrees" not in text
    assert "ball" not in text
    assert "costs 1.0 stop" in text
    assert findings.test_frame(vague).endswith("aimed at the card.")
    assert "Too little light reaches the subject to judge Vague." in compared([BARE, vague, PAPER])
    assert "apparent size" not in changed(vague, vague, start="1x", end="2x")
    assert all("degrees" not in sentence for sentence in varied([1, 2], [vague, vague], key="k"))


def test_a_design_in_the_picture_wins_nothing():
    note = '"front" stands in the picture: it hides 12 % of the view.'
    hiding = made("Hiding", size=90.0, lost=0.5, paid=0.1, notes=(note,))
    first, *others = compared([BARE, hiding, PAPER, FOAM])
    assert first == "Left out of the following, as part of it stands in the picture: Hiding."
    assert others == list(compared([BARE, PAPER, FOAM]))


def test_several_highlights_are_told_with_what_their_width_spans_and_their_shadow():
    two = made("Two", count=2.0, width=0.4, heads=2)
    text = " ".join(described(two))
    assert "the highlight is in 2 pieces that together span 40 % of the ball's width" in text
    assert "An edge throws a double shadow" in text
    assert compared([BARE, two])[-1] == (
        "Two makes 2 highlights, and a double shadow of an edge: the widths given span all."
    )
    assert "the bare heads held where they are" in findings.test_frame(two)
    assert "the 2 highlights together should be 40 %" in findings.test_frame(two)
    assert "3-fold shadow" in " ".join(described(made(count=3.0)))


def test_what_rounds_to_nothing_is_called_about_the_same():
    assert "should come out about as bright as with the bare head held" in findings.test_frame(made(lost=-0.03))
    assert "0.0 stops" not in " ".join(described(made(lost=0.3, paid=0.04)))
    assert "1.0 times" not in changed(made(size=60.0), made(size=62.0), start="1x", end="2x")
    assert "All look about the same size" in compared([made(size=60.0), made("B", size=62.0)])[0]
    level = " ".join(described(made(white=0.02)))
    assert "and about as bright as a white card" in level


def test_an_extent_with_an_error_bar_wider_than_itself_reads_as_a_question_mark():
    wide = figure("highlight.width", Estimate(0.3, 1.0, REPLICATES))
    assert shown(wide) == ("?", "", "mm")
    assert blank(wide) == ("?", "the error bar is wider than the figure")
    # Stops have no natural zero, and a fill of nothing is a fill.
    assert shown(figure("loss.total", Estimate(0.1, 1.0, REPLICATES))).value == "0.1"
    assert shown(figure("modelling.fill_share", Estimate(0.001, 0.01, REPLICATES))).value != "?"


# By definition a hot spot is the brightest place against the mean, and a share is none below 0: 0.05 + 0.47 is 0.52.
@pytest.mark.parametrize(
    ("name", "value", "half_interval", "expected"),
    [
        ("size.hot_spot", 0.05, 0.47, ("below 0.5", "", "stops")),
        ("size.hot_spot", -0.1, 0.3, ("below 0.3", "", "stops")),
        ("size.hot_spot", 0.63, 0.17, ("0.63", "0.17", "stops")),
        ("modelling.fill_share", 0.001, 0.01, ("below 1.1", "", "%")),
        ("loss.total", 0.05, 0.47, ("0.05", "0.47", "stops")),
    ],
)
def test_what_cannot_be_below_nothing_is_told_by_its_upper_end(name, value, half_interval, expected):
    assert shown(figure(name, Estimate(value, half_interval / coverage_factor(REPLICATES), REPLICATES))) == expected


@pytest.mark.parametrize(
    ("name", "possible"),
    [
        ("size.hot_spot", False),
        ("size.cone_angle", False),
        ("exposure.full_power", False),
        ("loss.total", True),
        ("illuminance.vector_x", True),
        ("illuminance.lens", False),
    ],
)
def test_which_figures_may_be_below_nothing(name, possible):
    assert never_negative(figure(name, Estimate(1.0))) is not possible


def test_a_subject_lit_from_above_alone_has_no_light_below():
    for value, error in ((20.0, 0.1), (8.0, 4.0)):
        assert blank(figure("modelling.top_to_underside", Estimate(value, error, REPLICATES))) == (
            "-",
            "practically no light below",
        )
    assert blank(figure("modelling.top_to_underside", Estimate(3.0, 0.1, REPLICATES))) is None


def test_nothing_reads_as_0_and_not_as_a_row_of_zeros():
    assert shown(figure("exposure.full_power", Estimate(0.0))).value == "0"
    assert shown(figure("exposure.full_power", Estimate(3e-15))).value == "0"
    assert shown(figure("exposure.full_power", Estimate(0.0123))).value == "0.01230"


# The inch is 25.4 mm, exact by definition: 3.937 inch are 99.9998 mm.
def test_lengths_from_inches_are_rounded():
    assert [length(value) for value in (3.937 * 25.4, 2.3622 * 25.4, 95.0, 0.05)] == ["100", "60", "95", "0.05"]


def test_numbers_stepped_through_are_short():
    assert [brief(value) for value in (73.33333333, 0.1, -20.0, 6000.0, 12345.678)] == [
        "73.33", "0.1", "-20", "6000", "12345.68",
    ]  # fmt: skip


def test_a_figure_of_nothing_is_shown_as_such():
    nothing = Figure("a", "A", None, None, None, "mm", "", "", "no light")
    assert shown(nothing) == ("-", "", "mm")


# By definition: stops lost are darkness on the card, stops gained brightness; a share of the diameter is in per cent.
def test_which_way_a_test_frame_goes():
    darker, brighter = (findings.test_frame(made(lost=lost, width=0.3)) for lost in (1.4, -0.7))
    assert "1.4 stops darker than" in darker
    assert "0.7 stops brighter than" in brighter
    assert "highlight should be 30 % of the ball's diameter wide" in darker


def moved(report, *materials, known="assumed", key="diffuse_transmittance", **shifts):
    """The report with a number of each material that moves figures by (at its low, at its high end)."""
    names = {"size": "size.cone_angle", "lost": "loss.total", "paid": "loss.per_doubling"}
    names |= {"white": "highlight.stops_above_white"}
    moves = {names[name]: shift for name, shift in shifts.items()}
    found = tuple(Step(each, key, 0.2, (0.1, 0.1), (0.3, 0.3), known, moves) for each in materials)
    return replace(report, figures=ranged(report.figures, found), steps=found)


def spanned(name, value, low, high, half_interval=0.0):
    estimate = Estimate(value, half_interval / coverage_factor(REPLICATES), REPLICATES)
    return replace(figure(name, estimate), low=low, high=high)


# Rounding as of error bars above: one digit of the step to the farther end, two if the first is 1.
@pytest.mark.parametrize(
    ("name", "value", "low", "high", "half_interval", "expected"),
    [
        ("loss.total", 1.951, 1.491, 2.380, 0.01, "1.5 to 2.4"),
        ("loss.total", 3.406, 3.308, 3.506, 0.01, "3.31 to 3.51"),
        ("loss.total", 1.95, 1.95, 2.40, 0.0, "1.9 to 2.4"),  # the value lies within what is written
        ("loss.total", -0.03, -0.048, -0.016, 0.002, "-0.05 to -0.02"),
        ("loss.total", 1.95, 1.91, 1.98, 0.10, ""),  # within half of the error bar
        ("loss.total", 1.95, 1.85, 1.98, 0.10, "1.85 to 1.98"),
        ("loss.total", 1.95, 1.946, 1.954, 0.0, ""),  # within half of the last digit
        ("loss.total", 1.0, 0.9, inf, 0.01, "0.90 or more"),
        ("loss.total", -1.0, -inf, -0.7, 0.01, "-0.7 or less"),
        ("size.cone_angle", 56.2, 33.1, 62.4, 0.8, "30 to 60"),
        ("size.cone_angle", 56.2, 51.2, 62.4, 0.8, "51 to 62"),
        ("highlight.diameter_share", 0.21, 0.10, 0.26, 0.06, "10 to 26"),
        ("exposure.full_power", 7870.0, 6000.0, 11020.0, 70.0, "6000 to 11000"),
        ("highlight.diameter_share", 0.28, 0.03, 0.30, 0.01, "3 to 30"),  # 3 % is not nothing
        ("size.cone_angle", 40.0, 2.0, 100.0, 1.0, "2 to 100"),
        ("loss.total", 1.95, None, None, 0.01, ""),
    ],
)
def test_ranges_are_rounded_to_what_they_say(name, value, low, high, half_interval, expected):
    assert span(spanned(name, value, low, high, half_interval)) == expected


def test_a_figure_of_which_no_number_tells_has_no_range_to_show():
    assert span(spanned("highlight.width", 0.3, 0.1, 0.9, half_interval=1.0)) == ""
    assert span(replace(figure("loss.total", None), low=1.0, high=2.0)) == ""


def test_sentences_tell_ranges_that_are_worth_it():
    assert by_its_materials(spanned("loss.total", 1.95, 1.49, 2.38)) == " (1.5 to 2.4 by its materials)"
    assert by_its_materials(spanned("size.cone_angle", 63.6, 63.4, 64.2)) == ""
    assert by_its_materials(spanned("loss.total", 1.95, 1.49, inf)) == " (1.5 or more by its materials)"
    darker = moved(made(lost=2.0), "paper", lost=(0.5, -0.5))
    assert "costs 2.0 stops (1.5 to 2.5 by its materials), 0.5 stops for each" in " ".join(described(darker))
    assert "2.0 stops darker (1.5 to 2.5 by its materials) than" in findings.test_frame(darker)
    brighter = moved(made(lost=-2.0), "foil", lost=(0.4, -0.5))
    assert "2.0 stops brighter (1.6 to 2.5 by its materials) than" in findings.test_frame(brighter)
    wide = moved(made(size=40.0), "film", size=(-10.0, 5.0))
    assert "a cone of 40 degrees (30 to 45 by its materials), or a disc" in described(wide)[0]


# Derived here: of two ranges of 0.3 and 0.4 that err independently 0.5 is left of a difference.
def test_figures_are_apart_too_close_or_about_the_same():
    one = moved(made(lost=1.0), "paper", lost=(0.3, -0.3))
    for lost, expected in ((1.45, Nearness.CLOSE), (1.55, Nearness.APART), (1.01, Nearness.CLOSE)):
        other = moved(made(lost=lost), "foam", lost=(0.4, -0.4))
        assert nearness(one, other, "loss.total") is expected
        assert nearness(other, one, "loss.total") is expected
    paper = moved(made(lost=1.45), "paper", lost=(0.3, -0.3))
    assert nearness(one, paper, "loss.total") is Nearness.APART  # the same paper: it cancels
    alike = moved(made(lost=1.01), "paper", lost=(0.3, -0.3))
    assert nearness(one, alike, "loss.total") is Nearness.SAME


def test_a_comparison_claims_nothing_that_is_too_close_to_call():
    paper = moved(PAPER, "paper", size=(8.0, -8.0), lost=(0.3, -0.3), paid=(0.1, -0.1))
    foam = moved(FOAM, "foam", size=(3.0, -3.0), lost=(0.3, -0.3), paid=(0.1, -0.1))
    softest, trade, _ = compared([BARE, paper, foam])
    assert softest == (
        "Softest: Paper, whose light looks as large as a cone of 60 degrees, 4.6 times as wide as that of Bare, but in "
        "apparent size Foam is too close to call; Paper costs 3.4 stops (3.1 to 3.7 by its materials) against the bare "
        "head."
    )
    assert "too close" not in trade
    felt = moved(replace(FOAM, title="Felt"), "felt", lost=(0.3, -0.3), paid=(0.1, -0.1))
    assert compared([foam, paper, felt])[1] == (
        "Of those that make the light larger, Foam costs least, 1.7 stops, and gives most size for its light: 0.4 "
        "stops for each doubling of its apparent area, but in both Felt is too close to call."
    )
    rest = "gives most size for its light: 0.4 stops for each doubling of its apparent area"
    costly = moved(replace(FOAM, title="Felt"), "felt", lost=(0.3, -0.3))
    dear = moved(made("Felt", size=52.0, lost=3.0, paid=0.45), "felt", paid=(0.1, -0.1))
    assert compared([foam, paper, costly])[1] == (
        "Of those that make the light larger, Foam costs least, 1.7 stops, but in light lost Felt is too close to "
        f"call; it {rest.replace('light:', 'light (Felt about the same):')}."
    )
    assert compared([foam, paper, dear])[1] == (
        f"Of those that make the light larger, Foam costs least, 1.7 stops, and {rest}, but in stops per doubling Felt "
        "is too close to call."
    )
    cheap = moved(made("Cheap", size=60.0, lost=1.5, paid=0.9), "cheap", lost=(0.3, -0.3))
    assert compared([foam, cheap])[1] == (
        "Of those that make the light larger, Cheap costs least, 1.5 stops, but in light lost Foam is too close to "
        "call; Foam gives "
        "most size for its light: 0.4 stops for each doubling of its apparent area."
    )


def test_two_designs_that_may_be_either_way_round_are_called_neither():
    one, other = moved(PAPER, "paper", size=(8.0, -8.0)), moved(FOAM, "foam", size=(3.0, -3.0))
    assert compared([one, other])[0] == (
        "Which looks largest is too close to call: from 52 degrees (Foam) to 60 degrees (Paper)."
    )
    shiny, dull = moved(PAPER, "film", white=(0.5, -0.5)), FOAM
    assert compared([shiny, dull])[-1] == (
        "Which highlight on a shiny ball is brightest is too close to call: from 2.3 stops darker than a white card "
        "(Foam) to 1.9 stops darker than a white card (Paper)."
    )


def test_between_magnifications_the_same_materials_cancel():
    near, far = (moved(made(lost=lost), "paper", lost=(0.4, -0.4)) for lost in (1.0, 1.3))
    assert "0.3 stops more light is lost" in changed(near, far, start="1x", end="2x")
    off = moved(made(lost=1.3), "paper", lost=(0.0, 0.0))
    assert changed(near, off, start="1x", end="2x") == (
        "From 1x to 2x the apparent size and the highlight against a white card stay about the same; whether the light "
        "lost changes is too close to call."
    )


# By hand: 1.0, 1.3, 1.6 and 3.0, each +-0.3 by a material of its own, joined up to 0.42 apart.
def test_designs_too_close_to_call_are_grouped():
    lost = (1.6, 1.0, 3.0, 1.3)
    reports = [moved(made(str(value), lost=value), str(value), lost=(0.3, -0.3)) for value in lost]
    assert close_calls(reports, "loss.total") == [(1, 3), (3, 0)]
    assert close_calls(reports[:2], "loss.total") == []
    near = [moved(made(lost=value), str(value), lost=(0.3, -0.3)) for value in (1.0, 1.1, 1.2)]
    assert close_calls(near, "loss.total") == [(0, 1, 2)]
    assert close_calls([BARE, PAPER], "size.cone_angle") == []
    # The one in the middle shares its paper with the last, and is surely less.
    shared = [moved(made(lost=value), name, lost=(0.4, -0.4)) for value, name in ((1.0, "a"), (1.2, "b"), (1.4, "b"))]
    assert close_calls(shared, "loss.total") == [(0, 1), (0, 2)]
    assert close_calls([made(lost=None), *near], "loss.total") == [(1, 2, 3)]


def test_the_number_that_matters_most_is_named_with_what_to_do_about_it():
    paper = moved(made(lost=2.0), "paper", lost=(0.5, -0.5), known="from memory")
    assert matters_most(paper) == (
        "Of the numbers of its materials, the diffuse transmittance of paper (0.1 to 0.3), from memory, matters most: "
        "alone it puts the light lost at 1.5 to 2.5 stops. To measure yours: lightsim measure sheet with --window, "
        "--white and --black (docs/measure.md)."
    )
    assert "2.5 stops at 1x. To measure" in matters_most(paper, at="1x")
    assert matters_most(moved(made(lost=2.0), "paper", lost=(0.5, -0.5), known="measured")).endswith("2.5 stops.")
    foil = moved(made(lost=2.0), "foil", lost=(0.5, -0.5), known="assumed", key="metallic_reflectance")
    assert matters_most(foil).endswith("No reading of a sheet tells this one; a test frame of the finished rig does.")
    little = moved(made(lost=2.0), "leaf", lost=(0.02, -0.02))
    assert matters_most(little) == (
        "Of the numbers of its materials none matters much; most does the diffuse transmittance of leaf (0.1 to 0.3), "
        "assumed."
    )
    assert matters_most(made()) == ""


# By hand: twice half a stop each way outweighs once 0.6, which outweighs once 0.5.
def test_the_number_to_measure_next_is_the_heaviest_over_all_designs():
    paper = moved(made(lost=2.0), "paper", lost=(0.5, -0.5), known="from memory")
    foil = moved(made(lost=2.0), "foil", lost=(0.6, -0.6), known="assumed", key="roughness")
    little = moved(made(lost=2.0), "leaf", lost=(0.02, -0.02))
    how = how_to_measure("diffuse_transmittance")
    assert measure_next([paper, foil, paper, little], ["A", "B", "C", "D"]) == (
        f"Measure this next: the diffuse transmittance of paper (0.1 to 0.3), from memory. It matters most, for A and "
        f"C. {how}"
    )
    assert measure_next([paper, foil, little], ["A", "B", "C"]).startswith("Measure this next: the roughness of foil")
    assert "for A, B, C and 2 more." in measure_next([paper] * 5, list("ABCDE"))
    assert measure_next([paper], ["A"]).endswith(f"It matters most. {how}")
    # What is measured need not be measured again.
    measured = moved(made(lost=2.0), "paper", lost=(0.9, -0.9), known="measured")
    assert "foil (0.1 to 0.3), assumed. It matters most of those not measured yet, for B." in measure_next(
        [measured, foil], ["A", "B"]
    )
    assert measure_next([measured, little, made()], ["A", "B", "C"]) == ""


def test_readings_that_are_asked_for_are_options_of_the_command():
    told = CliRunner().invoke(app, ["measure", "sheet", "--help"], env={"COLUMNS": "200"}).stdout
    assert {reading for readings in READINGS.values() for reading in readings} <= set(re.findall(r"--[a-z-]+", told))
    assert set(READINGS) <= set(NUMBERS)
    assert "--spot-width and --spot-side" in how_to_measure("half_value_angle")


# By definition: what has a value and an error bar, and no step says what the materials do to it.
def test_figures_without_a_range_reckoned_are_told_from_those_that_hardly_move():
    paper = moved(made(lost=2.0), "paper", lost=(0.5, -0.5), size=(0.0, 0.0))
    unknown = not_reckoned(paper)
    assert {"highlight.diameter_share", "loss.per_doubling"} <= unknown
    assert not {"loss.total", "size.cone_angle", "highlight.count"} & unknown  # a count here has no error bar
    assert "loss.per_doubling" not in not_reckoned(moved(made(paid=None), "paper", lost=(0.5, -0.5)))
    assert not_reckoned(made()) == frozenset()


def test_numbers_without_a_range_are_told_with_how_to_give_one():
    mine = replace(made(), plain=(Plain("mine", "diffuse_transmittance", 0.2),))
    assert without_range([mine, mine]) == (
        "No range is known for diffuse transmittance of mine (0.2), so what is said of materials leaves it out. To "
        'give one: diffuse_transmittance = { value = 0.2, low = ..., high = ..., known = "measured", source = "..." } '
        "in the table of the material."
    )
    long = replace(made(), plain=(Plain("mine", "diffuse_transmittance", 0.0681032),))
    assert "of mine (0.0681), so" in without_range([long])
    many = replace(made(), plain=tuple(Plain(str(n), "diffuse_reflectance", (0.1, 0.2)) for n in range(5)))
    text = without_range([many])
    assert (
        "of 0 ([0.1, 0.2]), diffuse reflectance of 1 ([0.1, 0.2]), diffuse reflectance of 2 ([0.1, 0.2]) and 2 more"
        in text
    )
    assert "leaves them out" in text
    assert without_range([made()]) == ""
