"""The highlight is drawn where mirror geometry has it, also on a ball that stands off the axis and the plane of focus.

Expected values derived here unless a source is named.
"""

import numpy as np
import pytest

from lightsim.light.light import light_of
from lightsim.measure.mirror import mirror
from lightsim.measure.report import report
from lightsim.measure.view import view_of
from lightsim.picture.illumination import illumination_of
from lightsim.picture.shine import ball_picture, shine_of, wing_case_picture
from lightsim.rig.load import loads, placed

LAMP, BALL, RADIUS, DISTANCE = (50.0, 20.0, 60.0), (3.0, 2.0, 10.0), 2.0, 80.0
TEXT = f"""
title = "lamp to the right"
camera = {{ sensor = [24, 16], pixels = [6000, 4000], magnification = 1 }}
lens = {{ working_distance = {DISTANCE}, diameter = 10, length = 20 }}
[subject.ball]
radius = {RADIUS}
right = {BALL[0]}
up = {BALL[1]}
toward_lens = {BALL[2]}
[[head]]
from = "subject"
right = {LAMP[0]}
up = {LAMP[1]}
toward_lens = {LAMP[2]}
window = [8, 8]
guide_number = 20
beam = {{ cos_power = 1 }}
"""


@pytest.fixture(scope="module")
def lamp():
    light = light_of(placed(loads(TEXT), 0), error=0.05)
    return shine_of(light, illumination_of(light, view_of(light))), report(light)


def brightest(axes):
    """Middle of what is burnt out in the image of a picture, in its own coordinates."""
    (image,) = axes.images
    values = np.asarray(image.get_array())[:, :, 1]
    rows, columns = np.nonzero(values > 0.99)
    left, right, bottom, top = image.get_extent()
    x = left + (columns.mean() + 0.5) / values.shape[1] * (right - left)
    y = top - (rows.mean() + 0.5) / values.shape[0] * (top - bottom)
    return x, y


def test_highlight_and_its_line_lie_where_mirror_geometry_has_them(lamp):
    # Alhazen's problem by lightsim.measure.mirror, itself tested against its own equation. In the front of the ball
    # the picture is larger by up to radius / (distance - radius), here 3 %.
    made = ball_picture(*lamp)
    axes = made.axes[0]
    image = mirror(np.array([LAMP]), centre=BALL, radius=RADIUS, camera=(0, 0, DISTANCE))
    x, y = brightest(axes)
    assert image.right[0] > 0.4
    assert (x, y) == pytest.approx((image.right[0], image.up[0]), abs=0.03 * RADIUS)
    (line,) = (each for each in axes.lines if each.get_gid() == "highlight width")
    assert np.mean(line.get_xdata()) == pytest.approx(image.right[0], abs=0.02 * RADIUS)
    width = lamp[1]["highlight.width_pixels"].value
    assert any(f"{width:.0f} pixels" in " ".join(text.get_text().split()) for text in axes.texts)


def test_wing_case_mirrors_the_lamp_on_its_right(lamp):
    # An ellipsoid of half axes a, b, c has the normal (x / a^2, y / b^2, z / c^2): that halfway between lamp and lens
    # mirrors the one to the other. The case stands in the axis; lamp and lens are taken to be far.
    half = np.array(LAMP) / np.linalg.norm(LAMP) + [0, 0, 1]
    axes_of_case = np.array([3.0, 2.0, 1.2])
    place = axes_of_case**2 * half / np.sqrt((axes_of_case**2 * half**2).sum())
    made = wing_case_picture(lamp[0])
    assert brightest(made.axes[0]) == pytest.approx(place[:2], abs=0.15)
