"""The source as the subject sees it: the map holds the light that arrives, and what is drawn on it equals the figures.

Read back from the artists, not from pixels. Expected values derived here unless a source is named.
"""

import numpy as np
import pytest
from matplotlib.contour import ContourSet
from pictures import LONG, assert_nothing_is_cut_off

import lightsim
from lightsim.light.light import light_of
from lightsim.measure.report import report
from lightsim.measure.size import directions_of
from lightsim.measure.source_map import AHEAD, RIM, circle, source_map
from lightsim.measure.view import luminance, view_of
from lightsim.picture.source import DARKEST, source_picture
from lightsim.picture.style import alternative_text
from lightsim.rig.load import loads, placed

# A bare window 80 x 60 mm, 70 mm straight before the subject, whose intensity goes as the cosine: the same luminance
# from everywhere and in all directions.
WIDTH, HEIGHT, AWAY = 80.0, 60.0, 70.0
EVEN = f"""
title = "even window"
camera = {{ sensor = [36, 24], magnification = 1 }}
lens = {{ working_distance = 200, diameter = 10, length = 20 }}
[[head]]
from = "subject"
toward_lens = {AWAY}
window = [{WIDTH}, {HEIGHT}]
beam = {{ cos_power = 1 }}
guide_number = 20
"""


def rectangle(width, height, away):
    """Solid angle of a rectangle seen from in front of its middle [sr].

    Source: Khadjavi, J. Opt. Soc. Am. 58, 1417 (1968), from memory: 4 asin(sin a sin b), tan a = width / 2 away.
    """
    a, b = np.arctan(width / 2 / away), np.arctan(height / 2 / away)
    return 4 * np.arcsin(np.sin(a) * np.sin(b))


def area(points):
    x, y = np.asarray(points).T
    return 0.5 * abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def by_gid(axes, gid):
    return next(each for each in axes.get_children() if each.get_gid() == gid)


@pytest.fixture(scope="module")
def even():
    light = light_of(placed(loads(EVEN), 0))
    return light, report(light)


def test_half_contour_encloses_the_solid_angle(even):
    light, told = even
    axes = source_picture(source_map(light), told).axes[0]
    contour = by_gid(axes, "half")
    assert isinstance(contour, ContourSet)
    (path,) = contour.get_paths()
    enclosed = sum(area(piece) for piece in path.to_polygons(closed_only=False))
    assert enclosed == pytest.approx(rectangle(WIDTH, HEIGHT, AWAY), rel=0.01)
    assert told["size.solid_angle"].value == pytest.approx(rectangle(WIDTH, HEIGHT, AWAY), rel=0.005)


@pytest.mark.parametrize("design", ["white-box", "bare-flash", "side-wings"])
def test_drawn_cone_has_the_solid_angle_of_the_report(design):
    light = lightsim.trace(lightsim.load(design))
    told = report(light)
    axes = source_picture(source_map(light), told).axes[0]
    drawn = area(by_gid(axes, "equal cone").get_xydata()[:-1])
    assert drawn == pytest.approx(told["size.solid_angle"].value, rel=0.001)
    assert f"{told['size.cone_angle'].value:.1f}°" in next(text.get_text() for text in axes.get_legend().texts)


def test_circles_keep_their_area_anywhere_on_the_map():
    # Lambert's projection is equal-area: a cone of 50 degrees has 2 pi (1 - cos 25) sr wherever it points.
    for away in (0.0, 40.0, 64.0):
        centre = np.array([np.sin(np.radians(away)), 0.0, np.cos(np.radians(away))])
        assert area(circle(centre, 50.0)[:-1]) == pytest.approx(2 * np.pi * (1 - np.cos(np.radians(25))), rel=1e-3)


@pytest.mark.parametrize(
    "design", ["flat-paper", "white-box", "foam-arc", "foil-box", "flat-film", "two-heads", "dome"]
)
def test_map_holds_the_light_that_arrives(design):
    # Illuminance facing the lens: the integral of L cos over the map, against the sum over arrivals. The map's pixels
    # cut outlines at 0.6 degrees, its smoothing carries a little light from bright to dark places.
    light = lightsim.trace(lightsim.load(design))
    whole = source_map(light).whole
    cells = len(whole.luminance)
    step = (np.arange(cells) + 0.5) / cells * 2 * RIM - RIM
    x, y = np.meshgrid(step, step)
    cosine = 1 - (x * x + y * y) / 2
    found = (whole.luminance * np.maximum(cosine, 0)).sum() * (2 * RIM / cells) ** 2
    arrivals = light.at((0, 0, 0))
    assert found == pytest.approx((arrivals.weight * np.maximum(arrivals.direction[:, 2], 0)).sum(), rel=0.015)


def test_luminance_of_an_evenly_lit_window_is_that_of_the_closed_form(even):
    # cos^1: I = cos / pi per lumen, over the area of the window: L = 1 / (pi A) everywhere on it, 0 beside it.
    light, _ = even
    x, y = (grid.ravel() for grid in np.meshgrid(np.linspace(-54, 54, 23), np.linspace(-54, 54, 23)))
    to = np.column_stack([x, y, np.full(len(x), AWAY)])
    ways = to / np.linalg.norm(to, axis=1)[:, None]
    seen = luminance(view_of(light), np.zeros_like(ways), ways)
    on = (abs(x) < WIDTH / 2) & (abs(y) < HEIGHT / 2)
    assert seen[on] == pytest.approx(1 / (np.pi * WIDTH * HEIGHT), rel=1e-5)
    assert (seen[~on] == 0).all()


def test_matt_panel_is_seen_where_it_is_from_beside_the_point():
    # A ray from beside the subject looks up the place it lands on: the panel's edge lies where the panel ends.
    light = lightsim.trace(lightsim.load("flat-paper"))
    scene = light.scene
    number = [part.name for part in scene.parts].index("paper")
    corners = scene.corner[scene.part == number].reshape(-1, 3)
    top, away = corners[:, 1].max(), corners[corners[:, 1].argmax(), 2]
    view = view_of(light)
    for start in ([3.0, 0.0, 1.0], [-2.0, -4.0, 0.5]):
        to = np.array([[0.0, top - 0.2, away], [0.0, top + 0.2, away]]) - start
        inside, outside = luminance(view, np.array([start, start]), to / np.linalg.norm(to, axis=1)[:, None])
        assert inside > 0
        assert outside == 0


def test_white_is_what_burns_out_on_a_shiny_eye(even):
    # Fresnel at normal incidence, n = 1.56: ((n - 1) / (n + 1))^2 = 0.04785. The window fills so much of the view that
    # its light on a card that faces the lens is L x the form factor of a rectangle (Howell, from memory).
    light, told = even
    axes = source_picture(source_map(light), told).axes[0]
    image = by_gid(axes, "luminance")
    x, y = WIDTH / 2 / AWAY, HEIGHT / 2 / AWAY
    corner = x / np.hypot(1, x) * np.arctan(y / np.hypot(1, x)) + y / np.hypot(1, y) * np.arctan(x / np.hypot(1, y))
    card = 4 * corner / (2 * np.pi)  # luminance of the card over that of the window
    expected = np.log2((0.56 / 2.56) ** 2 / card)
    values = np.asarray(image.get_array())
    assert values.max() == pytest.approx(expected, abs=0.01)
    assert image.get_clim() == (DARKEST, 0.0)
    # And so the scale tells the highlight: what the report says of the ball, where the window is seen straight on.
    assert values.max() == pytest.approx(told["highlight.stops_above_white"].value, abs=0.1)


def test_hot_spot_is_drawn_at_the_brightest_place():
    light = lightsim.trace(lightsim.load("flat-paper"))
    found = source_map(light)
    axes = source_picture(found, report(light)).axes[0]
    x, y = by_gid(axes, "hot spot").get_xydata()[:-1].mean(axis=0)
    arrivals = light.at((0, 0, 0))
    way = directions_of(np.array([x]), np.array([y]), AHEAD)[0]
    within = arrivals.weight[arrivals.direction @ way > np.cos(np.radians(2.5))].sum()
    # No other circle of 5 degrees holds more light, but for noise: tried on a lattice over the panel.
    others = [
        arrivals.weight[arrivals.direction @ each > np.cos(np.radians(2.5))].sum()
        for each in directions_of(
            *(grid.ravel() for grid in np.meshgrid(np.linspace(-1, 1, 41), np.linspace(-0.5, 1, 31))), AHEAD
        )
    ]
    assert within > 0.93 * max(others)


def test_alternative_text_tells_the_size(even):
    light, told = even
    text = alternative_text(source_picture(source_map(light), told))
    assert "even window" in text
    assert f"{told['size.cone_angle'].value:.1f}" in text


@pytest.mark.parametrize("design", ["bare-flash", "two-heads"])
def test_nothing_is_cut_off(design):
    light = lightsim.trace(lightsim.load(design), error=0.05)
    told = report(light)
    for title in ("", *LONG):
        assert_nothing_is_cut_off(source_picture(source_map(light), told, title=title))
