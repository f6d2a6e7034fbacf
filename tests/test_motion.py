"""Blur by shake and wind, and how long the frame is wholly open: closed forms."""

import pytest
from rigs import bare_text

from lightsim.rig.load import loads, placed
from lightsim.shot.motion import blur, motion_of, open_time


# m v t (kinematics): a wing tip at 500 mm/s, 1x, light for 1/10,000 s moves by 0.05 mm; twice as large at 2x.
@pytest.mark.parametrize("magnification, printed", [(1, 0.05), (2, 0.1), (0.5, 0.025)])
def test_blur_of_a_wing_tip(magnification, printed):
    assert blur(magnification=magnification, speed=500, time=1e-4) == pytest.approx(printed, abs=5e-7)


# A point that moves evenly, photographed at the start and the end of the time (kinematics).
def test_blur_is_the_way_between_start_and_end():
    def place(time):
        return -3.0 + 37.0 * time  # mm at the subject

    assert blur(magnification=1.5, speed=37.0, time=0.02) == pytest.approx(1.5 * (place(0.02) - place(0)), abs=1e-12)
    assert blur(magnification=1.5, speed=0, time=0.02) == blur(magnification=1.5, speed=37, time=0) == 0


# A curtain takes 4 ms to cross; 1/200 s later the other follows: 1 ms wide open (5 - 4 ms). Any less and it never is.
@pytest.mark.parametrize("shutter, curtain, printed", [(1 / 200, 0.004, 0.001), (1 / 60, 0, 1 / 60), (0.003, 0.004, 0)])
def test_time_wide_open(shutter, curtain, printed):
    assert open_time(shutter=shutter, curtain=curtain) == pytest.approx(printed, abs=5e-8)


def test_a_rig_states_its_speeds():
    # 1x: 10 mm/s and 50 mm/s for 1/1000 s of flash and 1/100 s of shutter (m v t).
    settings = 'shake = 10\nwind = 50\nshutter = "1/100"'
    found = motion_of(placed(loads(bare_text(more=f"[shot]\n{settings}\n"))), flash_time=1e-3)
    assert (found.shake, found.wind) == pytest.approx((0.01, 0.05), abs=5e-8)
    assert (found.ambient_shake, found.ambient_wind) == pytest.approx((0.1, 0.5), abs=5e-8)
    assert (found.flash_time, found.shutter) == (1e-3, 0.01)


def test_speeds_in_inches():
    # 1 inch is 25.4 mm exactly.
    text = (
        bare_text(more="[shot]\nwind = 2\n")
        .replace("[2000]", "[80]")
        .replace('title = "test"', 'title = "test"\nunit = "inch"')
    )
    text = text.replace("diameter = 60", "diameter = 2.5").replace("toward_lens = 1000.0", "toward_lens = 40")
    assert motion_of(placed(loads(text)), flash_time=1e-3).wind == pytest.approx(0.0508, abs=5e-7)


@pytest.mark.parametrize(
    "given, told",
    [
        ({"magnification": 0}, "magnification = 0. Allowed"),
        ({"speed": -50}, "speed = -50 mm/s. Allowed: 0 to"),
        ({"time": -0.001}, "time = -0.001 s. Allowed: 0 to"),
        ({"time": float("nan")}, "time = nan is no number"),
    ],
)
def test_what_cannot_be_is_told(given, told):
    with pytest.raises(ValueError, match=told):
        blur(**({"magnification": 1, "speed": 50, "time": 0.001} | given))


def test_a_negative_shutter_or_curtain_is_told():
    with pytest.raises(ValueError, match="shutter = -1 s"):
        open_time(shutter=-1, curtain=0.004)
    with pytest.raises(ValueError, match="curtain = -1 s"):
        open_time(shutter=0.005, curtain=-1)
