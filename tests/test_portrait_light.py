"""Light between the parts of a subject, what lies around it, and what the portrait asks of the renderer.

Expected values derived here unless a source is named.
"""

import re

import numpy as np
import pytest
from rigs import bare_text
from rigs import lit as lit_rig

from lightsim.measure.view import view_of
from lightsim.picture import portrait
from lightsim.picture.bounce import lit
from lightsim.picture.coat import coat_of
from lightsim.picture.illumination import Illumination, illumination_of, lamps_of
from lightsim.picture.portrait import FRAME, Portrait, portrait_of, portrait_picture
from lightsim.picture.render import Rendered, render
from lightsim.picture.solids import Surface, sheet, subject_of
from lightsim.picture.style import alternative_text
from lightsim.rig.load import load, placed

FAR, LONG, HIGH = 1000.0, 4.0, 3.0  # mm


def nothing(start, way):
    return np.zeros(len(way))


def lamp(place=(0, 0, FAR), mirrored=nothing):
    """A lamp without size that gives a plane facing it at the origin an illuminance of 1."""
    return Illumination(np.array([place], float), np.ones(1), np.zeros(3), mirrored, 1 / np.pi)


def plate(corner, one, two, *, reflectance=0.5, index=None, along=9, across=9):
    """A flat sheet from a corner along two edges; its outer side is one x two."""
    corner, one, two = (np.asarray(each, float) for each in (corner, one, two))
    return sheet(
        Surface("plate", (reflectance, 0.0, 0.1), index),
        lambda u, v: corner + (u[:, None] + 1) / 2 * one + (v[:, None] + 1) / 2 * two,
        along=along,
        across=across,
    )


def corner(*more, index=None):
    """A floor from 0 to LONG in x, and beside it a strip of wall at the height HIGH that faces it."""
    floor = plate((0, -60, 0), (LONG, 0, 0), (0, 120, 0), along=9, across=61)
    wall = plate((0, -5, HIGH - 0.05), (0, 10, 0), (0, 0, 0.1), reflectance=0.0, index=index, along=101, across=3)
    return subject_of([floor, wall, *more])


def on_wall(subject, **given):
    found = lit(subject, lamps_of(lamp()), **given)
    return found, found.indirect[subject.owner == 1, 0]


@pytest.mark.parametrize("index", [None, 1.56])
def test_a_floor_lights_the_wall_beside_it_by_its_form_factor(index):
    # An endless strip of floor seen from a wall: F = (1 - h / sqrt(h^2 + l^2)) / 2 (from memory; derived by the crossed
    # strings of Hottel). The floor sends out rho E; under a coat the wall takes in what the coat lets through.
    subject = corner(index=index)
    found, wall = on_wall(subject)
    factor = (1 - HIGH / np.hypot(HIGH, LONG)) / 2
    taken = 1.0 if index is None else coat_of(index).mean
    assert wall.mean() == pytest.approx(0.5 * factor * taken, rel=0.04)
    # Lambert: luminance rho E / pi; the lamp stands square to the floor.
    floor = (subject.owner == 0) & (np.abs(subject.vertices[:, 1]) < 10)
    assert found.sent[floor, 0] == pytest.approx(0.5 / np.pi, rel=0.01)
    assert on_wall(subject, bounces=0)[1].max() == 0


def test_a_floor_in_shadow_lights_nothing():
    roof = plate((-1, -70, 20), (LONG + 2, 0, 0), (0, 140, 0), along=3, across=3)
    assert on_wall(corner(roof))[1].max() < 0.01 * on_wall(corner())[1].mean()


def test_backs_of_sheets_are_black():
    ahead, away = (plate((-2, -2, 0), *edges) for edges in (((4, 0, 0), (0, 4, 0)), ((0, 4, 0), (4, 0, 0))))
    for each, expected in ((ahead, 0.5), (away, 0.0)):
        behind = 1 if expected else -1  # lit from the side that it faces
        seen = render(
            subject_of([each]), lamp((0, 0, behind * FAR)), camera=(0, 0, 95), frame=(2, 2), pixels=(8, 8), across=1
        )
        assert seen.linear[..., 0] == pytest.approx(expected, abs=0.002)


def test_surroundings_are_seen_from_the_plane_of_focus():
    # So that what is behind the subject stands where the lens has it: rays are asked for from their place at z = 0.
    asked = []

    def around(start, way):
        asked.append((start, way))
        return np.ones(len(way))

    small = plate((-0.1, -0.1, 0), (0.2, 0, 0), (0, 0.2, 0))
    seen = render(
        subject_of([small]), lamp(mirrored=around), camera=(0, 0, 95), frame=(8, 4), centre=(1, 2), pixels=(8, 4),
        across=1, surroundings=True,
    )  # fmt: skip
    start, way = asked[-1]
    assert np.abs(start[:, 2]).max() < 1e-5
    assert (way[:, 2] < 0).all()
    assert [start[:, axis].min() for axis in (0, 1)] == pytest.approx([-2.5, 0.5], abs=1e-4)
    assert [start[:, axis].max() for axis in (0, 1)] == pytest.approx([4.5, 3.5], abs=1e-4)
    assert seen.linear[0, 0] == pytest.approx([np.pi] * 3)  # a white card has 1 / pi


def test_the_portrait_is_taken_from_the_lens_with_what_is_around(monkeypatch):
    asked = {}

    def rendered(subject, illumination, **given):
        asked.update(given)
        return Rendered(np.zeros((3, 4, 3)), np.zeros((3, 4), np.int32))

    monkeypatch.setattr(portrait, "render", rendered)
    rig = placed(load("dome"), 0)
    for quality in ("preview", "clean"):
        portrait_of(lamp(), rig, quality=quality)
        assert asked["camera"] == (0, 0, rig.working_distance)
        assert asked["surroundings"] is True
        assert asked["frame"] == FRAME
        # Square pixels.
        assert asked["pixels"][0] / asked["pixels"][1] == pytest.approx(FRAME[0] / FRAME[1], rel=0.01)


def test_words_of_a_portrait_tell_its_exposure():
    linear = np.zeros((3, 4, 3))
    linear[0, :2] = 0.4
    linear[1, 0] = 3.0
    for stops, words, burnt in ((2.0, "brighter|more", 25), (-1.5, "darker|less", 8.3), (-2.0, "darker|less", 0)):
        said = alternative_text(portrait_picture(Portrait(linear, FRAME), stops=stops))
        assert re.search(rf"{abs(stops):g} stops? ({words})", said)
        assert f"{burnt:g} %" in said  # of twelve pixels


def test_a_diffuser_may_come_as_near_as_it_likes():
    # Only surroundings make room for the beetle's own leaf.
    sheet_near = """
[[diffuser]]
name = "collar"
shape = "sheet"
width = 40
height = 40
material = "copy paper"
from = "subject"
toward_lens = 6
"""
    light = lit_rig(bare_text(distance=200, window=20, more=sheet_near), error=0.05)
    seen = illumination_of(light, view_of(light))
    assert np.linalg.norm(seen.position, axis=1).min() < 7
    assert seen.weight.sum() == pytest.approx(light.at((0, 0, 0)).weight.sum(), rel=1e-6)
