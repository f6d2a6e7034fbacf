"""Pictures of shadows show the profiles they were given, and those hold the figures of the report."""

import numpy as np
import pytest
from pictures import LONG, assert_nothing_is_cut_off, list_of

from lightsim.light.estimate import Estimate
from lightsim.light.light import light_of
from lightsim.measure.figure import figure
from lightsim.measure.profiles import EdgeShadow, HairShadow, edge_shadows, hair_shadows
from lightsim.measure.report import report
from lightsim.measure.rounding import shown
from lightsim.picture.shadow import UNSHADED, edge_chart, hair_picture
from lightsim.picture.style import alternative_text, look
from lightsim.picture.tone import srgb
from lightsim.rig.load import load, placed


@pytest.fixture(scope="module")
def lights():
    return [light_of(placed(load(name), 0), error=0.02, seed=3) for name in ("bare-flash", "flat-foam")]


@pytest.fixture(scope="module")
def reports(lights):
    return [report(light) for light in lights]


def made_edge(title="Panel", width=1.0):
    places = np.linspace(-2, 2, 201)
    share = np.clip(0.5 + 0.8 * places / width, 0, 1)
    found = figure("shadow.edge_x", Estimate(width, 0.01, 16), key="shadow.edge")
    return EdgeShadow(title, "x", 1.0, places, share, -width / 2, width / 2, found)


def made_hair(title="Panel", depth=0.3):
    places = np.linspace(-0.5, 0.3, 81)
    found = figure("shadow.hair_x", Estimate(depth, 0.01, 16), key="shadow.hair")
    return HairShadow(title, "x", 0.05, 0.5, places, 1 - depth * (np.abs(places) < 0.1), found)


def linear(seen):
    """sRGB to linear light. IEC 61966-2-1, from memory; the way back, written on its own."""
    return np.where(seen <= 0.04045, seen / 12.92, ((seen + 0.055) / 1.055) ** 2.4)


def marks(axes, gid):
    return {line.get_gid(): line.get_xydata() for line in axes.lines if (line.get_gid() or "").startswith(gid)}


def test_srgb():
    # IEC 61966-2-1, from memory: linear 0.5 is 188 and a grey card of 18 % is 118 of 255.
    assert srgb([0, 0.5, 0.18, 1]) * 255 == pytest.approx([0, 187.5, 117.6, 255], abs=0.1)
    ramp = np.linspace(0, 1, 1001)
    assert linear(srgb(ramp)) == pytest.approx(ramp, abs=1e-6)
    assert srgb([-1, 2]) == pytest.approx([0, 1], abs=1e-12)


def test_edge_chart_shows_each_profile_and_its_width():
    shadows = [made_edge("Small", 0.4), made_edge("Large", 1.6)]
    axes = edge_chart(shadows).axes[0]
    curves = [line for line in axes.lines if len(line.get_xdata()) == 201]
    for number, (shadow, line) in enumerate(zip(shadows, curves, strict=True)):
        assert line.get_xdata() == pytest.approx(shadow.places)
        assert line.get_ydata() == pytest.approx(100 * shadow.share)
        assert line.get_color() == look(number).colour
    found = marks(axes, "width ")
    assert found["width 1"] == pytest.approx(np.array([[-0.8, 10], [0.8, 90]]))
    # t = 2.13 for 16 replicates (NIST TN 1297 table B.1, from memory): half an interval of 0.02.
    assert list_of(axes) == ["Small: 0.40 ± 0.02 mm", "Large: 1.60 ± 0.02 mm"]


@pytest.mark.parametrize("direction", ["x", "y"])
def test_marked_width_of_an_edge_is_the_figure_of_the_report(lights, reports, direction):
    shadows = edge_shadows(lights, direction=direction)
    found = marks(edge_chart(shadows).axes[0], "width ")
    for number, (told, shadow) in enumerate(zip(reports, shadows, strict=True)):
        expected = told[f"shadow.edge_{direction}"]
        low, high = found[f"width {number}"]
        assert high[0] - low[0] == pytest.approx(expected.value, abs=1e-12)
        assert (shadow.width.value, shadow.width.half_interval) == (expected.value, expected.half_interval)
        assert shadow.width.label == expected.label
        # The curve itself passes 10 and 90 % at the marks, within the step of its places.
        step = np.diff(shadow.places).max()
        assert np.interp([0.1, 0.9], shadow.share, shadow.places) == pytest.approx([low[0], high[0]], abs=step)
    assert shadows[0].places[-1] == shadows[1].places[-1] >= max(shadow.high for shadow in shadows)


def test_hair_strips_are_the_profiles_in_true_brightness():
    shadows = [made_hair("Hard", 0.8), made_hair("Soft", 0.1)]
    axes = hair_picture(shadows).axes[0]
    strips = {image.get_gid(): image for image in axes.images}
    for number, shadow in enumerate(shadows):
        strip = strips[f"shadow {number}"]
        row = np.asarray(strip.get_array())
        assert row.shape == (1, 81, 3)
        assert (row[..., 0] == row[..., 1]).all()
        assert (row[..., 0] == row[..., 2]).all()
        assert linear(row[0, :, 0]) / UNSHADED == pytest.approx(shadow.share, abs=1e-6)
        # Pixels lie about their places: half a step more at either end.
        assert strip.get_extent()[:2] == pytest.approx([-0.505, 0.305])
    assert strips["shadow 0"].get_extent()[2] > strips["shadow 1"].get_extent()[3]


def test_the_hair_is_marked_to_scale_on_every_strip():
    axes = hair_picture([made_hair("Hard", 0.8), made_hair("Soft", 0.1)]).axes[0]
    hairs = [patch for patch in axes.patches if (patch.get_gid() or "").startswith("hair ")]
    assert len(hairs) == 2
    for hair in hairs:
        assert (hair.get_x(), hair.get_width()) == pytest.approx((-0.025, 0.05))
    assert any("0.05 mm thick and 0.5 mm above" in text.get_text() for text in axes.texts)


@pytest.mark.parametrize("direction", ["x", "y"])
def test_darkest_place_of_a_strip_is_the_figure_of_the_report(lights, reports, direction):
    shadows = hair_shadows(lights, direction=direction)
    made = hair_picture(shadows)
    for number, (told, shadow) in enumerate(zip(reports, shadows, strict=True)):
        expected = told[f"shadow.hair_{direction}"]
        value, half, unit = shown(expected)
        assert f"darkest: {value} ± {half} {unit} less light" in [text.get_text() for text in made.axes[0].texts]
        assert shadow.contrast.label == expected.label
        seen = linear(np.asarray(made.axes[0].images[number].get_array())[0, :, 0]) / UNSHADED
        # Half an interval of the figure, and what one of 301 places may lie off the darkest.
        assert 1 - seen.min() == pytest.approx(expected.value, abs=expected.half_interval + 0.01)
    assert (shadows[0].places == shadows[1].places).all()
    assert shadows[0].places[0] < 0 < shadows[0].places[-1]


def test_shadows_say_their_main_numbers_in_words():
    assert "Panel, 30 ± 2 % less light where it is darkest" in alternative_text(hair_picture([made_hair()]))
    assert "Panel, 1.00 ± 0.02 mm" in alternative_text(edge_chart([made_edge()]))


@pytest.mark.parametrize("count", [0, 1, 8])
def test_nothing_is_cut_off(count):
    names = [LONG[number % 3] if number % 2 else "Panel" for number in range(count)]
    assert_nothing_is_cut_off(hair_picture([made_hair(name) for name in names]))
    assert_nothing_is_cut_off(edge_chart([made_edge(name) for name in names]))
