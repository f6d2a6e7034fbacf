"""Axes of pictures say which way and in which unit; guides stand where the words have them."""

import numpy as np
import pytest
from rigs import bare_text, lit

from lightsim.light.estimate import Estimate
from lightsim.measure.budget import LABELS, Budget, Piece
from lightsim.measure.profiles import edge_shadows, hair_shadows
from lightsim.picture.budget import budget_picture
from lightsim.picture.shadow import edge_chart, hair_picture


@pytest.fixture(scope="module")
def lamp():
    return lit(bare_text(distance=200, right=80, window=30), error=0.05)


@pytest.mark.parametrize(("direction", "words"), [("x", "to the right"), ("y", "upward")])
def test_axes_of_shadows_name_direction_and_unit(lamp, direction, words):
    edges, hairs = (found([lamp], direction=direction) for found in (edge_shadows, hair_shadows))
    edge, hair = edge_chart(edges).axes[0], hair_picture(hairs).axes[0]
    for axes in (edge, hair):
        assert words in " ".join(axes.get_xlabel().split())
        assert axes.get_xlabel().endswith("(mm)")
    assert edge.get_ylabel().endswith("(%)")
    levels = {line.get_ydata()[0] for line in edge.lines if len(line.get_ydata()) == 2 and not line.get_gid()}
    assert levels == {10, 90}


@pytest.mark.parametrize("direction", ["x", "y"])
def test_the_strip_of_a_hair_holds_its_whole_shadow(lamp, direction):
    # A lamp 9 degrees wide, off to the right: its shadow lies to the left, and all light is there at either end.
    (shadow,) = hair_shadows([lamp], direction=direction)
    assert shadow.share[[0, -1]] == pytest.approx([1, 1], abs=0.03)
    darkest = shadow.places[shadow.share.argmin()]
    # Similar triangles: a hair at the height h under light from slope t throws its shadow to -h t.
    slope = 80 / 200 if direction == "x" else 0.0
    assert darkest == pytest.approx(-slope * shadow.height, abs=shadow.diameter)


def test_the_budget_is_in_per_cent():
    rows = tuple(Piece(label, 1 / len(LABELS)) for label in LABELS)
    axes = budget_picture([Budget("Panel", rows, Estimate(0.001, 0.0, 16), (24.0, 16.0))]).axes[0]
    assert axes.get_xlabel().endswith("(%)")
    assert np.array(axes.get_xlim()) == pytest.approx([0, 100])
