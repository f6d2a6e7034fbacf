"""From guide number to the exposure on the sensor, against textbook values.

Constants: N^2 / t = E S / C of incident and L S / K of reflected light, ISO 2720:1974 as quoted by J. Conrad, Exposure
Metering (C = 250 for a flat receptor, 330 often used with a dome; K = 12.5 and 14). Guide numbers: ISO 1230, from
memory. Sensors: H = q L t / N^2 with q = 0.65 and 10 / S for standard output sensitivity, ISO 12232, from memory.
Effective f-number: D. Jacobson, Photographic Lenses Tutorial (pupil magnification). The digits were worked out by hand
from these, apart from the package; each is held to half of its last one.
"""

import re
from math import log2, pi, sqrt

import pytest
from rigs import bare_text, lit

from lightsim.measure.exposure import (
    C_DOME,
    CALIBRATIONS,
    GREY,
    NOMINAL,
    C,
    Calibration,
    K,
    exposure_needed,
    headroom,
    lens_stops,
    luminous_energy,
    needed_of,
    sensor_exposure,
)
from lightsim.rig.camera import Lens, own_magnification, working_f_number
from lightsim.rig.errors import RigError
from lightsim.rig.load import loads, placed

K_GREY = CALIBRATIONS[0]  # reflected light, from a card of 18 %


def rig(more="", **change):
    """A placed rig of one bare head; more: tables put behind; change: what is replaced in the head or the lens."""
    text = bare_text(more=more, **{key: value for key, value in change.items() if key != "head"})
    return placed(
        loads(text.replace("window_reflectance = 0\n", f"window_reflectance = 0\n{change.get('head', '')}\n"))
    )


def lens(**keys):
    return Lens(working_distance=[95], diameter=65, length=120, **keys)


def needed(f_number=8.0, iso=100.0, **keys):
    return exposure_needed(working_f_number=f_number, iso=iso, **keys)


def apart(one, other):
    """Stops between two calibrations."""
    return log2(one.constant / other.constant)


def intensity(**change):
    """Axial intensity of the one head [cd s]."""
    return rig(**change).heads[0].axial_intensity


def effective(f_number, magnification, pupil_ratio, **keys):
    return at(magnification, f_number=f_number, pupil_ratio=pupil_ratio, **keys)


def at(magnification, *, distance=95, **keys):
    return working_f_number(lens(**keys), magnification=magnification, working_distance=distance)


def lost(magnification, **keys):
    return lens_stops(lens(**keys), working_f_number=at(magnification, **keys))


TWO_HEADS = """[[head]]
name = "other"
from = "subject"
toward_lens = 1000
window = [2, 2]
guide_number = 20
beam = { cos_power = 5 }
"""

TEXTBOOK = {
    # Guide numbers: H = C GN^2 / (S d^2), I = C GN^2 / S.
    "lx s at 1 m for guide number 20, C = 250": (lambda: intensity(guide_number=20), "1000.0000"),
    "lx s at 0.1 m, inverse square": (lambda: intensity(guide_number=20) / 0.1**2, "100000.00"),
    "lm s of an evenly scattering window, pi I": (lambda: luminous_energy(rig(power=1)), "3141.5927"),
    "lm s of a beam of cos^5, 2 pi I / 6": (lambda: luminous_energy(rig(power=5)), "1047.1976"),
    "lx s at 1 m for 65.6168 feet": (
        lambda: round(intensity(guide_number=65.6168, head='guide_number_unit = "ft"'), 3),
        "1000.000",
    ),
    "lx s at 1 m for 40 m at ISO 400": (lambda: intensity(guide_number=40, head="iso = 400"), "1000.0000"),
    "lx s at 1 m for 1/16 power: a quarter of the guide number": (lambda: 1000 / intensity(guide_number=5), "16.0000"),
    "two equal flashes: sqrt(2) of the guide number": (
        lambda: 20 * sqrt(luminous_energy(rig(more=TWO_HEADS)) / luminous_energy(rig())),
        "28.284271",
    ),
    # Exposure constants against each other.
    "reflectance at which K = 12.5 and C = 250 agree [%]": (lambda: 100 * GREY * K_GREY.constant / C, "15.70796"),
    "stops, K = 12.5 and 18 % against C = 250": (lambda: apart(NOMINAL, K_GREY), "0.196501"),
    "stops, the same against C = 330": (lambda: apart(CALIBRATIONS[2], K_GREY), "0.597039"),
    "stops, the same against C = 340": (lambda: apart(Calibration("", 340), K_GREY), "0.640107"),
    "stops, K = 14 against K = 12.5": (lambda: apart(Calibration("", pi * 14 / GREY), K_GREY), "0.163499"),
    # Exposure values: EV = log2(N^2 / t) at ISO 100.
    "EV of f/8 and 1/200 s": (lambda: log2(needed(8) / (C / 100) * 200), "13.643856"),
    "lx for EV 15 at ISO 100, C = 250": (lambda: needed(sqrt(2**15)), "81920.0"),
    "cd/m2 for EV 15 at ISO 100, K = 12.5": (
        lambda: needed(sqrt(2**15), reflectance=1, calibration=K_GREY) / pi,
        "4096.0",
    ),
    "stops that 500 lx stay below normal, ISO 200, f/8, 1/200 s": (
        lambda: log2(needed(8, 200) / (500 / 200)),
        "5.000000",
    ),
    # On the sensor.
    "lx s on the sensor, f/8, 1/200 s, 1000 cd/m2": (
        lambda: sensor_exposure(exposure=pi * 1000 / 200, reflectance=1, working_f_number=8),
        "0.05078125",
    ),
    "lx s on the sensor for mid-grey by K = 12.5 at ISO 100, 0.65 x 12.5 / 100": (
        lambda: sensor_exposure(exposure=needed(8, calibration=K_GREY), reflectance=GREY, working_f_number=8),
        "0.08125",
    ),
    # Effective f-number N (1 + m / P).
    "f/8 at 1x": (lambda: effective(8, 1, 1), "16.0000"),
    "f/8 at 2x": (lambda: effective(8, 2, 1), "24.0000"),
    "f/4 at 5x": (lambda: effective(4, 5, 1), "24.0000"),
    "f/8 at 1x, pupil ratio 0.5": (lambda: effective(8, 1, 0.5), "24.0000"),
    "f/8 at 1x, pupil ratio 2": (lambda: effective(8, 1, 2), "12.0000"),
    "stops lost at 1x": (lambda: lost(1), "2.000000"),
    "stops lost at 5x": (lambda: lost(5), "5.169925"),
    "stops lost at 1x, pupil ratio 0.5": (lambda: lost(1, pupil_ratio=0.5), "3.169925"),
    # Reversed: what was the exit pupil lets the light in, so N / P stands for N and 1 / P for P.
    "f/4 reversed at 4x, pupil ratio 0.5: 8 (1 + 4 x 0.5)": (lambda: effective(4, 4, 0.5, reversed=True), "24.0000"),
    "f/4 reversed at 4x, pupil ratio 1: as it was": (lambda: effective(4, 4, 1, reversed=True), "20.0000"),
    # Thin lenses (any optics textbook). A lens set far away behind a close-up lens of 200 mm costs nothing, whatever it
    # magnifies. A lens of 100 mm at its own 1x looks at something 200 mm away: behind a close-up lens of 200 mm that
    # lies 100 mm away, 1/100 = 1/200 + 1/200, and is magnified twice as much.
    "f/8 far away behind a close-up lens of 200 mm": (lambda: effective(8, 1, 1, distance=200, close_up=200), "8.0000"),
    "f/8 at its own 1x behind it, 2x": (lambda: effective(8, 2, 1, distance=100, close_up=200), "16.0000"),
}


@pytest.mark.parametrize("name", TEXTBOOK)
def test_textbook_values(name):
    value, printed = TEXTBOOK[name]
    assert value() == pytest.approx(float(printed), abs=0.5 * 10 ** -len(printed.partition(".")[2]))


def test_constants_and_the_range_of_the_calibrations():
    # ISO 2720 as quoted by Conrad: C of a flat receptor from 240 to 400, K from 10.6 to 13.4; C = 330 of common use.
    assert (C, C_DOME, K, GREY) == (250, 330, 12.5, 0.18)
    constants = [each.constant for each in CALIBRATIONS]
    assert constants == sorted(constants)
    # The widest two differ by at most two thirds of a stop.
    assert 0.5 < apart(CALIBRATIONS[-1], CALIBRATIONS[0]) < 2 / 3
    for each, constant in zip(CALIBRATIONS, ("K = 12.5", "C = 250", "C = 330"), strict=True):
        assert constant in each.name


@pytest.mark.parametrize("calibration", CALIBRATIONS, ids=lambda each: each.name)
def test_the_sensor_gets_about_what_its_standard_asks_for(calibration):
    # ISO 12232 (from memory): 10 / S lx s is mid-grey of standard output sensitivity. Each of the constants ends within
    # half a stop of it: a lens of the usual transmittance and no other loss.
    on_sensor = sensor_exposure(exposure=needed(8, 200, calibration=calibration), reflectance=GREY, working_f_number=8)
    assert abs(log2(on_sensor / (10 / 200))) < 0.5


@pytest.mark.parametrize(
    ("change", "stops"),
    [
        ({"iso": 200.0}, -1.0),
        ({"f_number": 8 * sqrt(2)}, 1.0),
        ({"placement": 1.0}, 1.0),
        ({"placement": -2.5}, -2.5),
        ({"reflectance": 0.72}, -2.0),
        ({"transmittance": 0.45}, 1.0),
    ],
    ids=str,
)
def test_a_stop_is_a_stop(change, stops):
    # Definitions: a stop is a factor of two in light; film speed and light are reciprocal, light goes as N^2.
    assert log2(needed(**change) / needed()) == pytest.approx(stops, abs=1e-12)


@pytest.mark.parametrize("calibration", CALIBRATIONS, ids=lambda each: each.name)
def test_what_is_asked_for_at_the_subject_is_the_same_on_the_sensor(calibration):
    # However dark the subject and whatever the lens swallows, a placement of 0 means one exposure on the sensor.
    exposures = [
        sensor_exposure(
            exposure=needed(f_number, reflectance=part, transmittance=glass, calibration=calibration),
            reflectance=part,
            working_f_number=f_number,
            transmittance=glass,
        )
        for f_number, part, glass in ((8, 0.18, 0.9), (24, 0.04, 0.9), (16, 0.6, 0.5))
    ]
    assert exposures == pytest.approx([0.65 * calibration.constant * GREY / pi / 100] * 3)


@pytest.mark.parametrize("focal, close_up, own", [(100, 200, 1.0), (60, 250, 0.5), (90, 125, 0.05)])
def test_a_close_up_lens_and_the_lens_behind_it_share_the_magnification(focal, close_up, own):
    # Thin lenses in contact (any optics textbook): powers add, 1/F = 1/f + 1/c, the image lies f (1 + own) behind them,
    # and so at F (1 + m); the subject F (1 + 1/m) before them.
    together = 1 / (1 / focal + 1 / close_up)
    magnification = focal * (1 + own) / together - 1
    distance = together * (1 + 1 / magnification)
    behind = own_magnification(lens(close_up=close_up), magnification=magnification, working_distance=distance)
    assert behind == pytest.approx(own, rel=1e-12)
    assert own_magnification(lens(), magnification=2, working_distance=distance) == 2


def test_stops_lost_in_the_lens_hold_the_glass():
    # Half of the usual light through the glass is one stop on top of the 2 of 1x.
    assert lost(1, transmittance=0.45) == pytest.approx(3.0, abs=1e-12)
    assert lost(0, transmittance=0.9) == 0
    # A reversed wide-angle lens of pupil ratio 2 has an effective f-number below the marked one at low magnification:
    # 8/2 (1 + 0.25 x 2) = 6, which is 2 log2(6 / 8) = -0.830075 stops.
    assert lost(0.25, reversed=True, pupil_ratio=2) == pytest.approx(-0.830075, abs=5e-7)


def test_a_guide_number_of_another_zoom_setting_means_the_same_light():
    # The same lumen-seconds spread wider: cos^11 holds 2 pi / 12, cos^5 2 pi / 6, so a half of the axial intensity.
    stated = rig(guide_number=20, power=5, head="guide_number_beam = { cos_power = 11 }")
    assert stated.heads[0].axial_intensity == pytest.approx(500)
    assert luminous_energy(stated) == pytest.approx(1000 * 2 * pi / 12)


SETTINGS = """[shot]
iso = 400
placement = {placement}
[subject]
reflectance = 0.36
"""


def test_the_settings_of_a_rig_reach_what_is_needed():
    # By hand, C = 250: f/8 at 1x is f/16, 250 x 256 / 400 = 160 lx s; half for a card of 36 %, twice for a placement
    # of +1, twice for a lens that swallows half of the usual light.
    more = SETTINGS.format(placement=1)
    assert needed_of(rig(more)) == pytest.approx(160)
    dim = bare_text(more=more).replace("diameter = 60\n", "diameter = 60\ntransmittance = 0.45\n")
    assert needed_of(placed(loads(dim))) == pytest.approx(320)
    # And by K = 12.5: pi 12.5 / 0.36 x 256 / 400 x 2 = 139.626.
    assert needed_of(rig(more), calibration=K_GREY) == pytest.approx(139.626, abs=5e-4)


@pytest.mark.parametrize(
    ("more", "stops"),
    [
        # 1000 lx s arrive at 1 m; f/8 at 1x is f/16, ISO 200, grey card: 320 lx s by C = 250. log2(1000 / 320).
        ("", "1.6439"),
        # ISO 800 asks for two stops less, 80 lx s; a subject two stops darker for 1280; two and two are none.
        ("[shot]\niso = 800", "3.6439"),
        ("[subject]\nreflectance = 0.045", "-0.3561"),
        ("[shot]\nplacement = 2\n[subject]\nreflectance = 0.72", "1.6439"),
    ],
)
def test_headroom_of_a_bare_flash(more, stops):
    found = headroom(lit(bare_text(more=more)))
    # A window of 2 mm at 1 m is a point: (1/1000)^2 is beyond the digits.
    assert found.value == pytest.approx(float(stops), abs=5e-5)


def test_a_flash_that_lights_only_the_back_has_no_headroom():
    # From behind the subject and past the lens: nothing is there to send the light back to the front.
    behind = bare_text(distance=-1000, right=1000, turn=-135, power=500)
    assert headroom(lit(behind)) is None


REFUSED = [
    # What is put in place of what, and what the message must hold: what was given, what is allowed, what to try.
    ("guide_number = 20.0", 'guide_number = 20.0\nguide_number_unit = "yd"', ('"yd"', '"m", "ft"', 'Try "m"')),
    ("guide_number = 20.0", "guide_number = -20", ("guide_number = -20", "from 0.1 to 1000", "Try 20")),
    ("guide_number = 20.0", "guide_number = 20.0\niso = 0", ('head "flash"', "iso = 0", "from 1 to 1000000")),
    ("diameter = 60", "diameter = 60\nf_number = 0", ("lens.f_number = 0", "from 0.5 to 128")),
    ("diameter = 60", "diameter = 60\nf_number = -8", ("lens.f_number = -8", "from 0.5 to 128", "Try 8")),
    ("diameter = 60", "diameter = 60\npupil_ratio = 0", ("lens.pupil_ratio = 0", "from 0.1 to 10")),
    ("diameter = 60", "diameter = 60\nextension = -12", ("lens.extension = -12", "from 0 to 2 m", "Try 12")),
    ("diameter = 60", "diameter = 60\ntransmittance = 90", ("transmittance = 90", "from 0.05 to 1", "Try 0.9 if")),
    ("diameter = 60", "diameter = 60\nreversed = 2", ("lens.reversed = 2", "true or false")),
    ("[2000]", "[-95]", ("working_distance[1] = -95", "from 0.1 mm to 10 m", "Try 95")),
    ("magnification = [1]", "magnification = [0]", ("magnification[1] = 0", "from 0.01 to 20")),
    ("[lens]", '[shot]\nshutter = "1/4000"\n[lens]', ("1/4000 s", "camera.sync, 1/200 s", "longer", '"1/200 s"')),
    ("[lens]", 'sync = "1/60"\n[lens]', ("shot.shutter is 1/200 s", "camera.sync, 1/60 s", 'shutter = "1/60 s"')),
    ("[lens]", '[shot]\npower = "1/256"\n[lens]', ("power is 1/256", 'of "flash", 1/128', 'Try power = "1/128"')),
    ("[lens]", "[shot]\npower = 0\n[lens]", ("shot.power = 0", "from 1/4096 to full")),
    ("[lens]", '[shot]\npower = "bright"\n[lens]', ('"bright"', "no power of a flash", 'Try "1/16", or "full"')),
    ("[lens]", "[shot]\niso = 0\n[lens]", ("shot.iso = 0", "from 1 to 1000000")),
    ("[lens]", "[shot]\nshutter = 0\n[lens]", ("shot.shutter = 0", "from 0.00001 to 30")),
    ("[lens]", "[shot]\nambient = -1\n[lens]", ("shot.ambient = -1", "in lx, from 0 to 200000")),
    ("[lens]", "[shot]\nplacement = 9\n[lens]", ("shot.placement = 9", "from -5 to 5", "Try 5")),
    ("[lens]", "[subject]\nreflectance = 18\n[lens]", ("subject.reflectance = 18", "from 0.005 to 1", "Try 0.18 if")),
    (
        "diameter = 60",
        "diameter = 60\nclose_up = 80",
        ("close-up lens of 80 mm", "working_distance is 2000 mm", "at most the focal length", "Try 80 mm"),
    ),
]


@pytest.mark.parametrize(("before", "after", "held"), REFUSED, ids=[after[-45:] for _, after, _ in REFUSED])
def test_impossible_settings_are_refused_in_words(before, after, held):
    text = bare_text()
    assert before in text
    with pytest.raises(RigError) as caught:
        placed(loads(text.replace(before, after, 1), file="garden.toml"))
    message = str(caught.value)
    assert message.startswith("garden.toml: ")
    assert "Allowed: " in message
    assert re.search(r"\bTry \S", message)
    for words in held:
        assert words in message


def test_the_longest_shutter_time_and_the_least_power_are_allowed():
    # The bounds themselves, written as people write them, are no errors of rounding.
    text = bare_text(more='[shot]\nshutter = "1/125"\npower = "1/128"').replace("[lens]", 'sync = "1/125"\n[lens]')
    shot = loads(text).rig.shot
    assert (shot.shutter, shot.power) == (0.008, 0.0078125)


def test_heads_share_the_light_by_their_energy():
    # PH-04 and PH-07 by hand: 1000 cd s x 2 pi / 6 and, of twice the guide number, 4000 cd s x 2 pi / 10 are 5 to 12.
    second = bare_text(guide_number=40, power=9).partition("[[head]]")[2].replace('"flash"', '"second"')
    heads = placed(loads(bare_text(more=f"[[head]]{second}"))).heads
    assert [head.share for head in heads] == pytest.approx([5 / 17, 12 / 17])
