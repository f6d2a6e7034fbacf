"""The highlight as drawn: its dimension line is the report's width, and the rendered ball agrees with it.

Expected values derived here.
"""

import numpy as np
import pytest
from pictures import LONG, assert_nothing_is_cut_off

import lightsim
from lightsim.measure.report import report
from lightsim.measure.rounding import shown
from lightsim.measure.view import view_of
from lightsim.picture.illumination import illumination_of
from lightsim.picture.shine import ball_picture, shine_of, wing_case_picture
from lightsim.picture.style import alternative_text


@pytest.fixture(scope="module", params=["white-box", "foam-arc", "bare-flash"])
def shiny(request):
    light = lightsim.trace(lightsim.load(request.param))
    return shine_of(light, illumination_of(light, view_of(light))), report(light)


def by_gid(axes, gid):
    return next(each for each in axes.get_children() if each.get_gid() == gid)


def test_dimension_line_is_as_long_as_the_highlight(shiny):
    shine, told = shiny
    axes = ball_picture(shine, told).axes[0]
    x = by_gid(axes, "highlight width").get_xdata()
    assert x[1] - x[0] == pytest.approx(told["highlight.width"].value, rel=1e-12)
    assert any(text.get_text() == f"{shown(told['highlight.width']).value} mm" for text in axes.texts)


def test_rendered_highlight_is_as_wide_as_the_report_says_and_where_the_line_is(shiny):
    # Two independent ways to one width: arrivals mirrored one by one into a map of the ball's image
    # (measure/highlight.py), and rays from the camera mirrored into the luminance map. In the front of the ball the
    # picture is larger by up to radius / (distance - radius), 1.6 %; the map of luminance is smoothed.
    shine, told = shiny
    axes = ball_picture(shine, told).axes[0]
    left, right, _, _ = by_gid(axes, "ball").get_extent()
    upper = shine.ball[: len(shine.ball) // 2 + 10, :, 1]  # the leaf is mirrored below
    columns = np.flatnonzero((upper >= upper.max() / 2).any(axis=0))
    pixel = (right - left) / shine.ball.shape[1]
    width, reported = (columns[-1] - columns[0] + 1) * pixel, told["highlight.width"]
    assert abs(width - reported.value) < reported.half_interval + 0.02 * width + 1.5 * pixel
    middle = left + (columns[0] + columns[-1] + 1) / 2 * pixel
    assert np.mean(by_gid(axes, "highlight width").get_xdata()) == pytest.approx(middle, abs=2 * pixel + 0.02 * width)


def test_rendered_highlight_is_as_bright_as_the_report_says(shiny):
    shine, told = shiny
    upper = shine.ball[: len(shine.ball) // 2 + 10, :, 1]
    base = np.median(upper[upper < upper.max() / 4])  # what the dark ball under the gloss sends
    bright = upper[upper >= upper.max() / 2].mean() - base
    stops = told["highlight.stops_above_white"]
    assert np.log2(bright) == pytest.approx(stops.value, abs=3 * stops.standard_error + 0.06)


def test_ball_fills_its_outline(shiny):
    shine, told = shiny
    axes = ball_picture(shine, told).axes[0]
    left, right, bottom, top = by_gid(axes, "ball").get_extent()
    outline = next(each for each in axes.patches if each.get_gid() == "outline")
    seen = shine.ball.sum(axis=2) > 0
    area = seen.sum() * (right - left) * (top - bottom) / seen.size
    # The disc that a camera at the distance d sees of a ball: r / sqrt(1 - (r / d)^2) in the plane of its middle.
    assert area == pytest.approx(
        np.pi * outline.radius**2 / (1 - (outline.radius / told.working_distance) ** 2), rel=0.01
    )


def test_wing_case_stands_to_scale(shiny):
    shine, _ = shiny
    axes = wing_case_picture(shine).axes[0]
    bar = by_gid(axes, "scale bar").get_xdata()
    assert bar[1] - bar[0] == pytest.approx(1.0)
    left, right, _, _ = by_gid(axes, "wing case").get_extent()
    lit = np.flatnonzero((shine.case.sum(axis=2) > 0).any(axis=0))
    width = (lit[-1] - lit[0] + 1) * (right - left) / shine.case.shape[1]
    assert width == pytest.approx(6.0, rel=0.02)
    assert shine.title in alternative_text(wing_case_picture(shine))


@pytest.mark.parametrize("title", ["", *LONG])
def test_nothing_is_cut_off(shiny, title):
    shine, told = shiny
    assert_nothing_is_cut_off(ball_picture(shine, told, title=title))
    assert_nothing_is_cut_off(wing_case_picture(shine, title=title))
