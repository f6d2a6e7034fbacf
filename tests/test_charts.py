"""Charts show the figures they were given and nothing else. Expected values derived here unless a source is named."""

import subprocess
import sys
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.container import ErrorbarContainer
from matplotlib.figure import Figure
from pictures import LONG, assert_nothing_is_cut_off, list_of
from rigs import bare_text, lit

from lightsim.light.estimate import Estimate
from lightsim.light.light import light_of
from lightsim.measure.curves import (
    AcrossCurve,
    FalloffCurve,
    across_curve,
    across_offsets,
    chart_offsets,
    falloff_curve,
    inverse_square,
)
from lightsim.measure.falloff import stops_at
from lightsim.measure.figure import figure
from lightsim.measure.report import Report, report
from lightsim.picture import charts
from lightsim.picture.fit import fitted, width_of
from lightsim.picture.style import COLOURS, alternative_text, look
from lightsim.rig.errors import RigError
from lightsim.rig.load import load, placed

TOLERANCE = 1e-9  # floating point only: a chart computes nothing


def made_report(title, *, stops=(1.0, 0.02), angle=(40.0, 1.0)):
    def estimate(pair):
        return None if pair is None else Estimate(*pair, 16)

    rows = (figure("loss.total", estimate(stops)), figure("size.cone_angle", estimate(angle)))
    return Report(
        title=title,
        magnification=1.0,
        working_distance=95.0,
        figures=rows,
        verdicts=(),
        second=None,
        caster="none",
        paths=0,
        seed=1,
        notes=(),
    )


def made_curve(title, slope):
    offsets = np.array([3.0, 0.0, -50.0, -100.0])
    return FalloffCurve(title, offsets, slope * offsets, np.abs(offsets) / 1000)


def made_across(title, direction, slope, *, edge=12.0):
    offsets = np.linspace(-edge, edge, 5)
    return AcrossCurve(title, direction, offsets, slope * offsets, np.abs(offsets) / 1000, edge)


def bars_of(axes):
    return [each for each in axes.containers if isinstance(each, ErrorbarContainer)]


def points_of(bar):
    return np.array(bar.lines[0].get_xydata())


def half_lengths(bar, axis):
    """Half lengths of a container's error bars along x (0) or y (1), as drawn; several groups come x first."""
    groups = [np.array(group.get_segments()) for group in bar.lines[2]]
    along = groups[axis] if len(groups) > 1 else groups[0]
    return (along[:, 1, axis] - along[:, 0, axis]) / 2


def name_boxes(made):
    renderer = made.canvas.get_renderer()
    made.draw_without_rendering()
    axes = made.axes[0]
    shown = [text for text in axes.texts if text.get_text() and text.xycoords == "data"]
    return {text.get_text(): text.get_window_extent(renderer) for text in shown}


@pytest.fixture(scope="module")
def lights():
    return [light_of(placed(load(name), 0), error=0.02, seed=3) for name in ("bare-flash", "flat-foam")]


def test_falloff_chart_shows_each_curve_with_its_bars():
    curves = [made_curve("Near panel", 0.01), made_curve("Far panel", 0.004)]
    made = charts.falloff_chart(curves)
    for curve, bar in zip(curves, bars_of(made.axes[0]), strict=True):
        points = points_of(bar)
        order = np.argsort(-curve.offsets)
        assert points[:, 0] == pytest.approx(-curve.offsets[order], abs=TOLERANCE)
        assert points[:, 1] == pytest.approx(curve.stops[order], abs=TOLERANCE)
        assert half_lengths(bar, 1) == pytest.approx(curve.half_interval[order], abs=TOLERANCE)


def test_falloff_list_follows_the_ends_of_the_curves_and_holds_the_reference():
    curves = [made_curve("Darkest", 0.02), made_curve("Lightest", 0.001)]
    made = charts.falloff_chart(curves, reference=made_curve("Inverse square", 0.005))
    assert list_of(made.axes[0]) == ["Lightest", "Inverse square", "Darkest"]


def test_falloff_chart_leaves_a_gap_where_no_light_arrives():
    curve = FalloffCurve(
        "Box", np.array([0.0, -10.0, -20.0]), np.array([0.0, np.nan, -1.0]), np.array([0, np.nan, 0.1])
    )
    (bar,) = bars_of(charts.falloff_chart([curve]).axes[0])
    assert np.isnan(points_of(bar)[:, 1]).tolist() == [False, True, False]


def test_across_chart_shows_each_curve_with_its_bars_and_the_edges_of_the_field():
    curves = [made_across("Near panel", "x", 0.01), made_across("Far panel", "x", -0.004)]
    made = charts.across_chart(curves)
    axes = made.axes[0]
    for curve, bar in zip(curves, bars_of(axes), strict=True):
        assert points_of(bar) == pytest.approx(np.column_stack([curve.offsets, curve.stops]), abs=TOLERANCE)
        assert half_lengths(bar, 1) == pytest.approx(curve.half_interval, abs=TOLERANCE)
    edges = sorted(line.get_xdata()[0] for line in axes.lines if line.get_gid() == "edge of the field")
    assert edges == [-12.0, 12.0]
    assert list_of(axes) == ["Near panel", "Far panel"]
    assert [bar.lines[0].get_color() for bar in bars_of(axes)] == [look(0).colour, look(1).colour]


def test_across_chart_of_one_design_tells_its_two_directions_apart():
    curves = [made_across("Panel", "x", 0.01), made_across("Panel", "y", -0.01, edge=8.0)]
    made = charts.across_chart(curves)
    one, other = (bar.lines[0] for bar in bars_of(made.axes[0]))
    assert one.get_color() == other.get_color() == look(0).colour
    assert one.get_linestyle() != other.get_linestyle()
    assert (one.get_markerfacecolor(), other.get_markerfacecolor()) == (look(0).colour, "white")
    assert list_of(made.axes[0]) == ["Panel, across", "Panel, up and down"]
    assert "24 mm wide and 16 mm high" in " ".join(" ".join(text.get_text() for text in made.axes[0].texts).split())


def test_an_even_light_is_not_drawn_as_a_fall():
    low, high = charts.across_chart([made_across("Panel", "x", 0.0001)]).axes[0].get_ylim()
    assert high - low >= 0.6
    sizes = [made_report("Panel", stops=(1.0, 1e-6), angle=(40.0, 1e-6))]
    low, high = charts.size_cost_chart(sizes).axes[0].get_ylim()
    assert high - low >= 12


def test_a_sudden_fall_is_explained_and_a_gap_is_no_fall():
    offsets = np.array([-8.0, 0.0, 8.0])
    fallen = AcrossCurve("Leaf", "y", offsets, np.array([-5.0, 0.0, 0.1]), np.zeros(3), 8.0)
    dark = replace(fallen, stops=np.array([np.nan, 0.0, 0.1]), half_interval=np.array([np.nan, 0, 0]))
    told = [
        any("Off the scale" in text.get_text() for text in charts.across_chart([each]).axes[0].texts)
        for each in (fallen, dark)
    ]
    assert told == [True, False]
    # So that the rest can be read: the scale stays near the middle, and the point is there all the same.
    axes = charts.across_chart([fallen]).axes[0]
    assert axes.get_ylim()[0] > -2.0
    assert points_of(bars_of(axes)[0])[0].tolist() == [-8.0, -5.0]
    assert "no light at an edge" in alternative_text(charts.across_chart([dark]))


def test_size_chart_shows_each_design_with_both_bars_and_its_name():
    reports = [
        made_report("Bare flash", stops=(0.0, 0.01), angle=(13.0, 0.2)),
        made_report("White box", stops=(1.9, 0.02), angle=(64.0, 1.5)),
    ]
    made = charts.size_cost_chart(reports)
    axes = made.axes[0]
    for each, bar in zip(reports, bars_of(axes), strict=True):
        lost, size = each["loss.total"], each["size.cone_angle"]
        assert points_of(bar)[0] == pytest.approx([lost.value, size.value], abs=TOLERANCE)
        assert half_lengths(bar, 0) == pytest.approx([lost.half_interval], abs=TOLERANCE)
        assert half_lengths(bar, 1) == pytest.approx([size.half_interval], abs=TOLERANCE)
    texts = {text.get_text(): text.xy for text in axes.texts if text.xycoords == "data"}
    assert texts["Bare flash"] == (0.0, 13.0)
    assert texts["White box"] == (1.9, 64.0)
    assert "(stops)" in axes.get_xlabel()
    assert "degrees" in axes.get_ylabel()


def crowd(count):
    rng = np.random.default_rng(5)
    places = rng.normal([2.0, 60.0], [0.25, 4.0], (count, 2))
    return [
        made_report(f"Design of number {number}", stops=(x, 0.01), angle=(y, 0.5))
        for number, (x, y) in enumerate(places)
    ]


@pytest.mark.parametrize("count", [2, 8, 17])
def test_names_cover_neither_each_other_nor_a_point(count):
    made = charts.size_cost_chart(crowd(count))
    axes = made.axes[0]
    boxes = name_boxes(made)
    assert len(boxes) == count
    for one, other in combinations(boxes.values(), 2):
        assert not one.overlaps(other)
    for bar in bars_of(axes):
        x, y = axes.transData.transform(points_of(bar))[0]
        assert not any(box.contains(x, y) for box in boxes.values())


@pytest.mark.parametrize("count", [1, 2, 8, 17])
@pytest.mark.parametrize("long", [False, True])
def test_nothing_is_cut_off(count, long):
    reports = crowd(count)
    if long:
        reports = [replace(each, title=LONG[number % 3]) for number, each in enumerate(reports)]
    curves = [made_curve(each.title, 0.001 * (number + 1)) for number, each in enumerate(reports)]
    across = [made_across(each.title, "y", 0.2 * (number + 1)) for number, each in enumerate(reports)]
    for made in (
        charts.size_cost_chart(reports),
        charts.falloff_chart(curves, reference=made_curve("Inverse square", 0.01)),
        charts.across_chart(across),
        charts.varied_chart("width of the sheet", "mm", range(count), reports, "size.cone_angle"),
    ):
        assert_nothing_is_cut_off(made)


def test_text_is_broken_by_its_true_width():
    # Metrics of the font: a W is much wider than an i.
    assert width_of("W" * 10) > 2 * width_of("i" * 10)
    for text in (*LONG, "one two"):
        lines = fitted(text, 2.0, indent="  ").split("\n")
        assert max(width_of(line) for line in lines) <= 2.0
        assert "".join(line.replace(" ", "") for line in lines) == text.replace(" ", "")
        assert all(line.startswith("  ") for line in lines[1:])
    assert fitted("one two", 2.0) == "one two"


def test_many_designs_get_numbers_and_a_list():
    reports = crowd(12)
    made = charts.size_cost_chart(reports)
    assert list_of(made.axes[0]) == [f"{number + 1} {each.title}" for number, each in enumerate(reports)]
    assert set(name_boxes(made)) == {str(number + 1) for number in range(12)}


def test_long_names_stand_in_the_list():
    made = charts.size_cost_chart([made_report(LONG[0]), made_report("Lit", stops=(2.0, 0.1))])
    assert list_of(made.axes[0]) == [f"1 {LONG[0]}", "2 Lit"]


def test_designs_without_a_figure_are_named_not_drawn():
    made = charts.size_cost_chart([made_report("Lit"), made_report("Dark", stops=None, angle=None)])
    axes = made.axes[0]
    assert len(bars_of(axes)) == 1
    assert any("Left out" in text.get_text() and "Dark" in text.get_text() for text in axes.texts)
    assert bars_of(charts.size_cost_chart([made_report("Dark", stops=None)]).axes[0]) == []


def test_a_design_keeps_its_look_though_another_is_left_out():
    made = charts.size_cost_chart([made_report("Dark", stops=None), made_report("Lit")])
    assert bars_of(made.axes[0])[0].lines[0].get_color() == look(1).colour


def test_varied_chart_shows_the_figure_against_the_number():
    values = [60.0, 30.0, 90.0]
    reports = [made_report("Flat foam", angle=(value / 2, value / 100)) for value in values]
    made = charts.varied_chart("width of the foam", "mm", values, reports, "size.cone_angle")
    axes = made.axes[0]
    (bar,) = bars_of(axes)
    assert points_of(bar) == pytest.approx(np.array([[30, 15], [60, 30], [90, 45]]), abs=TOLERANCE)
    # NIST TN 1297 table B.1 (from memory): t = 2.13 for 15 degrees of freedom.
    assert half_lengths(bar, 1) == pytest.approx(2.13145 * np.array([0.3, 0.6, 0.9]), rel=1e-6)
    assert axes.get_xlabel() == "width of the foam (mm)"
    assert axes.get_ylabel().replace("\n", " ") == "Apparent size: full angle of the equal cone (degrees)"


def test_varied_chart_says_why_there_are_gaps():
    reports = [made_report("Panel", angle=None), made_report("Panel")]
    made = charts.varied_chart("height", "mm", [1.0, 2.0], reports, "size.cone_angle")
    reason = f"Gaps: {reports[0]['size.cone_angle'].why}."
    assert any(reason in " ".join(text.get_text().split()) for text in made.axes[0].texts)
    nothing = charts.varied_chart("height", "mm", [1.0, 2.0], reports[:1] * 2, "size.cone_angle")
    assert nothing.axes[0].get_xlim() == (1.0, 2.0)


def test_varied_chart_refuses_values_without_reports():
    with pytest.raises(ValueError, match="2 values, 1 reports"):
        charts.varied_chart("height", "mm", [1.0, 2.0], [made_report("Panel")], "loss.total")
    with pytest.raises(KeyError):
        charts.varied_chart("height", "mm", [1.0], [made_report("Panel")], "loss.unknown")


def test_charts_draw_in_axes_that_are_given():
    whole = Figure()
    FigureCanvasAgg(whole)
    part = whole.subfigures(1, 2)[0].add_subplot()
    assert charts.size_cost_chart([made_report("Lit")], axes=part) is whole
    assert len(bars_of(part)) == 1


def test_two_charts_in_one_figure_have_a_list_each():
    whole = Figure(layout="constrained")
    FigureCanvasAgg(whole)
    one, other = whole.subplots(1, 2)
    charts.falloff_chart([made_curve("Near panel", 0.01)], axes=one)
    charts.falloff_chart([made_curve("Far panel", 0.01)], axes=other)
    assert (list_of(one), list_of(other)) == (["Near panel"], ["Far panel"])


def test_every_chart_says_its_main_numbers_in_words():
    # The rounding of a report: one digit of the half interval, two if the first is 1.
    curve = made_curve("Near panel", 0.01)
    assert "Near panel, -1.00 ± 0.10 stops 100 mm behind" in alternative_text(charts.falloff_chart([curve]))
    across = alternative_text(charts.across_chart([made_across("Near panel", "x", 0.01)]))
    assert "Near panel, across, -0.120 ± 0.012 stops at the left edge" in across.replace(
        "-0.12 ± 0.01", "-0.120 ± 0.012"
    )
    reports = [made_report("Lit")] * 9
    shown = alternative_text(charts.size_cost_chart(reports))
    assert shown.count("Lit, 40 ± 2 deg for 1.00 ± 0.04 stops lost") == 8
    assert "and 1 more" in shown
    swept = alternative_text(charts.varied_chart("height", "mm", [2.0, 1.0], reports[:2], "size.cone_angle"))
    assert "40 ± 2 deg at 1 mm; 40 ± 2 deg at 2 mm" in swept


def test_colours_are_distinct_also_to_the_colour_blind_and_looks_do_not_repeat():
    # Viénot, Brettel & Mollon, Color Res. Appl. 24, 243 (1999), matrices for linear RGB from memory: protan, deutan.
    blind = [
        np.eye(3),
        np.array([[0.11238, 0.88762, 0], [0.11238, 0.88762, 0], [0.00401, -0.00401, 1]]),
        np.array([[0.29275, 0.70725, 0], [0.29275, 0.70725, 0], [-0.02234, 0.02234, 1]]),
    ]
    linear = np.array([to_rgb(colour) for colour in COLOURS]) ** 2.2
    for matrix in blind:
        seen = np.clip(linear @ matrix.T, 0, 1) ** (1 / 2.2)
        apart = [np.linalg.norm(one - other) for one, other in combinations(seen, 2)]
        assert min(apart) > 0.1  # of 1.7 from black to white
    looks = [look(number) for number in range(56)]
    assert len({(each.colour, each.marker) for each in looks}) == 56


def test_charts_use_no_pyplot_and_no_screen():
    code = (
        "import sys\n"
        "import lightsim.picture\n"
        "assert 'matplotlib' not in sys.modules\n"
        "from lightsim.picture import charts\n"
        "made = charts.falloff_chart([])\n"
        "print(type(made.canvas).__name__, 'matplotlib.pyplot' in sys.modules)\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.split() == ["FigureCanvasAgg", "False"]


def test_settings_of_the_user_stay_and_do_not_show(tmp_path):
    import matplotlib

    plain = charts.save_figure(charts.size_cost_chart([made_report("Lit")]), tmp_path / "plain.png").read_bytes()
    with matplotlib.rc_context({"font.size": 22, "axes.facecolor": "black", "lines.linewidth": 9}):
        odd = charts.save_figure(charts.size_cost_chart([made_report("Lit")]), tmp_path / "odd.png").read_bytes()
        assert matplotlib.rcParams["font.size"] == 22
    assert odd == plain


def test_a_dollar_in_a_title_is_a_dollar(tmp_path):
    made = charts.size_cost_chart([made_report("A $5 box, $_{oops")])
    assert charts.save_figure(made, tmp_path / "dollar.png").stat().st_size > 1000


def test_letters_that_the_font_lacks_are_no_warning(tmp_path):
    # Warnings are errors in these tests.
    made = charts.falloff_chart([made_curve("甲虫 box", 0.01)])
    assert charts.save_figure(made, tmp_path / "beetle.svg").stat().st_size > 1000
    assert "甲虫 box" in alternative_text(made)


@pytest.mark.parametrize(
    ("ending", "start"), [("png", b"\x89PNG"), ("svg", b"<?xml"), ("pdf", b"%PDF"), ("PNG", b"\x89PNG")]
)
def test_files_are_of_their_kind_and_equal_for_equal_figures(tmp_path, ending, start):
    one, two = (
        charts.save_figure(charts.size_cost_chart(crowd(3)), tmp_path / f"{name}.{ending}").read_bytes()
        for name in ("one", "two")
    )
    assert one.startswith(start)
    assert one == two


def test_files_are_overwritten_only_when_asked(tmp_path):
    path = tmp_path / "chart.png"
    path.write_text("mine")
    made = charts.size_cost_chart([made_report("Lit")])
    with pytest.raises(RigError, match="exists already"):
        charts.save_figure(made, path)
    assert path.read_text() == "mine"
    assert charts.save_figure(made, path, replace=True) == path
    assert path.read_bytes().startswith(b"\x89PNG")


def test_other_kinds_of_file_are_refused(tmp_path):
    with pytest.raises(RigError, match=r"\.png, \.svg or \.pdf"):
        charts.save_figure(Figure(), tmp_path / "chart.bmp")
    assert list(tmp_path.iterdir()) == []


def test_falloff_curve_holds_the_figures_of_the_report(lights):
    light = lights[1]
    offsets = [3.0, 0.0, -50.0]
    curve = falloff_curve(light, offsets)
    for place, value, half in zip(offsets, curve.stops, curve.half_interval, strict=True):
        found = stops_at(light, (0.0, 0.0, place))
        assert (value, half) == (found.value, found.half_interval)
    assert curve.stops[1] == curve.half_interval[1] == 0
    assert curve.title == light.placed.rig.title


def test_places_of_the_chart_cover_subject_and_background(lights):
    offsets = chart_offsets([light.placed for light in lights])
    # shapes/bare-flash.toml: depth 6, farthest background 150.
    assert offsets[0] == 3.0
    assert 0.0 in offsets
    assert offsets[-1] == -150.0
    assert (np.diff(offsets) < 0).all()


def test_inverse_square():
    # Inverse-square law: a quarter of the light at twice the distance, 2 stops; aside by 30 at 40 is 50 away.
    assert inverse_square((0, 0, 100), [0.0, -100.0], title="").stops == pytest.approx([0.0, -2.0], abs=TOLERANCE)
    aside = inverse_square((0, 30, 40), [40.0, 0.0], title="")
    assert aside.stops == pytest.approx([2 * np.log2(50 / 30), 0.0], abs=TOLERANCE)
    with pytest.raises(ValueError, match="away from the subject"):
        inverse_square((0, 0, 50), [50.0], title="")


@pytest.mark.parametrize(("power", "direction"), [(1, "x"), (1, "y"), (4, "x")])
def test_light_of_a_small_source_falls_off_across_the_field(power, direction):
    # Cosine and inverse-square laws: a small source 100 mm away whose intensity falls as cos^m lights a plane square to
    # it as cos^(m + 3) of the angle; Lambertian (m = 1) by the cos^4 law. A window of 0.2 mm is small to 1e-6.
    light = lit(bare_text(distance=100.0, window=0.2, power=power, more="[subject]\nfield = 120\n"))
    offsets = across_offsets([light.placed], direction)
    curve = across_curve(light, offsets, direction)
    assert curve.edge == pytest.approx({"x": 60, "y": 40}[direction], abs=TOLERANCE)
    assert offsets[[0, -1]] == pytest.approx([-curve.edge, curve.edge], abs=1e-8)
    cosine = 1 / np.hypot(1, offsets / 100)
    assert curve.stops == pytest.approx((power + 3) * np.log2(cosine), abs=2e-4)
    assert stops_at(light, (30, 40, 0)).value == pytest.approx((power + 3) * np.log2(1 / np.hypot(1, 0.5)), abs=2e-4)


def test_across_curve_holds_the_figures_of_the_report(lights):
    light = lights[1]
    curve = across_curve(light, across_offsets([light.placed]))
    found = report(light)
    for place, name in ((0, "falloff.left"), (-1, "falloff.right")):
        assert (curve.stops[place], curve.half_interval[place]) == (found[name].value, found[name].half_interval)
    middle = np.flatnonzero(curve.offsets == 0)
    assert curve.stops[middle] == curve.half_interval[middle] == 0


def test_places_across_serve_fields_of_all_sizes(lights):
    # shapes/bare-flash.toml: a sensor 23.5 mm wide, at 1x and at 2x.
    other = placed(load("bare-flash"), 1)
    offsets = across_offsets([lights[0].placed, other])
    assert (np.diff(offsets) > 0).all()
    assert set(offsets) >= {-11.75, -5.875, 0.0, 5.875, 11.75}
    assert np.abs(offsets).max() == 11.75
