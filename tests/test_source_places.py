"""Places and brightness on the map of the source: sides, heads, what stands around, what comes from behind.

Expected values derived here unless a source is named.
"""

from dataclasses import replace

import numpy as np
import pytest
from rigs import bare_text, lit

import lightsim
from lightsim.measure.report import report
from lightsim.measure.size import directions_of, map_of
from lightsim.measure.source_map import AHEAD, source_map
from lightsim.measure.view import first_met, luminance, view_of
from lightsim.picture.source import DARKEST, source_picture
from lightsim.picture.style import alternative_text


def by_gid(axes, gid):
    return next(each for each in axes.get_children() if each.get_gid() == gid)


def test_heads_are_as_bright_as_their_share_through_the_sheets_before_them_and_dark_from_behind():
    # Derived: I = share x cos / pi over the window's area as seen, so L = share / (pi A); shares go with the square of
    # the guide number (40 : 20 : 20, so 4/6 and 1/6). Two panes that let half straight through: a quarter (Bouguer).
    more = "".join(
        f"""
[[diffuser]]
name = "pane {away}"
shape = "sheet"
width = 60
height = 60
material = "glass"
from = "subject"
toward_lens = {away}
"""
        for away in (100, 150)
    )
    more += "[material.glass]\nstraight = 0.5\n"
    for name, right, turn in (("beside", 200, 0), ("turned away", -200, 180)):
        more += f"""
[[head]]
name = "{name}"
from = "subject"
toward_lens = 200
right = {right}
turn = {turn}
window = [10, 10]
window_reflectance = 0
guide_number = 20
beam = {{ cos_power = 1 }}
"""
    light = lit(bare_text(distance=200, window=10, guide_number=40, power=1, more=more))
    view, slant = view_of(light), np.sqrt(0.5)
    ways = np.array([[0, 0, 1], [slant, 0, slant], [-slant, 0, slant]])
    even = 1 / (np.pi * 10 * 10)
    assert luminance(view, np.zeros((3, 3)), ways) == pytest.approx([even / 6, even / 6, 0], rel=1e-3)
    # Right in the photograph is right on the map: the head beside stands at 45 degrees, 2 sin 22.5 from the middle.
    made = source_picture(source_map(light), report(light)).axes[0]
    image = by_gid(made, "luminance")
    left, right, bottom, top = image.get_extent()
    values = np.asarray(image.get_array())
    rows, columns = np.nonzero(values > DARKEST)
    assert image.origin == "lower"
    x = left + (columns + 0.5) / values.shape[1] * (right - left)
    y = bottom + (rows + 0.5) / values.shape[0] * (top - bottom)
    assert x.max() == pytest.approx(2 * np.sin(np.radians(22.5)), abs=0.04)
    assert x.min() > -0.1
    assert np.abs(y).max() < 0.1
    # So is the dashed line: the head before the subject is nearer and looks wider, 10 / 200.
    across = np.concatenate([path.vertices for path in by_gid(made, "half").get_paths()])[:, 0]
    assert np.ptp(across[across < 0.4]) == pytest.approx(10 / 200, abs=0.008)
    assert np.ptp(across[across > 0.4]) < 0.8 * 10 / 200


def test_matt_panel_looks_the_same_from_beside_the_point():
    # Lambert: a matt place is as bright from wherever it is seen. The lamp stands close behind the right half of the
    # panel, so that right and left differ much, above and below not at all.
    panel = """
[[diffuser]]
name = "panel"
shape = "sheet"
width = 120
height = 60
material = "opal"
from = "subject"
toward_lens = 40
[material.opal]
diffuse_transmittance = 0.5
"""
    light = lit(bare_text(distance=60, right=20, window=4, power=1, more=panel))
    view = view_of(light)
    place = np.array([[20.0, 0, 40], [0, 0, 40], [-20, 0, 40], [20, 15, 40], [20, -15, 40]])
    far = np.linalg.norm(place, axis=1)[:, None]
    straight = luminance(view, np.zeros_like(place), place / far)
    assert straight[0] > 5 * straight[2] > 0
    assert straight[3] == pytest.approx(straight[4], rel=0.1)
    for start in ([6.0, 0, 0], [0, -4.0, 2.0]):
        to = place - start
        beside = luminance(view, np.broadcast_to(start, to.shape), to / np.linalg.norm(to, axis=1)[:, None])
        assert beside == pytest.approx(straight, rel=1e-3)
    # The dashed line of the picture runs where half of the highest brightness is left.
    found = source_map(light)
    line = by_gid(source_picture(found, report(light)).axes[0], "half")
    x, y = np.concatenate([path.vertices for path in line.get_paths()]).T
    along = luminance(view, np.zeros((len(x), 3)), directions_of(x, y, AHEAD))
    assert np.median(along) == pytest.approx(found.brightest / 2, rel=0.05)


def test_what_comes_from_behind_is_told_and_does_not_move_the_cone():
    # Derived: a small lamp at 45 degrees gives a matt plane E cos 45, whose even light over the half-space behind the
    # subject brings 2 R cos 45 of what the lamp does.
    bed = """
[[surroundings]]
name = "bed"
shape = "sheet"
width = 400
height = 400
material = "chalk"
from = "subject"
toward_lens = -0.5
[material.chalk]
diffuse_reflectance = 0.25
"""
    light = lit(bare_text(distance=700, right=700, window=10, more=bed))
    found = source_map(light)
    back = 2 * 0.25 * np.sqrt(0.5)
    assert found.behind == pytest.approx(back / (1 + back), abs=0.02)
    assert found.spot is None  # the lamp is smaller than a circle of 5 degrees
    axes = source_picture(found, report(light)).axes[0]
    assert any("26 % from behind" in text.get_text() for text in axes.texts)
    lamp = np.array([[np.sqrt(0.5), 0, np.sqrt(0.5)]])
    (x,), (y,) = map_of(lamp, AHEAD)
    assert by_gid(axes, "equal cone").get_xydata()[:-1].mean(axis=0) == pytest.approx([x, y], abs=0.005)


def test_what_stands_around_is_named_where_it_is():
    light = lightsim.trace(lightsim.load("white-box"), error=0.05)
    axes = source_picture(source_map(light), report(light)).axes[0]
    places = {" ".join(text.get_text().split()): text.xy for text in axes.texts if hasattr(text, "xy")}
    # shapes/white-box.toml: the leaf lies under the subject and leans towards the lens.
    assert "bramble leaf" in places
    assert places["bramble leaf"][1] < -0.3
    way = directions_of(*np.array(places["bramble leaf"])[:, None], AHEAD)
    (met,) = first_met(view_of(light), np.zeros((1, 3)), way)
    assert light.scene.parts[met].name == "bramble leaf"


def test_words_and_rings_agree_with_the_scale():
    # A large even window close by: less bright in a shiny eye than a white card.
    light = lit(bare_text(distance=40, window=80, power=1), error=0.05)
    told, found = report(light), source_map(light)
    axes = source_picture(found, told).axes[0]
    stops = float(np.asarray(by_gid(axes, "luminance").get_array()).max())
    assert stops < 0
    assert f"Brightest place: {-stops:.1f} stops below white." in alternative_text(axes.figure)
    burning = alternative_text(source_picture(replace(found, white=found.brightest / 2.0**1.5), told))
    assert "Brightest place: 1.5 stops above white" in burning
    # A direction 30 degrees off the axis lies 2 sin 15 from the middle of the map.
    reach = {round(float(np.hypot(*line.get_xydata()[0])), 6) for line in axes.lines if line.get_linewidth() == 0.6}
    assert reach == {round(2 * np.sin(np.radians(angle / 2)), 6) for angle in (30, 60)}
