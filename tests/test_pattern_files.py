"""SVG and DXF read back: svgelements and ezdxf as readers, shapely as the judge of lengths."""

import os
import subprocess
import sys
import xml.etree.ElementTree as ET
from io import StringIO

import ezdxf
import ezdxf.path
import numpy as np
import pytest
import shapely
import svgelements
from flat_pieces import circle, net, rectangle, sector

from lightsim import load
from lightsim.pattern.circles import circle_of
from lightsim.pattern.dxf import dxf_text
from lightsim.pattern.pack import SHEET_EDGE, packed, sheet_drawing
from lightsim.pattern.pattern import pattern_of
from lightsim.pattern.piece import Label
from lightsim.pattern.svg import svg_text

_XML = "{http://www.w3.org/2000/svg}"
_LAYERS = ("cut", "score", "mark")
# A quarter of each is found in names that people give, the rest is there to break files.
_HOSTILE = (
    "leaf \"beetle\" <b> & 'co' ]]> --> <!--",
    "%%d %%%%u 100% ^J ^ \\U+0041 \\M+1A2B3 \\P {x} $HANDSEED",
    "сачок, 甲虫, خنفساء, ξύλο, 🪲",
    "a very long name " * 30,
)


def sheet_of(*pieces, size=(500, 700)):
    (sheet,) = packed(pieces, sizes={}, usual=size)
    return sheet


@pytest.fixture(scope="module")
def sheet():
    """A sheet with a net, a sector and a rectangle in inches' size."""
    return sheet_of(net(), sector(), rectangle(25.4 * 3, 25.4 / 3, name="strip"), size=(523.5, 700))


def lengths(sheet, layer):
    """Lengths of what is drawn in a layer, sorted, mm."""
    found = []
    for stroke in sheet_drawing(sheet).strokes:
        if stroke.layer == layer and stroke.text != SHEET_EDGE:
            points = np.vstack([stroke.points, stroke.points[:1]]) if stroke.closed else stroke.points
            found.append(shapely.LineString(points).length)
    return sorted(found)


def svg_shapes(text, layer):
    # At 25.4 points to the inch one unit of svgelements is a millimetre of the page, whatever the viewBox says.
    document = svgelements.SVG.parse(StringIO(text), ppi=25.4, reify=True)
    (group,) = document.elements(lambda each: isinstance(each, svgelements.Group) and each.id == layer)
    return [each for each in group if isinstance(each, svgelements.Shape)]


def dxf_document(text):
    document = ezdxf.read(StringIO(text))
    auditor = document.audit()
    assert not auditor.errors, auditor.errors
    assert not auditor.fixes, auditor.fixes
    return document


def dxf_lengths(document, layer):
    """Lengths of what is read in a layer, sorted, mm."""
    return sorted(
        2 * np.pi * entity.dxf.radius
        if entity.dxftype() == "CIRCLE"
        else shapely.LineString([tuple(point)[:2] for point in ezdxf.path.make_path(entity).flattening(1e-3)]).length
        for entity in document.modelspace().query(f'LINE LWPOLYLINE CIRCLE[layer=="{layer}"]')
    )


# SVG


@pytest.mark.parametrize("layer", _LAYERS)
def test_svg_lines_have_their_lengths_in_their_layers(sheet, layer):
    read = sorted(svgelements.Path(shape).length(error=1e-6) for shape in svg_shapes(svg_text(sheet, title="x"), layer))
    assert len(read) == len(lengths(sheet, layer)) > 0
    assert read == pytest.approx(lengths(sheet, layer), abs=0.05)


def test_svg_page_is_the_sheet_in_millimetres(sheet):
    root = ET.fromstring(svg_text(sheet, title="x"))
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("523.5mm", "700mm", "0 0 523.5 700")
    page = svgelements.SVG.parse(StringIO(svg_text(sheet, title="x")), ppi=25.4)
    assert (float(page.width), float(page.height)) == pytest.approx((523.5, 700))


def test_svg_is_not_mirrored(sheet):
    drawn = [
        stroke.points
        for stroke in sheet_drawing(sheet).strokes
        if stroke.text == "outline" and circle_of(stroke.points) is None
    ]
    paths = [svgelements.Path(shape) for shape in svg_shapes(svg_text(sheet, title="x"), "cut")]
    read = [np.array([step.end for step in path][:-1]) for path in paths]
    assert len(drawn) == 3
    for points in drawn:
        down = points * [1, -1] + [0, 700]
        assert any(len(down) == len(other) and np.abs(other - down).max() < 1e-3 for other in read)


def test_svg_layers_differ_in_colour_and_in_dashes(sheet):
    groups = ET.fromstring(svg_text(sheet, title="x")).findall(f"{_XML}g")
    assert tuple(group.get("id") for group in groups) == _LAYERS
    assert len({group.get("stroke") for group in groups}) == 3
    assert len({group.get("stroke-dasharray") for group in groups}) == 3
    assert all(group.get("fill") == "none" for group in groups)


def test_svg_refers_to_nothing_outside(sheet):
    text = svg_text(sheet, title="x")
    assert text.count("http") == text.count("http://www.w3.org/")  # names of the two vocabularies, never fetched
    attributes = [key for element in ET.fromstring(text).iter() for key in element.attrib]
    assert not [key for key in attributes if key.endswith(("href", "src")) or key.startswith("on")]


@pytest.mark.parametrize("name", _HOSTILE)
def test_svg_keeps_any_name_as_words(name):
    sheet = sheet_of(net(name=name, text=name[:60]))
    root = ET.fromstring(svg_text(sheet, title=name))
    assert root.findtext(f"{_XML}title") == name.strip()
    words = root.findall(f"{_XML}g[@id='mark']/{_XML}text")
    assert [word.text for word in words] == [label.text.strip() for label in sheet_drawing(sheet).labels]
    assert name[:60].strip() in {word.text for word in words}
    assert name.strip() in " ".join(word.text for word in words)  # a long name takes several lines
    assert {child.tag for child in root.iter()} == {
        f"{_XML}{tag}" for tag in ("svg", "defs", "title", "g", "path", "text")
    }


def test_letters_stand_upright_and_about_their_place():
    # A net of 380 mm only fits a sheet of 345 mm turned: its words then read from below upward.
    sheet = sheet_of(net(), size=(345, 700))
    word = next(word for word in ET.fromstring(svg_text(sheet, title="x")).iter(f"{_XML}text") if word.text == "up")
    (label,) = (label for label in sheet_drawing(sheet).labels if label.text == "up")
    assert word.get("transform").startswith("rotate(-90 ")
    # Letters of a sans-serif font reach from 0.21 of its size below the line to 0.72 above it (from memory): together
    # the label's height, 5 mm. Turned by a quarter, above is to the left.
    size = float(word.get("font-size"))
    assert size * 0.93 == pytest.approx(5, abs=1e-3)
    assert float(word.get("x")) - size * (0.72 - 0.21) / 2 == pytest.approx(label.place[0], abs=1e-3)
    assert float(word.get("y")) == pytest.approx(700 - label.place[1], abs=1e-3)
    (text,) = (each for each in dxf_document(dxf_text(sheet, title="x")).query("TEXT") if each.dxf.text == "up")
    assert text.dxf.rotation == pytest.approx(90)
    assert text.dxf.align_point.x - size * (0.72 - 0.21) / 2 == pytest.approx(label.place[0], abs=1e-3)
    assert text.dxf.height == pytest.approx(size * 0.72, abs=1e-3)


def test_no_words_stand_on_their_head():
    upright = Label("no", np.zeros(2), 5.0, angle=np.pi)
    piece = rectangle(200, 100, labels=(upright,))
    text = svg_text(sheet_of(piece), title="x")
    assert "rotate(0 " in text
    assert "rotate(180" not in text


# DXF


@pytest.mark.parametrize("layer", _LAYERS)
def test_dxf_lines_have_their_lengths_in_their_layers(sheet, layer):
    read = dxf_lengths(dxf_document(dxf_text(sheet, title="x")), layer)
    assert len(read) == len(lengths(sheet, layer)) > 0
    assert read == pytest.approx(lengths(sheet, layer), abs=0.05)


def test_dxf_is_in_millimetres_and_its_rings_are_closed(sheet):
    document = dxf_document(dxf_text(sheet, title="Дюны"))
    assert document.dxfversion == "AC1024"  # R2010
    assert document.header["$INSUNITS"] == 4  # millimetres, DXF reference, header section (from memory)
    assert document.header["$MEASUREMENT"] == 1  # metric
    assert ("Title", "Дюны") in document.header.custom_vars.properties
    rings = document.query('LWPOLYLINE[layer=="cut"]')
    assert len(rings) == 4
    assert all(ring.closed for ring in rings)
    assert len(document.query('CIRCLE[layer=="cut"]')) == 1
    assert len(document.query('LINE[layer=="score"]')) == 4


def test_dxf_layers_have_linetypes_and_the_edge_is_not_output(sheet):
    document = dxf_document(dxf_text(sheet, title="x"))
    layers = {layer.dxf.name: layer for layer in document.layers}
    assert set(layers) == {"0", "Defpoints", "cut", "score", "mark", "sheet"}  # the first two: every DXF has them
    assert [layers[name].dxf.linetype.casefold() for name in _LAYERS] == ["continuous", "dashed", "dotted"]
    assert len({layers[name].dxf.color for name in _LAYERS}) == 3
    assert layers["sheet"].dxf.plot == 0
    (edge,) = document.query('*[layer=="sheet"]')
    assert sorted(map(tuple, edge.get_points("xy"))) == [(0, 0), (0, 700), (523.5, 0), (523.5, 700)]
    assert not document.query('*[layer=="0"]')


def test_dxf_is_not_mirrored(sheet):
    drawn = [stroke.points for stroke in sheet_drawing(sheet).strokes if stroke.text == "outline"]
    read = [np.array(ring.get_points("xy")) for ring in dxf_document(dxf_text(sheet, title="x")).query("LWPOLYLINE")]
    for points in drawn:
        assert any(len(points) == len(other) and np.abs(other - points).max() < 1e-6 for other in read)


@pytest.mark.parametrize("name", _HOSTILE)
def test_dxf_keeps_any_name_as_words(name):
    sheet = sheet_of(net(name=name, text=name[:60]))
    document = dxf_document(dxf_text(sheet, title=name))
    words = [text.plain_text() for text in document.query('TEXT[layer=="mark"]')]
    # What would be a code is told apart by a space, as DXF has no way to write it.
    expected = name.strip().replace("%%%%", "% % % %").replace("%%", "% %").replace("\\U+", "\\ U+")
    assert expected.replace("\\M+", "\\ M+") in " ".join(words)  # a long name takes several lines
    drawing = sheet_drawing(sheet)
    assert len(words) == len(drawing.labels)
    assert len(document.modelspace()) == len(drawing.strokes) + len(drawing.labels)


# Both


@pytest.mark.parametrize("design", ["card-funnel", "dome", "foldable-panel", "lens-cone", "side-wings", "white-box"])
def test_ready_designs_have_their_lengths_in_both_files(design):
    for sheet in packed(pattern_of(load(design)).pieces, sizes={}, usual=(500, 700)):
        svg, dxf = svg_text(sheet, title=design), dxf_document(dxf_text(sheet, title=design))
        assert lengths(sheet, "cut")
        for layer in _LAYERS:
            drawn = [svgelements.Path(shape).length(error=1e-6) for shape in svg_shapes(svg, layer)]
            assert sorted(drawn) == pytest.approx(lengths(sheet, layer), abs=0.05)
            assert dxf_lengths(dxf, layer) == pytest.approx(lengths(sheet, layer), abs=0.05)


# Derived here: the two straight ends of a half disc, and a square's many points, lie on a circle or nearly so, and yet
# a machine that cut the circle would spoil the piece.
@pytest.mark.parametrize(
    "ring, radius",
    [
        (circle(20.0, middle=(30.0, 205.0)), 20.0),
        (circle(0.5, points=72)[::-1], 0.5),
        (circle(20.0, points=60), None),
        (circle(20.0)[:65], None),
        (np.delete(circle(20.0), 5, axis=0), None),
        (circle(20.0) * [1.0, 1.002], None),
        (sector().outline, None),
    ],
)
def test_only_fine_regular_rings_are_circles(ring, radius):
    found = circle_of(ring)
    assert (found is None) == (radius is None)
    if found is not None:
        assert found.radius == pytest.approx(radius, abs=1e-9)
        assert found.centre == pytest.approx(ring.mean(axis=0), abs=1e-9)


def test_a_disc_with_two_flats_is_no_circle():
    """All its corners lie on the circle about their middle, but for two chords across 20 degrees: a knife that followed
    the circle would cut 20 (1 - cos 10 degrees) = 0.3 mm beside them."""
    ring = circle(20.0, points=360)
    turn = np.degrees(np.arctan2(ring[:, 1], ring[:, 0]))
    assert circle_of(ring) is not None
    assert circle_of(ring[np.abs((turn + 90) % 180 - 90) > 9.5]) is None


def test_a_round_hole_is_a_circle_for_machines(sheet):
    (round_hole,) = ET.fromstring(svg_text(sheet, title="x")).findall(f"{_XML}g[@id='cut']/{_XML}circle")
    (drilled,) = dxf_document(dxf_text(sheet, title="x")).query("CIRCLE")
    assert float(round_hole.get("r")) == pytest.approx(20, abs=1e-4)
    assert drilled.dxf.radius == pytest.approx(20, abs=1e-9)
    hole = next(
        stroke for stroke in sheet_drawing(sheet).strokes if len(stroke.points) == 128 and stroke.text == "hole"
    )
    middle = shapely.Polygon(hole.points).centroid
    assert (drilled.dxf.center.x, drilled.dxf.center.y) == pytest.approx((middle.x, middle.y), abs=1e-6)
    assert float(round_hole.get("cx")) == pytest.approx(middle.x, abs=1e-3)
    assert float(round_hole.get("cy")) == pytest.approx(700 - middle.y, abs=1e-3)


def test_the_same_sheet_gives_the_same_files_in_another_process_and_second(sheet):
    code = """
import sys
sys.path.insert(0, sys.argv[1])
from flat_pieces import net, rectangle, sector
from lightsim.pattern.dxf import dxf_text
from lightsim.pattern.pack import packed
from lightsim.pattern.svg import svg_text
pieces = [net(), sector(), rectangle(25.4 * 3, 25.4 / 3, name="strip")]
(sheet,) = packed(pieces, sizes={}, usual=(523.5, 700))
sys.stdout.write(svg_text(sheet, title="x") + dxf_text(sheet, title="x"))
"""
    here = os.path.dirname(os.path.abspath(__file__))
    # Another order of sets and dictionaries of text.
    environment = {**os.environ, "PYTHONHASHSEED": "7", "PYTHONIOENCODING": "utf-8"}
    done = subprocess.run([sys.executable, "-c", code, here], capture_output=True, check=True, env=environment)
    assert done.stdout.decode("utf-8").replace("\r\n", "\n") == svg_text(sheet, title="x") + dxf_text(sheet, title="x")


def test_writing_leaves_the_settings_of_ezdxf_alone(sheet):
    dxf_text(sheet, title="x")
    assert ezdxf.options.write_fixed_meta_data_for_testing is False


def test_a_home_that_cannot_be_written_is_no_matter_for_the_user():
    code = "import lightsim.pattern.dxf"
    environment = {**os.environ, "HOME": os.devnull, "XDG_CACHE_HOME": os.path.join(os.devnull, "none")}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=environment)
    assert (done.returncode, done.stderr) == (0, "")
