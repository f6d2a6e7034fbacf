"""The budget: where each lumen went, in groups that sum to one, and the bars that show it."""

from itertools import pairwise

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from pictures import LONG, assert_nothing_is_cut_off, list_of
from rigs import bare_text, lit

from lightsim.light.estimate import Estimate
from lightsim.light.light import light_of
from lightsim.measure.budget import ENDED, LABELS, Budget, Piece, budget_of
from lightsim.measure.report import report
from lightsim.picture.budget import budget_picture
from lightsim.picture.style import alternative_text
from lightsim.rig.load import load, placed

ROUNDING = 1e-9  # sums of floating-point numbers near 1


@pytest.fixture(scope="module")
def lights():
    return [light_of(placed(load(name), 0), error=0.02, seed=3) for name in ("flat-foam", "white-box")]


def made_budget(title="Panel", shares=(0.1, 0.2, 0.05, 0.01, 0.3, 0.3, 0.041, -0.001)):
    rows = tuple(Piece(label, share) for label, share in zip(LABELS, shares, strict=True))
    return Budget(title, rows, Estimate(0.00123, 0.00001, 16), (24.0, 16.0))


def bars_of(made, number=0):
    """The pieces of one bar by label, in the order in which they lie."""
    pieces = [patch for patch in made.axes[0].patches if (patch.get_gid() or "").startswith(f"{number}: ")]
    return {patch.get_gid().partition(": ")[2]: patch for patch in pieces}


def test_groups_are_the_budget_of_the_report_by_what_the_rig_file_calls_the_parts(lights):
    # shapes/flat-foam.toml and white-box.toml: parts by their tables; the camera's three are made by lightsim.
    roles = {
        "flash": ("Back into the flash head", "Missed everything, straight from the head"),
        **dict.fromkeys(["foam", "box", "front"], ("Absorbed by the diffuser", "Missed everything, from the diffuser")),
        "bramble leaf": ("Absorbed by the surroundings", "Missed everything, from camera or surroundings"),
        **dict.fromkeys(
            ["lens barrel", "lens front", "camera body"],
            ("Absorbed by camera and lens", "Missed everything, from camera or surroundings"),
        ),
    }
    for light in lights:
        expected = dict.fromkeys(LABELS, 0.0)
        for figure in report(light).figures:
            for word, place in (("budget.absorbed by ", 0), ("budget.escaped past ", 1)):
                if figure.name.startswith(word):
                    expected[roles[figure.name.removeprefix(word)][place]] += figure.value
            if figure.name == "budget.lost by ending paths":
                expected[ENDED] += figure.value
        found = budget_of(light, "Any")
        assert dict(found.rows) == pytest.approx(expected, abs=1e-12)
        assert [piece.label for piece in found.rows] == list(LABELS)
        assert sum(piece.share for piece in found.rows) == pytest.approx(1, abs=ROUNDING)


def test_bars_are_the_budgets_and_sum_to_one(lights):
    budgets = [budget_of(light, light.placed.rig.title) for light in lights]
    made = budget_picture(budgets)
    assert len({gid for patch in made.axes[0].patches if (gid := patch.get_gid())}) == 2 * len(LABELS)
    for number, budget in enumerate(budgets):
        pieces = bars_of(made, number)
        assert list(pieces) == list(LABELS)
        widths = np.array([piece.get_width() for piece in pieces.values()])
        assert widths / 100 == pytest.approx([piece.share for piece in budget.rows], abs=1e-12)
        assert widths.sum() / 100 == pytest.approx(1, abs=ROUNDING)
        starts = np.array([piece.get_x() for piece in pieces.values()])
        assert starts == pytest.approx(np.concatenate([[0], np.cumsum(widths)[:-1]]), abs=ROUNDING)


def test_light_won_by_ending_paths_is_a_piece_of_negative_width():
    pieces = bars_of(budget_picture([made_budget()]))
    assert pieces[ENDED].get_width() == pytest.approx(-0.1, abs=1e-12)
    assert sum(piece.get_width() for piece in pieces.values()) == pytest.approx(100, abs=100 * ROUNDING)


def test_designs_share_order_colours_and_hatches_and_no_two_pieces_look_alike():
    made = budget_picture([made_budget("One"), made_budget("Other", (0, 0.5, 0, 0, 0.2, 0.3, 0, 0))])
    looks = [
        {label: (piece.get_facecolor(), piece.get_hatch()) for label, piece in bars_of(made, number).items()}
        for number in (0, 1)
    ]
    assert looks[0] == looks[1]
    assert len(set(looks[0].values())) == len(LABELS)
    # Not by colour alone: neighbours differ in hatch too.
    hatches = [looks[0][label][1] for label in LABELS]
    assert all(one != other for one, other in pairwise(hatches))


def test_numbers_stand_in_the_larger_pieces_and_the_list_holds_what_is_there():
    made = budget_picture([made_budget("Panel", (0.132, 0.6, 0.0, 0.004, 0.0, 0.2639, 0.0, 0.0001))])
    numbers = {text.get_text(): text.get_position()[0] for text in made.axes[0].texts if text.get_text().isdigit()}
    # Middles by hand: half of 13.2; 13.2 + 30; 13.2 + 60 + 0.4 + half of 26.39.
    assert numbers == pytest.approx({"13": 6.6, "60": 43.2, "26": 86.795}, abs=1e-9)
    assert list_of(made.axes[0]) == [
        "Back into the flash head, 13.2 %",
        "Absorbed by the diffuser, 60.0 %",
        "Absorbed by the surroundings, 0.4 %",
        "Missed everything, from the diffuser, 26.4 %",
    ]


def test_what_falls_on_the_field_is_told_beside_the_bar():
    made = budget_picture([made_budget()])
    texts = [text.get_text() for text in made.axes[0].texts]
    # t = 2.13 for 16 replicates (NIST TN 1297 table B.1, from memory): 0.123 ± 0.0021 %.
    assert "on the field: 0.123 ± 0.002 %" in texts
    assert any("24 x 16 mm" in text for text in texts)
    words = alternative_text(made)
    assert "Panel, 30 % missed everything, straight from the head" in words
    assert "on the field: 0.123 ± 0.002 % of 24 x 16 mm" in words


def test_share_on_the_field_of_a_small_source():
    # Cosine and inverse-square laws: a small Lambertian source of one lumen 1 m away gives 1 / (pi d^2) square to it.
    found = budget_of(lit(bare_text(distance=1000.0, power=1, window=0.2)), "Lamp")
    assert found.field == (24.0, 16.0)
    assert found.on_field.value == pytest.approx(24 * 16 / (np.pi * 1000.0**2), rel=1e-6)


def test_share_on_the_field_is_the_report_s_illuminance(lights):
    light = lights[0]
    (width, height), found = light.placed.field, report(light)["illuminance.lens"]
    on_field = budget_of(light, "").on_field
    per_square_metre = 1e-6 * width * height
    assert on_field.value == pytest.approx(found.value * per_square_metre, rel=1e-12)
    assert on_field.half_interval == pytest.approx(found.half_interval * per_square_metre, rel=1e-12)


@pytest.mark.parametrize("count", [0, 1, 4, 8])
def test_nothing_is_cut_off_and_names_keep_off_the_bars(count):
    made = budget_picture([made_budget(LONG[number % 3] if number % 2 else "Panel") for number in range(count)])
    assert_nothing_is_cut_off(made)
    renderer = made.canvas.get_renderer()
    bars = [patch.get_window_extent(renderer) for patch in made.axes[0].patches if isinstance(patch, Rectangle)]
    rows = [text for text in made.axes[0].texts if not text.get_text().isdigit()]
    for text in rows:
        box = text.get_window_extent(renderer)
        assert not any(box.y0 < bar.y1 - 1 and bar.y0 + 1 < box.y1 for bar in bars), text.get_text()


def test_budgets_draw_in_axes_that_are_given():
    whole = Figure()
    FigureCanvasAgg(whole)
    part = whole.subfigures(1, 2)[0].add_subplot()
    assert budget_picture([made_budget()], axes=part) is whole
    assert len(bars_of(whole)) == len(LABELS)
    assert len(list_of(part)) == len(LABELS)
