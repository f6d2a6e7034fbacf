"""What is left out as hidden would have been blocked anyway. Derived here: leaving it out changes no arrival."""

from dataclasses import replace

import numpy as np
import pytest
from scenes import disc, hollow_box, lamp, sheet_part

from lightsim.light.forward import trace
from lightsim.light.gather import connect
from lightsim.light.hidden import covers, hidden
from lightsim.light.scene import build
from lightsim.sheet import Sheet

WHITE, PAPER = Sheet(diffuse_reflectance=0.85), Sheet(diffuse_transmittance=0.16, diffuse_reflectance=0.8)
FILM = Sheet(straight=0.5)


def box(front=PAPER):
    walls = hollow_box(160, 100, 60, 140, WHITE)
    return build([walls, sheet_part(60, 160, 100, front, name="front")], [lamp(distance=139)])


@pytest.mark.parametrize("point", [(0, 0, 0), (70, -90, 20), (200, 0, 61), (0, 0, 100), (0, 0, 300)])
def test_leaving_out_what_is_hidden_changes_no_arrival(point):
    scene = box()
    cloud = trace(scene, points=256, replicates=4, seed=3)
    lean = connect(cloud, np.array(point, float))
    full = connect(replace(cloud, scene=replace(scene, covers=())), np.array(point, float))
    for column in ("direction", "origin", "weight", "part", "replicate"):
        assert np.array_equal(getattr(lean, column), getattr(full, column))


def test_a_closed_box_hides_its_walls_and_the_head_but_not_its_front():
    scene = box()
    out = hidden(scene.covers, scene.corner, np.zeros(3))
    names = np.array([scene.parts[part].name for part in scene.part])
    assert out[names == "flash"].all()
    assert out[names == "walls"].all()
    assert not out[names == "front"].any()


def test_only_flat_filled_opaque_parts_cover():
    arc = disc(distance=50, radius=40, sheet=PAPER)  # 720 corners: too many to be worth it
    # A film of 1 degree counts as straight-through.
    clear = [FILM, Sheet(pores=0.1), *(Sheet(forward_transmittance=0.5, half_value_angle=half) for half in (0, 1))]
    parts = [*(sheet_part(60, 160, 100, each) for each in clear), hollow_box(10, 10, 0, 10, WHITE), arc]
    assert covers(parts) == ()
    assert len(covers([sheet_part(60, 160, 100, Sheet(forward_transmittance=0.5, half_value_angle=20.0))])) == 1
    assert len(covers([sheet_part(60, 160, 100, PAPER)])) == 1
