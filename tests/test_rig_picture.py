"""The rig drawn to scale: light paths are true ones, and what is drawn is what the rig file says.

Expected values derived here unless a source is named.
"""

import io
import re
from functools import cache
from itertools import combinations

import numpy as np
import pytest
import trimesh
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.path import Path as Outline
from matplotlib.text import Text
from pictures import LONG, assert_nothing_is_cut_off, list_of
from rigs import bare_text, lit
from shapely import Polygon, contains_xy, unary_union

from lightsim.light.light import light_of
from lightsim.light.paths import BLACK, FADED, LEAST_LEFT, MISSED, SWALLOWED, paths_of
from lightsim.picture.outline import outline
from lightsim.picture.rig import MOST_STOPS, PATH_COLOURS, front_picture, side_picture
from lightsim.picture.style import alternative_text, settings
from lightsim.rig.library import design_files, design_path
from lightsim.rig.load import load, loads, placed
from lightsim.rig.mesh import Mesh

SIDE, FRONT = (2, 1), (0, 1)  # the world axes that lie in the paper
DARK_PAGE = "#14181a"  # as in lightsim/page/page.css
SURFACE = 2e-3  # mm: what float32 leaves of a place 300 mm away, and the offset from surfaces
# A box full of bounces, a mesh, a sharp forward lobe, metal with sharp lobes, two heads, nothing but the head.
KINDS = ("white-box", "mesh-hood", "flat-film", "foil-box", "two-heads", "bare-flash")


@cache
def light(name):
    return light_of(placed(load(name)), points=512)


@cache
def paths(name):
    return paths_of(light(name), reaching=12, others=12)


@cache
def drawn(name, draw) -> Figure:
    return draw(light(name).placed, paths_of(light(name)))


def artist(figure, gid):
    (found,) = figure.findobj(lambda each: each.get_gid() == gid)
    return found


def patch_of(figure, name, kind):
    (found,) = figure.findobj(
        lambda each: (
            str(each.get_gid()).startswith(f"{kind}-") and each.get_label() == name and hasattr(each, "get_path")
        )
    )
    return found


def corners_of(patch):
    return np.unique(patch.get_path().vertices.round(6), axis=0)


def same_points(found, expected, tolerance):
    apart = np.linalg.norm(found[:, None] - np.asarray(expected, float)[None], axis=2)
    return apart.min(axis=0).max() < tolerance and apart.min(axis=1).max() < tolerance


def touched(triangle, start, end):
    """Which segments (n, 3) touch which triangles (m, 3, 3), (n, m): the signed volumes of five tetrahedra."""
    a, b, c = (triangle[None, :, corner] for corner in range(3))
    p, q = start[:, None], end[:, None]

    def volume(one, two, three, four):
        return (np.cross(two - one, three - one) * (four - one)).sum(axis=-1)

    between = volume(p, a, b, c) * volume(q, a, b, c) < 0
    turns = np.stack([volume(p, q, a, b), volume(p, q, b, c), volume(p, q, c, a)])
    return between & ((turns > 0).all(axis=0) | (turns < 0).all(axis=0))


# Light paths


@pytest.mark.parametrize("name", KINDS)
def test_paths_land_on_the_parts_that_they_name(name):
    scene = light(name).scene
    for path in paths(name):
        assert len(path.points) - len(path.parts) == (path.end not in (SWALLOWED, FADED))
        assert path.names == tuple(scene.parts[part].name for part in path.parts)
        assert scene.parts[path.parts[0]].role == "head"
        for point, part in zip(path.points, path.parts, strict=False):
            triangle = scene.corner[scene.part == part]
            nearest = trimesh.triangles.closest_point(triangle, np.repeat(point[None], len(triangle), axis=0))
            assert np.linalg.norm(nearest - point, axis=1).min() < SURFACE


@pytest.mark.parametrize("name", KINDS)
def test_nothing_stands_in_a_leg(name):
    scene = light(name).scene
    start = np.concatenate([path.points[:-1] for path in paths(name)])
    end = np.concatenate([path.points[1:] for path in paths(name)])
    way = (end - start) / np.linalg.norm(end - start, axis=1)[:, None]
    # Short of both ends, where the leg touches the surfaces that it joins.
    short = 0.03 * way
    assert not touched(scene.corner, start + short, end - short).any()
    # The check sees what stands in the way: legs prolonged beyond their landings run into them.
    landed = np.array([True] * len(end))
    landed[np.cumsum([len(path.left) for path in paths(name)]) - 1] = False
    if landed.any():
        assert (
            touched(scene.corner, start[landed] + short[landed], end[landed] + short[landed]).any(axis=1).mean() > 0.95
        )


@pytest.mark.parametrize("name", KINDS)
def test_a_path_carries_less_light_after_each_landing(name):
    for path in paths(name):
        assert len(path.left) == len(path.points) - 1
        assert path.left[0] == 1
        assert (np.diff(path.left) <= 1e-7).all()
        assert (path.left > 0).all()


# shapes/materials.toml: white card sends back 0.86 and passes 0.03; copy paper 0.79 and 0.16.
@pytest.mark.parametrize("part, kept", [("box", 0.89), ("front", 0.95)])
def test_a_landing_takes_what_the_material_absorbs(part, kept):
    ratios = [
        path.left[number] / path.left[number - 1]
        for path in paths("white-box")
        for number in range(1, len(path.left))
        if path.names[number] == part
    ]
    assert ratios
    assert np.allclose(ratios, kept, atol=5e-6)


@pytest.mark.parametrize("name", ["white-box", "dome", "two-heads", "flat-film"])
def test_where_paths_end_agrees_with_the_tally_of_the_engine(name):
    own, count = light(name), 1000
    found = paths_of(own, reaching=0, others=count)
    assert len(found) == count
    assert not any(path.reaches for path in found)
    tally = own.cloud.tally
    gone = np.array([path.left[-1] if path.end == MISSED else 0.0 for path in found])
    # At most what is left to those not followed to their end, on top of four standard errors of independent paths.
    given_up = np.mean([path.left[-1] for path in found if path.end == FADED] or [0]) * LEAST_LEFT / BLACK
    given_up += BLACK * np.mean([path.end == SWALLOWED for path in found])
    assert abs(gone.mean() - tally.escaped.sum()) < 4 * gone.std() / np.sqrt(count) + given_up
    for part, each in enumerate(own.scene.parts):
        if each.role == "camera":  # black: absorbs 0.95 of what lands there
            ends = np.array(
                [0.95 * path.left[-1] * (path.end == SWALLOWED and path.parts[-1] == part) for path in found]
            )
            error = max(ends.std(), np.sqrt(tally.absorbed[part])) / np.sqrt(count)
            assert abs(ends.mean() - tally.absorbed[part]) < 4 * error + given_up


def test_paths_end_where_they_are_said_to_end():
    for path in paths_of(light("white-box"), reaching=0, others=200):
        if path.end == FADED:
            assert path.left[-1] < LEAST_LEFT / BLACK
        elif path.end == SWALLOWED:
            assert path.names[-1] in ("lens barrel", "lens front", "camera body", "flash")
        else:
            assert path.end == MISSED
            assert np.linalg.norm(path.points[-1]) > 9000


@pytest.mark.parametrize("name", ["white-box", "side-wings", "flat-film"])
def test_paths_reach_the_subject_from_where_its_light_comes(name):
    found = paths_of(light(name), reaching=200, others=0)
    assert len(found) == 200
    assert all(path.reaches and np.array_equal(path.points[-1], np.zeros(3)) for path in found)
    last = np.array([path.points[-2] for path in found])
    way = last / np.linalg.norm(last, axis=1)[:, None]
    # Another tracing of the same rig, of its own random numbers.
    other = light_of(light(name).placed, points=512, seed=7)
    seen = other.at((0, 0, 0))
    share = np.bincount(seen.replicate, seen.weight, seen.replicates)
    means = np.stack([np.bincount(seen.replicate, seen.weight * axis, seen.replicates) for axis in seen.direction.T], 1)
    means = means / share[:, None]
    expected, error = means.mean(axis=0), means.std(axis=0, ddof=1) / np.sqrt(len(means))
    joint = np.hypot(error, way.std(axis=0) / np.sqrt(len(way)))
    assert (np.abs(way.mean(axis=0) - expected) < 4 * joint).all()


def test_heads_on_one_panel_send_paths_as_they_light_it():
    # Two heads alike but for the guide number, mirrored about the middle of a panel that both light: 4 to 1 in light,
    # which goes with the square of the guide number.
    more = """
[[head]]
name = "weaker"
from = "subject"
toward_lens = 300
right = 100
window = [20, 20]
window_reflectance = 0
guide_number = 20
beam = { cos_power = 5 }
[[diffuser]]
name = "panel"
shape = "disc"
diameter = 200
material = "copy paper"
from = "subject"
toward_lens = 100
"""
    own = lit(bare_text(distance=300, right=-100, window=20, guide_number=40, more=more), error=0.02)
    found = paths_of(own, reaching=400, others=400)
    for reaches in (True, False):
        strong = np.mean([path.names[0] == "flash" for path in found if path.reaches == reaches])
        assert strong == pytest.approx(0.8, abs=4 * np.sqrt(0.8 * 0.2 / 400))


def test_all_paths_of_a_bare_flash_are_straight_from_its_window():
    found = paths_of(lit(bare_text(distance=500, window=40)), others=0)
    assert len(found) == 24
    for path in found:
        assert path.points.shape == (2, 3)
        assert np.abs(path.points[0, :2]).max() <= 20
        assert path.points[0, 2] == pytest.approx(500, abs=1e-3)
        assert path.left.tolist() == [1.0]
    assert len({tuple(path.points[0]) for path in found}) == 24


def test_clear_sheets_are_crossed_straight_and_cost_what_they_absorb():
    sheet = """
[[diffuser]]
name = "window pane"
shape = "sheet"
width = 200
height = 200
material = "glass"
from = "subject"
toward_lens = 100
[material.glass]
straight = 0.5
"""
    found = paths_of(lit(bare_text(distance=500, window=2, more=sheet)), others=8)
    for path in found[:24]:
        assert path.names == ("flash", "window pane")
        assert path.points[1, 2] == pytest.approx(100, abs=SURFACE)
        assert path.left == pytest.approx([1.0, 0.5], abs=1e-4)  # Bouguer, all but square to the sheet
        apart = np.linalg.norm(np.cross(path.points[1] - path.points[0], path.points[2] - path.points[0]))
        assert apart / np.linalg.norm(path.points[2] - path.points[0]) < SURFACE


def test_a_leaf_next_to_the_subject_takes_its_due_of_the_paths():
    # A leaf half a millimetre under the subject, where single connections would spike. Lit evenly it has the luminance
    # E R / pi, and fills half of all directions, so it brings 2 R times what the head does.
    leaf = """
[[surroundings]]
name = "bed"
shape = "sheet"
width = 100
height = 100
material = "chalk"
from = "subject"
toward_lens = -0.5
[material.chalk]
diffuse_reflectance = 0.5
"""
    found = paths_of(lit(bare_text(distance=1000, window=2, more=leaf)), reaching=200, others=0)
    scattered = [path for path in found if len(path.points) == 3]
    assert len(scattered) / len(found) == pytest.approx(0.5, abs=0.02)
    spots = np.array([path.points[1] for path in scattered])
    assert len(np.unique(spots.round(4), axis=0)) == len(spots)
    # Half of the light of an even plane comes from within 60 degrees of the perpendicular.
    assert np.mean(np.hypot(*spots[:, :2].T) < 0.5 * np.tan(np.pi / 3)) == pytest.approx(0.5, abs=0.2)


def test_the_same_light_gives_the_same_paths():
    one, two = paths_of(light("dome")), paths_of(light("dome"))
    assert len(one) == 48
    assert sum(path.reaches for path in one) == 24
    assert all(np.array_equal(a.points, b.points) for a, b in zip(one, two, strict=True))


# Outlines


def ball(rough=0.0):
    made = trimesh.creation.icosphere(subdivisions=5, radius=50)  # 20,480 triangles
    moved = np.random.default_rng(1).normal(0, rough, made.vertices.shape) if rough else 0.0
    return Mesh(np.array(made.vertices) + moved, np.array(made.faces))


@pytest.mark.parametrize("name", ["dome", "mesh-hood", "white-box", "card-funnel", "flat-paper", "foam-arc"])
@pytest.mark.parametrize("paper", [SIDE, FRONT])
def test_the_area_of_a_part_is_that_of_its_triangles(name, paper):
    # The union of the triangles by shapely.
    for part in (part for part in light(name).placed.parts if part.role == "diffuser"):
        flat = part.mesh.vertices[part.mesh.faces][:, :, list(paper)]
        triangles = [Polygon(each) for each in flat if Polygon(each).area > 1e-6]
        whole = unary_union(triangles).buffer(0.05)
        inner = whole.buffer(-0.1)
        low, high = flat.min(axis=(0, 1)) - 5, flat.max(axis=(0, 1)) + 5
        points = np.random.default_rng(2).uniform(low, high, (2000, 2))
        loops = [loop - points[:, None] for loop in outline(part.mesh, *paper).area]
        turns = np.zeros(len(points))
        for loop in loops:
            angle = np.unwrap(np.arctan2(loop[..., 1], loop[..., 0]), axis=1)
            turns += (angle[:, -1] - angle[:, 0]) / (2 * np.pi)
        covered = np.abs(turns) > 0.5
        assert not (covered & ~contains_xy(whole, points)).any()
        assert not (~covered & contains_xy(inner, points)).any()


def test_a_fine_mesh_is_drawn_by_its_silhouette_alone():
    drawing = outline(ball(), *SIDE)
    (loop,) = drawing.area
    assert np.hypot(*loop.T) == pytest.approx(50, abs=0.1)
    assert len(drawing.lines) == 1


def test_a_rough_mesh_stays_a_small_drawing():
    drawing = outline(ball(0.05), *SIDE)
    assert sum(map(len, drawing.area)) + sum(map(len, drawing.lines)) < 6000
    assert np.hypot(*np.concatenate(drawing.area).T).max() == pytest.approx(50, abs=1)


# Pictures: what is drawn is what the rig file says. Numbers of shapes/white-box.toml: front of 150 x 90, 74 above and
# 24 before the lens front, which is 95 from the subject; back of 80 x 60, 150 behind and 29 lower square to that; all
# leans by 36 degrees; the window of 60 x 40 stands 80 above and 30 before the shoe, 55 up and 20 behind the mount.
LEAN = np.radians(36)
FORWARD, UP = np.array([-np.cos(LEAN), -np.sin(LEAN)]), np.array([-np.sin(LEAN), np.cos(LEAN)])  # (z, y)
MIDDLE = np.array([95 - 24, 74])
BACK = MIDDLE - 150 * FORWARD - 29 * UP


def test_the_box_is_drawn_as_large_as_the_file_says():
    made = drawn("white-box", side_picture)
    expected = [MIDDLE + 45 * UP, MIDDLE - 45 * UP, BACK + 30 * UP, BACK - 30 * UP]
    assert same_points(corners_of(patch_of(made, "box", "area")), expected, 0.01)
    assert same_points(corners_of(patch_of(made, "front", "lines")), expected[:2], 0.01)
    across = corners_of(patch_of(drawn("white-box", front_picture), "front", "area"))
    assert same_points(across, [[side, end[1]] for side in (-75, 75) for end in expected[:2]], 0.01)


def test_window_lens_subject_and_field_are_where_the_file_says():
    made = drawn("white-box", side_picture)
    middle = np.array([95 + 120 + 20 - 30, 55 + 80])
    assert same_points(corners_of(patch_of(made, "flash", "lines")), [middle + 20 * UP, middle - 20 * UP], 0.01)
    barrel = corners_of(patch_of(made, "lens barrel", "area"))
    assert barrel[:, 0].min() == pytest.approx(95, abs=0.01)
    assert np.abs(barrel[:, 1]).max() == pytest.approx(65 / 2, abs=0.1)
    eye = artist(made, "ball")
    assert (eye.center, eye.radius) == ((0, 0), 1.5)
    assert artist(made, "field").get_ydata() == pytest.approx([-7.8, 7.8])
    field = artist(drawn("white-box", front_picture), "field")
    assert (field.get_width(), field.get_height()) == pytest.approx((23.5, 15.6))


@pytest.mark.parametrize("draw, mirrored", [(side_picture, True), (front_picture, False)])
def test_a_millimetre_is_as_long_each_way_and_right_is_right(draw, mirrored):
    made = drawn("two-heads", draw)
    made.draw_without_rendering()
    axes = made.axes[0]
    origin, across, up = axes.transData.transform([[0, 0], [1, 0], [0, 1]])
    assert abs(across[0] - origin[0]) == pytest.approx(up[1] - origin[1], rel=1e-3)
    assert (across[0] < origin[0]) == mirrored
    if not mirrored:
        heads = [corners_of(patch_of(made, name, "lines"))[:, 0].mean() for name in ("left head", "right head")]
        assert heads == pytest.approx([-95, 95], abs=0.01)


@pytest.mark.parametrize("draw, paper", [(side_picture, SIDE), (front_picture, FRONT)])
@pytest.mark.parametrize("name", ["dome", "white-box"])
def test_legs_are_drawn_where_light_goes_in_the_colour_of_the_stops_lost(name, draw, paper):
    made, found = drawn(name, draw), paths_of(light(name))
    legs = {
        (*start[list(paper)].round(5), *end[list(paper)].round(5)): (path.reaches, -np.log2(left))
        for path in found
        for start, end, left in zip(path.points[:-1], path.points[1:], path.left, strict=True)
    }
    shown = 0
    for patch in made.axes[0].patches:
        named = re.fullmatch(r"(reaching|others)(-last)?-(\d)", str(patch.get_gid()))
        if not named:
            continue
        step = int(named[3])
        assert to_rgb(patch.get_edgecolor()) == to_rgb(PATH_COLOURS[step])
        for leg in patch.get_path().vertices.reshape(-1, 4).round(5):
            reaches, stops = legs[tuple(leg)]
            assert reaches == (named[1] == "reaching")
            low = step * MOST_STOPS / len(PATH_COLOURS)
            assert low - 1e-6 <= stops < (low + 0.5 + 1e-6 if step < 9 else np.inf)
            shown += 1
    if name == "dome":  # few enough legs to show them all
        assert shown == sum(len(path.left) for path in found)
        ends = [path.points[-1][list(paper)] for path in found if path.end == SWALLOWED]
        assert same_points(np.column_stack(artist(made, "swallowed").get_data()), ends, 1e-6)
    else:
        assert 70 < shown < 250


def luminance(colour):
    """Relative luminance of a colour (WCAG 2.2)."""
    channel = np.array(to_rgb(colour))
    return float(
        np.where(channel <= 0.04045, channel / 12.92, ((channel + 0.055) / 1.055) ** 2.4) @ [0.2126, 0.7152, 0.0722]
    )


def test_colours_of_paths_stand_out_from_a_white_and_from_a_dark_page():
    # WCAG 2.2, 1.4.11: 3 : 1 for what one must see to understand a picture.
    bright = np.array([luminance(colour) for colour in PATH_COLOURS])
    assert ((1 + 0.05) / (bright + 0.05)).min() >= 3
    assert ((bright + 0.05) / (luminance(DARK_PAGE) + 0.05)).min() >= 3
    assert (np.diff(bright) < 0).all()  # in grey, too, more light is brighter


CASES = [(name, side_picture) for name in design_files()]
CASES += [(name, front_picture) for name in ("white-box", "two-heads", "side-wings")]


@pytest.mark.parametrize("name, draw", CASES)
def test_every_ready_design_is_drawn_with_each_part_named_and_no_name_over_another(name, draw):
    own = light(name)
    made = drawn(name, draw)
    assert_nothing_is_cut_off(made)
    axes = made.axes[0]
    names = [text for text in axes.texts if getattr(text, "arrow_patch", None) is not None]
    said = {" ".join(text.get_text().split()) for text in names}
    expected = {part.name for part in own.placed.parts if part.name not in ("lens front", "camera body")}
    assert expected | {head.name for head in own.placed.heads} <= said
    boxes = [Text.get_window_extent(text) for text in names]
    assert not any(one.overlaps(two) for one, two in combinations(boxes, 2))
    inside = axes.get_window_extent()
    assert all(inside.x0 <= box.x0 and box.x1 <= inside.x1 for box in boxes)
    said = alternative_text(made)
    assert own.placed.rig.title in said
    assert f"{own.placed.working_distance:g} mm" in said


def test_names_stay_text_whatever_they_hold():
    odd = "left <b>wing</b> $x^2$ \\\\frac & 甲虫 cut from two sheets"
    text = (
        design_path("side-wings").read_text().replace('"left wing"', f'"{odd}"').replace('title = "', 'title = "$y$ ')
    )
    own = lit(text, error=0.05)
    for draw in (side_picture, front_picture):
        made = draw(own.placed, paths_of(own))
        assert_nothing_is_cut_off(made)
        # Letters that the font lacks become boxes in the drawing; the alternative text keeps them.
        drawn_name = odd.replace("\\\\", "\\").replace("甲虫", "□□")
        assert any(drawn_name in line for line in list_of(made.axes[0]))
        assert odd.replace("\\\\", "\\") in alternative_text(made)
        assert any("$y$" in each.get_text() for each in made.axes[0].texts)


@pytest.mark.parametrize("title", LONG[1:])
def test_long_titles_fit(title):
    text = re.sub(r'^title = ".*"$', f'title = "{title}"', design_path("bare-flash").read_text(), flags=re.MULTILINE)
    own = placed(loads(text, file="long.toml", folder=design_path("bare-flash").parent))
    assert_nothing_is_cut_off(side_picture(own, ()))


def test_a_picture_without_paths_and_in_given_axes():
    own = light("dome").placed
    assert not [patch for patch in side_picture(own, ()).axes[0].patches if str(patch.get_gid()).startswith("reach")]
    figure = Figure(figsize=(10, 5), layout="constrained")
    left, right = figure.subplots(1, 2)
    assert side_picture(own, paths("white-box"), axes=left) is figure
    front_picture(own, (), axes=right)
    assert left.patches
    assert right.patches


def test_a_mesh_of_many_triangles_stays_a_small_file(tmp_path):
    made = ball(0.05)
    trimesh.Trimesh(made.vertices, made.faces).export(tmp_path / "ball.stl")
    text = bare_text(
        distance=300,
        window=40,
        more="""
[[diffuser]]
name = "ball"
shape = "mesh"
file = "ball.stl"
unit = "mm"
material = "copy paper"
from = "subject"
toward_lens = 150
up = 90
""",
    )
    own = light_of(placed(loads(text, file="mesh.toml", folder=tmp_path)), points=256)
    stream = io.BytesIO()
    figure = side_picture(own.placed, paths_of(own))
    with settings():
        figure.savefig(stream, format="svg")
    assert len(stream.getvalue()) < 150_000
    loops = patch_of(figure, "ball", "area").get_path()
    assert isinstance(loops, Outline)
    assert len(loops.vertices) < 3000
