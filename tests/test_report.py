"""From a rig file to figures of known answer: falloff, loss, exposure, warnings, verdict."""

from dataclasses import replace

import numpy as np
import pytest
from rigs import bare_text, lit
from scenes import disc, lamp

from lightsim.light.estimate import Estimate, coverage_factor
from lightsim.light.forward import trace
from lightsim.light.light import SUBJECT, Light
from lightsim.light.scene import build
from lightsim.measure import falloff, loss
from lightsim.measure.figure import figure
from lightsim.measure.figures import at_subject
from lightsim.measure.report import report, second_opinion, verdicts
from lightsim.rig.beam import Beam
from lightsim.rig.models import Limits
from lightsim.sheet import Sheet

PAPER = '[[diffuser]]\nname = "{name}"\nshape = "sheet"\nwidth = {width}\nheight = {width}\nmaterial = "copy paper"\n'


def glowing_disc(*, radius: float, distance: float) -> Light:
    """Light of an evenly lit diffusing disc on the axis, without a rig file."""
    angle = np.linspace(0, np.arctan(1.1 * radius / 500), 100)
    beam = Beam(angle=tuple(np.degrees(angle)), intensity=tuple(np.cos(angle) ** -3))
    glow = disc(distance=distance, radius=radius, sheet=Sheet(diffuse_transmittance=0.5))
    scene = build([glow], [lamp(distance=distance + 500, width=0.1, height=0.1, reflectance=0, beam=beam)])
    cloud = trace(scene, points=4096, replicates=16, seed=3)
    return Light(placed=None, scene=scene, cloud=cloud, seed=3, error=0.005, side=cloud)  # type: ignore[arg-type]


# Local exponent of a Lambertian disc, 2 d^2 / (d^2 + r^2), derived; the difference over 2 % adds at most 2e-4.
@pytest.mark.parametrize(
    ("radius", "distance", "exponent"),
    [(50, 50, 1.0), (50, 80, 1.43820225), (50, 100, 1.6), (50, 500, 1.98019802)],
)
def test_local_exponent_of_a_disc(radius, distance, exponent):
    light = glowing_disc(radius=radius, distance=distance)
    found = falloff.local_exponent(light, light.at(SUBJECT))
    assert found is not None
    assert abs(found.value - exponent) < 4 * found.standard_error + 3e-4
    assert found.standard_error < 0.02


# Inverse square: a small head has the exponent 2 wherever it stands, and darkens by 2 log2(d2 / d1).
def test_a_small_head_falls_off_with_the_inverse_square():
    light = lit(bare_text(distance=300, right=400, turn=-53.130102, window=1))
    found = falloff.local_exponent(light, light.at(SUBJECT))
    assert found is not None
    assert found.value == pytest.approx(2, abs=3e-4)
    ahead = lit(bare_text(distance=1000))
    behind = falloff.stops_at(ahead, (0, 0, -500))
    assert behind is not None
    assert behind.value == pytest.approx(-2 * np.log2(1.5), abs=1e-4)


# Lambertian rectangle 120 x 80 seen from 100 mm: 0.71753353 per unit luminance (corner formula), to half its digits.
def test_reference_is_the_exact_integral_over_the_window():
    head = lamp(distance=100, width=120, height=80, power=1)
    luminance = 1 / (np.pi * 120 * 80)
    assert loss.reference_illuminance((head,)) == pytest.approx(0.71753353 * luminance, abs=5e-9 * luminance)


def test_reference_turns_the_head_to_the_subject():
    straight, tilted = (lamp(distance=500, width=1, height=1, tilt=tilt) for tilt in (0, 40))
    assert loss.reference_illuminance((tilted,)) == pytest.approx(loss.reference_illuminance((straight,)), rel=1e-5)


# Guide number 20 m at ISO 100 with C = 250: 1000 lx s at 1 m (ISO 1230, from memory; N^2 = H S / C), four times
# that at half the distance; a beam cos^5 holds 2 pi / 6 of its axial intensity as lm s.
@pytest.mark.parametrize(("distance", "exposure"), [(1000, 1000.0), (500, 4000.0)])
@pytest.mark.parametrize("power", [1, 5])
def test_guide_number_gives_the_exposure(distance, exposure, power):
    found = report(lit(bare_text(distance=distance, guide_number=20, power=power)))["exposure.full_power"]
    assert found.unit == "lx s"
    assert found.value == pytest.approx(exposure, rel=1e-4)


def test_two_equal_heads_give_twice_the_light():
    # Root of the sum of squares for guide numbers: two of 20 make 28.284 (common practice, from the inverse square).
    one = bare_text(right=100, turn=-5.710593)
    second = one[one.index("[[head]]") :].replace('"flash"', '"second"').replace("right = 100", "right = -100")
    both = report(lit(one + second.replace("turn = -5.7", "turn = 5.7")))["exposure.full_power"]
    alone = report(lit(one))["exposure.full_power"]
    assert both.value == pytest.approx(2 * alone.value, rel=1e-3)
    assert both.value == pytest.approx(250 * 28.284271**2 / 100 / 1.01 * np.cos(np.radians(5.710593)), rel=1e-3)


def test_light_from_the_surroundings_is_fill_and_not_source():
    leaf = '[[surroundings]]\nname = "leaf"\nshape = "sheet"\nwidth = 400\nheight = 400\nmaterial = "white"\n'
    white = '[material.white]\ndiffuse_reflectance = 0.9\nsource = "invented"\n'
    light = lit(bare_text() + leaf + 'from = "subject"\nright = 60\nturn = 90\n' + white)
    here = at_subject(light)
    assert here.fill.any()
    assert not here.fill.all()
    assert len(here.source.weight) == len(here.all.weight) - here.fill.sum()
    assert {light.scene.parts[part].name for part in here.source.part} == {"flash"}


def _notes(text: str) -> str:
    return " ".join(report(lit(text, error=0.03)).notes)


def test_a_panel_in_the_picture_is_told():
    panel = PAPER.format(name="panel", width=150) + 'from = "subject"\ntoward_lens = 300\n'
    # Of a panel that covers the whole view the deepest point lies on the axis: half of the lower side of the frame of
    # 24 x 16 mm, shrunk by nothing as the file names no pupil, and 300 mm / 32 of blur (1x at f/8: 1 / (2 * 8 * 2)),
    # which the lens front, of radius 30 mm at 2000 mm, cuts down to 8 * (1 - 300 / 2000) + 30 * 300 / 2000 mm.
    assert '"panel" stands in the picture: it reaches 11.3 mm into the view' in _notes(bare_text() + panel)
    aside = panel.replace("toward_lens = 300", "toward_lens = 300\nright = 150")
    assert "stands in the picture" not in _notes(bare_text() + aside)


def test_a_part_that_touches_the_subject_is_told():
    # A point in the plane of a sheet lies on neither side of it (definition): light of both sides is no figure.
    panel = PAPER.format(name="panel", width=150) + 'from = "subject"\ntoward_lens = {}\n'
    assert '"panel" touches the subject' in _notes(bare_text() + panel.format(0.0005))
    assert "touches the subject" not in _notes(bare_text() + panel.format(0.1))


def test_a_film_too_narrow_to_tell_from_clear_is_not_idle():
    # A lobe of half a degree passes on as straight-through light (docs/theory.md, Thin sheets), and is not lost.
    film = "[material.film]\nforward_transmittance = 1.0\nhalf_value_angle = 0.5\n"
    panel = PAPER.format(name="panel", width=150) + 'from = "subject"\ntoward_lens = 100\n'
    panel = panel.replace('material = "copy paper"', 'material = "film"')
    assert 'material = "film"' in panel
    assert "hardly any light" not in _notes(bare_text() + panel + film)


def test_light_past_the_diffuser_and_idle_parts_are_told():
    idle = PAPER.format(name="idle", width=100) + 'from = "flash"\ntoward_lens = 300\nright = 200\n'
    notes = _notes(bare_text(distance=500) + idle)
    assert "100 % of the light on the subject comes straight from the head" in notes
    assert '"idle" gets hardly any light' in notes
    behind = PAPER.format(name="low", width=100) + 'from = "subject"\nright = 200\ntoward_subject = 15\n'
    assert '"low" stands 15 mm behind the subject' in _notes(bare_text() + behind)


def test_an_error_that_was_not_reached_is_told():
    panel = PAPER.format(name="panel", width=40) + 'from = "subject"\ntoward_lens = 300\nright = 100\n'
    found = report(lit(bare_text(tilt=30, power=1) + panel, error=1e-5)).notes
    assert any("not to the 0.001 % asked for" in note for note in found)


def test_second_opinion_agrees():
    opinion = second_opinion(lit(bare_text(distance=200, window=40)), paths=2048)
    assert abs(opinion.joint_errors) < 4
    assert opinion.backward.standard_error > 0


# Derived here: 0.3 of sampling with 0.4 of the materials upward make 0.5, with 0.16 downward 0.34.
@pytest.mark.parametrize(
    ("limit", "name", "allowed", "kept"),
    [
        ("most_stops", "loss.total", 3.51, True),
        ("most_stops", "loss.total", 3.49, None),
        ("most_stops", "loss.total", 2.67, None),
        ("most_stops", "loss.total", 2.65, False),
        ("least_angle", "size.cone_angle", 3.51, False),
        ("least_angle", "size.cone_angle", 3.49, None),
        ("least_angle", "size.cone_angle", 2.67, None),
        ("least_angle", "size.cone_angle", 2.65, True),
        ("most_hot_spot", "size.hot_spot", 3.51, True),
        ("most_highlight", "highlight.stops_above_white", 3.51, True),
        ("least_clearance", "clearance", 2.65, True),
    ],
)
def test_a_limit_within_error_bar_and_range_is_too_close_to_call(limit, name, allowed, kept):
    found = figure(name, Estimate(3.0, 0.3 / coverage_factor(16), 16))
    (verdict,) = verdicts(Limits(**{limit: allowed}), [replace(found, low=2.84, high=3.4)])
    assert (verdict.limit, verdict.allowed, verdict.kept) == (limit, allowed, kept)


def test_an_exact_figure_at_its_limit_keeps_it():
    (verdict,) = verdicts(Limits(least_clearance=50.0), [figure("clearance", Estimate(50.0))])
    assert verdict.kept is True
    (dark,) = verdicts(Limits(most_stops=3.0), [figure("loss.total", None)])
    assert dark.kept is None
