"""Depth of field, diffraction and what a placed rig says of them: textbook values, and rays drawn through a lens."""

from math import sqrt

import pytest
from rigs import bare_text
from scipy.special import erf, jn_zeros

from lightsim.rig.load import loads, placed
from lightsim.shot.focus import AIRY, WAVELENGTH, airy_diameter, depth_of_field, focus_of, wave_depth
from lightsim.shot.rocking import frames_for


# 2 N c (1 + m / P) / m^2 (close-up handbooks, from memory), c = 0.03 mm, P = 1;
# its working f-numbers are N (1 + m / P): 16, 24 and 24.
@pytest.mark.parametrize(
    "working, magnification, printed, digit", [(16, 1, 0.96, 5e-7), (24, 2, 0.36, 5e-7), (24, 5, 0.0576, 5e-7)]
)
def test_depth_of_field_as_in_textbooks(working, magnification, printed, digit):
    found = depth_of_field(working_f_number=working, magnification=magnification, blur_circle=0.03)
    assert found == pytest.approx(printed, abs=digit)


# Two points are imaged by 1/u + 1/v = 1/f, and their cones cut by the sensor (similar triangles, textbook optics).
@pytest.mark.parametrize("magnification", [0.5, 1, 2, 5])
def test_depth_of_field_against_rays_through_a_thin_lens(magnification):
    focal, f_number, circle = 60.0, 8.0, 0.02
    subject, sensor, pupil = focal * (1 + 1 / magnification), focal * (1 + magnification), focal / f_number
    depth = depth_of_field(
        working_f_number=f_number * (1 + magnification), magnification=magnification, blur_circle=circle
    )

    def cone(distance):
        image = 1 / (1 / focal - 1 / distance)
        return pupil * abs(image - sensor) / image

    blurs = [cone(subject + sign * depth / 2) for sign in (-1, 1)]
    # Near and far differ in first order of depth over distance, their mean only in second.
    assert blurs == pytest.approx([circle] * 2, rel=depth / subject)
    assert sum(blurs) / 2 == pytest.approx(circle, rel=(depth / subject) ** 2 + 1e-9)


# wavelength / NA^2, NA = m / (2 N (1 + m)) (microscopy textbooks, from memory): N = 4, m = 5, 0.55 um.
def test_wave_depth_as_in_textbooks():
    assert wave_depth(working_f_number=24, magnification=5) == pytest.approx(0.050688, abs=5e-7)


# Rayleigh's limit (optics textbooks, from memory): out of focus by d the wave at the edge of the pupil is off by
# d (1 - cos), the sine being the numerical aperture; a quarter of a wave is just tolerable.
@pytest.mark.parametrize("working, magnification", [(16, 1), (24, 5), (12, 0.5)])
def test_half_the_wave_depth_is_a_quarter_of_a_wave(working, magnification):
    sine = magnification / (2 * working)
    path = wave_depth(working_f_number=working, magnification=magnification) / 2 * (1 - sqrt(1 - sine**2))
    assert path / WAVELENGTH == pytest.approx(0.25, rel=sine**2)


# First zero of the Bessel function J1 over pi (scipy's zeros): 1.21967, not 1.22; and 21.4662 um at f/16, 0.55 um.
def test_the_airy_disc():
    assert pytest.approx(jn_zeros(1, 1)[0] / 3.14159265, abs=5e-6) == AIRY
    assert 1000 * airy_diameter(working_f_number=16) == pytest.approx(21.4662, abs=5e-4)  # 1.21967 has six digits


def focus(*, magnification=1, distance=2000, lens="", camera="", shot=""):
    text = bare_text(more=f"[shot]\n{shot}\n")
    text = text.replace("magnification = [1]", f"magnification = [{magnification}]\n{camera}")
    text = text.replace("diameter = 60", f"diameter = 60\n{lens}").replace("[2000]", f"[{distance}]")
    return focus_of(placed(loads(text)))


def test_a_rig_at_same_size():
    # 24 by 16 mm: diagonal 28.84441, over 1500 is 0.01922961 mm (Pythagoras); f/8 at 1x works as f/16.
    found = focus(shot='sway = 2\nsway_time = 0.3\nframe_time = "1/2"')
    assert found.working_f_number == 16
    assert found.blur_circle == pytest.approx(0.01922961, abs=5e-9)
    assert found.depth == pytest.approx(32 * 0.01922961, abs=5e-7)
    assert found.wave_depth == pytest.approx(0.5632, abs=5e-5)  # 0.55 um times 32 squared
    assert found.pixel == pytest.approx(0.004)  # 24 mm over 6000
    # In the normal distribution (scipy's error function).
    assert found.chance == pytest.approx(erf(found.depth / 2 / 2 / sqrt(2)), abs=1e-12)
    assert found.frames_half is not None
    assert found.frames_most is not None
    assert 1 < found.frames_half < found.frames_most
    assert found.softened  # 21 um of diffraction against 19 um that count as sharp


def test_the_width_of_a_pixel_is_counted_across():
    text = bare_text().replace("pixels = [6000, 4000]", "pixels = [3000, 4000]")
    assert focus_of(placed(loads(text))).pixel == pytest.approx(0.008)  # 24 mm over 3000, not 16 over 4000


def test_what_diffraction_hides_is_not_sharp():
    # f/22 at 5x works as f/132: rays leave 2 x 132 x 0.01922961 / 25 = 0.203 mm within the blur circle (Pythagoras, as
    # above), waves hide 0.55 um x (264 / 5)^2 = 1.533 mm (4 N^2 wavelength / m^2). The chance goes by the first.
    found = focus(magnification=5, lens="f_number = 22", shot="sway = 0.5")
    assert (found.depth, found.wave_depth) == pytest.approx((0.203065, 1.533312), abs=5e-7)
    assert found.softened
    assert found.chance == pytest.approx(erf(0.203065 / (2 * sqrt(2) * 0.5)), abs=1e-6)
    times = {"sway": 0.5, "sway_time": 0.3, "frame_time": 0.5}
    assert found.frames_most == frames_for(0.9, depth=found.depth, **times)
    assert found.frames_half == frames_for(0.5, depth=found.depth, **times)


# The cone of light at the sensor decides: N (1 + m / P), of a reversed lens N (1 + m P) / P (Jacobson).
@pytest.mark.parametrize(
    "lens, working", [("pupil_ratio = 0.5", 24), ("pupil_ratio = 2", 12), ("pupil_ratio = 2\nreversed = true", 12)]
)
def test_pupils_and_reversed_lenses(lens, working):
    found = focus(lens=lens, camera="blur_circle = 0.03")
    assert found.depth == pytest.approx(2 * working * 0.03, abs=5e-7)
    assert 1000 * found.airy == pytest.approx(2.43934 * 0.55 * working, abs=5e-4)


def test_a_still_camera_and_one_that_never_hits():
    still, wild = focus(shot="sway = 0"), focus(magnification=10, lens="f_number = 1", shot="sway = 200")
    assert (still.chance, still.frames_half, still.frames_most) == (1, 1, 1)
    # Less than 2 phi(0) half depth over sway (normal distribution): 1000 frames then stay below one in two.
    assert wild.chance < 2 * 0.39895 * wild.depth / 2 / 200 < 0.5e-3
    assert (wild.frames_half, wild.frames_most) == (None, None)


@pytest.mark.parametrize(
    "given, told",
    [
        ({"working_f_number": 0}, "working_f_number = 0. Allowed: 0.01 to"),
        ({"working_f_number": float("inf")}, "working_f_number = inf is no number"),
        ({"magnification": 0}, "magnification = 0. Allowed"),
        ({"magnification": -1}, "magnification = -1. Allowed"),
        ({"blur_circle": -0.03}, "blur_circle = -0.03 mm. Allowed"),
    ],
)
def test_what_cannot_be_is_told(given, told):
    with pytest.raises(ValueError, match=told):
        depth_of_field(**({"working_f_number": 16, "magnification": 1, "blur_circle": 0.03} | given))
