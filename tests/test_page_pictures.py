"""Which picture stands where: every picture shows the design and the direction under whose name it stands.

Drawing is replaced by figures that say what they were given, so that nothing is rendered. Expected values derived here.
"""

import base64
import re
from io import BytesIO

import numpy as np
import pytest
from matplotlib.figure import Figure
from pages import ALARM, FOOTING, Read, designs_of, hostile
from PIL import Image

from lightsim.light import paths
from lightsim.measure import budget, curves, profiles, source_map
from lightsim.page import files
from lightsim.page.drawing import Section, Variant, named
from lightsim.page.page import page_of
from lightsim.page.pictures import pictures_of
from lightsim.page.svg import Letters, drawing
from lightsim.picture import budget as bars
from lightsim.picture import charts, portrait, rig, shadow, shine, source
from lightsim.picture.style import alternative_text, canvas, describe, settings


def saying(text):
    with settings():
        figure, axes = canvas(None, size=(1, 1))
        describe(axes, text)
    return figure


@pytest.fixture(scope="module")
def pair():
    return designs_of("bare-flash", "foam-arc")


@pytest.fixture
def told(pair, monkeypatch):
    """Two designs called A and B, and modules whose pictures say what they were given."""

    def put(module, name, function):
        monkeypatch.setattr(module, name, function)

    def own(view, light):
        return view.scene is light.scene

    put(portrait, "portrait_of", lambda lit, placed, *, quality, **_: (placed.rig.title, f"{lit.white:.4e}", quality))
    put(portrait, "portrait_picture", lambda made, *, title, stops=0.0, **_: saying(f"{title} {made} {stops:.1f}"))
    put(shine, "shine_of", lambda light, *lit, **_: (light.placed.rig.title, f"{lit[-1].white:.4e}"))
    put(shine, "ball_picture", lambda made, report, *, title, **_: saying(f"ball {title} {made} {report.title}"))
    put(shine, "wing_case_picture", lambda made, *, title, **_: saying(f"case {title} {made}"))
    put(source_map, "source_map", lambda light, *, view: (light.placed.rig.title, own(view, light)))
    put(source, "source_picture", lambda made, report, *, title, **_: saying(f"{title} {made} {report.title}"))
    put(paths, "paths_of", lambda light, **_: light.placed.rig.title)
    put(rig, "side_picture", lambda placed, found, **_: saying(f"side {placed.rig.title} {found}"))
    put(rig, "front_picture", lambda placed, found, **_: saying(f"front {placed.rig.title} {found}"))
    put(profiles, "edge_shadows", lambda lights, *, direction: direction)
    put(profiles, "hair_shadows", lambda lights, *, direction: direction)
    put(shadow, "edge_chart", lambda made, **_: saying(f"edge {made}"))
    put(shadow, "hair_picture", lambda made, **_: saying(f"hair {made}"))
    put(curves, "across_curve", lambda light, places, direction: (light.placed.rig.title, direction))
    put(charts, "across_chart", lambda made, **_: saying(f"field {made}"))
    put(budget, "budget_of", lambda light, title: (light.placed.rig.title, title))
    put(bars, "budget_picture", lambda made, **_: saying(f"budget {made}"))
    return [named(each.light, each.report, name) for each, name in zip(pair, "AB", strict=True)]


def test_each_file_shows_the_design_and_the_direction_in_its_name(told, monkeypatch, tmp_path):
    written = {}

    def save(figure, path, **_):
        written[path.name] = alternative_text(figure)
        return path

    monkeypatch.setattr(files, "save_figure", save)
    files.write_pictures(told, tmp_path, clean=True)
    light = [report["exposure.full_power"].value for _, report in told]
    darker = np.log2(np.array(light) / max(light))  # both at 1x, so the same effective aperture
    assert sorted(np.round(darker, 1)) < [-1, 0]
    for name, (_, report), stops in zip("AB", told, darker, strict=True):
        # A white card of luminance E / pi; the report's lux are 1e6 times 1/mm^2.
        white = f"{report['illuminance.lens'].value * 1e-6 / np.pi:.4e}"
        made = (name, white, "clean")
        low = name.lower()
        assert written[f"portrait-alike-{low}.png"] == f"{name} {made} 0.0"
        assert written[f"portrait-same-flash-{low}.png"] == f"{name} {made} {stops + 0.0:.1f}".replace("-0.0", "0.0")
        assert written[f"highlight-ball-{low}.png"] == f"ball {name} {made[:2]} {name}"
        assert written[f"highlight-wing-case-{low}.png"] == f"case {name} {made[:2]}"
        assert written[f"source-{low}.png"] == f"{name} {(name, True)} {name}"
        assert written[f"rig-side-{low}.png"] == f"side {name} {name}"
        assert written[f"rig-front-{low}.png"] == f"front {name} {name}"
    for way, direction in (("across", "x"), ("up-down", "y")):
        assert written[f"edge-{way}.png"] == f"edge {direction}"
        assert written[f"hair-{way}.png"] == f"hair {direction}"
        assert written[f"field-{way}.png"] == f"field {[('A', direction), ('B', direction)]}"
    assert written["budget.png"] == f"budget {[('A', 'A'), ('B', 'B')]}"


def test_each_switch_shows_what_it_says(told):
    words = {}
    for section, variants in pictures_of(told):
        for variant in variants:
            words[section.key, variant.label] = alternative_text(variant.pictures[0].figure)
    darkest = "0.0" if told[0][1]["exposure.full_power"].value > told[1][1]["exposure.full_power"].value else "-"
    assert words["portrait", "all exposed alike"].endswith(" 0.0")
    assert "preview" in words["portrait", "all exposed alike"]
    assert darkest in words["portrait", "the same flash setting for all"].rpartition(" ")[2]
    assert words["highlight", "on a ball, such as an eye"].startswith("ball")
    assert words["highlight", "on a wing case"].startswith("case")
    assert words["rig", "from the side"].startswith("side")
    assert words["rig", "from the subject"].startswith("front")
    for key in ("edge", "hair", "field"):
        assert "x" in words[key, "from left to right"]
        assert "y" in words[key, "up and down"]


def test_two_designs_of_one_title_do_not_write_over_each_other(told, monkeypatch, tmp_path):
    names = []
    monkeypatch.setattr(files, "save_figure", lambda figure, path, **_: names.append(path.name) or path)
    files.write_pictures([named(*each, "Box") for each in told], tmp_path)
    assert len(set(names)) == len(names) > 15


def coloured(drawn, number):
    """A picture of one colour: red is brighter, the larger the light looks."""
    with settings():
        figure, axes = canvas(None, size=(2, 1.5))
        share = drawn.reports[number]["size.cone_angle"].value / 180
        axes.imshow(np.full((75, 100, 3), (share, 0.0, 1.0))).set_gid("portrait")
        describe(axes, f"{drawn.names[number]}: {drawn.reports[number]['size.cone_angle'].value:.3f}")
    return figure


def both_ways(drawn):
    pictures = drawn.each(lambda number: coloured(drawn, number), "A colour", caption=True)
    return [Variant("one", "first <b>way</b>", pictures), Variant("two", "second way", pictures)]


def test_names_below_pictures_are_those_of_the_designs_and_stay_text(pair):
    designs = [*designs_of(hostile()), pair[0]]
    text = page_of(designs, footing=FOOTING, pictures=[Section("portrait", "Colours", "Look.", "Way", both_ways)])
    read = Read(text)
    assert not {tag for tag, _ in read.elements} & {"script", "b", "i", "u", "em"}
    names = [each.name for each in designs]
    assert ALARM in names
    assert f"What to change on {ALARM}" in [heading for _, heading in read.all("h2")]
    angles = [f"{each.name}: {each.report['size.cone_angle'].value:.3f}" for each in designs]
    said = [attributes["aria-label"] for attributes, _ in read.all("svg") if attributes.get("role") == "img"]
    captions = [caption for _, caption in read.all("figcaption")]
    assert said == 2 * angles
    assert captions[-4:] == 2 * names
    # The small portraits of the first screen, in the order of the designs.
    small = [attributes for attributes, _ in read.all("img")]
    assert len(small) == 2
    for design, attributes in zip(designs, small, strict=True):
        assert design.name in attributes["alt"]
        image = Image.open(BytesIO(base64.b64decode(attributes["src"].partition(",")[2])))
        assert image.size[0] >= 200
        red, _, blue = np.asarray(image.convert("RGB"), float).mean(axis=(0, 1)) / 255
        assert red == pytest.approx(design.report["size.cone_angle"].value / 180, abs=0.03)
        assert blue > 0.9
    # A switch and what it shows bear the same words; the first is seen at first.
    choices = re.findall(r'class="choice-(\d+)"( checked)?>\s*(.*?)</label>', text)
    assert [checked.strip() for _, checked, _ in choices] == ["checked", ""]
    shown = dict(re.findall(r'<div class="variant variant-(\d+)">\s*<h3>(.*?)</h3>', text))
    assert shown == {number: label.strip() for number, _, label in choices}


def pixels_of(text):
    """The image embedded in a drawing: kind as declared, and the image."""
    kind, data = re.search(r'href="data:image/(\w+);base64,([^"]*)"', text).groups()
    return kind, Image.open(BytesIO(base64.b64decode(data)))


def test_embedded_images_keep_their_look_and_are_of_the_kind_they_say():
    step = np.linspace(0, 1, 400)
    noise = np.random.default_rng(5).normal(0, 0.02, (300, 400, 3))
    shades = np.clip(np.stack(np.broadcast_arrays(step, 1 - step[:300, None], 0.5), axis=-1) + noise, 0, 1)
    figure = Figure(figsize=(4, 3))
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.imshow(shades, interpolation="none")
    kind, image = pixels_of(drawing(figure, number=0, letters=Letters(), name="shades"))
    assert kind == image.format.lower()
    assert image.size == (400, 300)
    apart = np.asarray(image.convert("RGB"), float) / 255 - shades
    # Peak signal-to-noise ratio; common practice, no source: 35 dB and more is seen as the same.
    assert -10 * np.log10(np.mean(apart**2)) > 33


def test_letters_stand_along_their_line_at_their_own_scale():
    letters = Letters()
    figure = Figure(figsize=(3, 1))
    with settings():
        figure.text(0.1, 0.5, "beetle")
        text = drawing(figure, number=0, letters=letters, name="a word")
    placed = re.findall(r"<use [^>]*>", text)
    across = [float((re.search(r' x="([^"]*)"', each) or ["", "0"])[1]) for each in placed]
    assert len(across) == 6
    assert (np.diff(across) > 0).all()
    assert not any(" y=" in each for each in placed)
    # Outlines are in 64ths of a unit of the font (matplotlib's text paths, from memory).
    assert set(re.findall(r'transform="([^"]*)"', letters.drawn())) == {"scale(0.015625)"}


def test_places_of_paths_that_are_no_whole_points():
    figure = Figure(figsize=(1, 1))
    axes = figure.add_axes((0, 0, 1, 1), frameon=False)
    axes.set_axis_off()
    axes.plot([0, 1 / 7], [0, 1], color="#123456")
    axes.set(xlim=(0, 1), ylim=(0, 1))
    text = drawing(figure, number=0, letters=Letters(), name="a line")
    line = next(each for each in re.findall(r"<path[^>]*>", text) if "#123456" in each)
    numbers = [float(each) for each in re.findall(r"-?\d+\.?\d*", re.search(r'd="([^"]*)"', line)[1])]
    assert numbers == pytest.approx([0, 72, 72 / 7, 0], abs=0.006)
