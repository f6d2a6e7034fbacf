"""The power ladder: its rungs, what they cost, and the rung nearest to a power."""

from fractions import Fraction

import pytest

from lightsim.rig.errors import RigError
from lightsim.rig.fractions import power_words
from lightsim.rig.head import HeadSpec
from lightsim.shot.ladder import ladder, nearest
from lightsim.shot.pulse import pulse_of


def head(**keys):
    place = {"from": "subject", "toward_lens": 100}
    return HeadSpec.model_validate(
        {**place, "window": [60, 40], "beam": {"cos_power": 5}, "guide_number": 20, **keys},
    )


def words(*heads):
    return [power_words(rung.power) for rung in ladder(heads)]


# A stop is a factor of two; flashes show their settings so (common practice, no source).
def test_thirds_of_a_stop_down_to_a_128th():
    rungs = ladder([head()])
    assert len(rungs) == 3 * 7 + 1
    assert [rung.power for rung in rungs[::3]] == [float(Fraction(1, 2**stop)) for stop in range(8)]
    assert words(head())[:5] == ["full", "1/2 + 2/3", "1/2 + 1/3", "1/2", "1/4 + 2/3"]
    assert words(head())[-1] == "1/128"


@pytest.mark.parametrize(
    "step, least, count",
    [
        ("1/2", "1/128", 15),
        (1, "1/64", 7),
        (0.1, "1/256", 81),
        (2, "1/128", 4),
        ("1/3", "1/4096", 37),
        (1, "full", 1),
        ("1/3", 2.0 ** (-1 / 3), 2),
    ],
)
def test_number_of_rungs_by_hand(step, least, count):
    rungs = ladder([head(power_step=step, power_least=least)])
    assert len(rungs) == count
    assert rungs[0].power == 1
    assert rungs[-1].power >= head(power_least=least).power_least * (1 - 1e-6)


# Displays round thirds of a stop to 0.3 and 0.7 (common practice, no source).
@pytest.mark.parametrize("step, meant", [(0.3, "1/3"), (0.33, "1/3"), (0.333, "1/3"), (0.7, "2/3"), (0.67, "2/3")])
def test_a_rounded_third_is_a_third(step, meant):
    assert ladder([head(power_step=step)]) == ladder([head(power_step=meant)])


def test_only_full_power_is_called_full():
    assert words(head(power_step=0.1))[:2] == ["full", "0.933"]  # 2^(-0.1)


@pytest.mark.parametrize("step", [0.25, 0.5, 0.35, 0.1])
def test_other_steps_are_as_they_stand(step):
    assert ladder([head(power_step=step)])[1].power == pytest.approx(2**-step, rel=1e-12)


def test_several_heads_share_the_settings_that_all_have():
    # By hand: thirds fit into whole stops; halves and thirds meet at whole stops; 1/64 is the highest least power.
    assert words(head(power_step=1), head(power_least="1/64")) == ["full", "1/2", "1/4", "1/8", "1/16", "1/32", "1/64"]
    assert words(head(power_step="1/2"), head(power_least="1/4")) == ["full", "1/2", "1/4"]
    assert words(head(power_step=1), head(power_least="1/64 + 1/3"))[-1] == "1/32"
    # Steps of 0.123 stops meet whole ones after 123 stops: the coarser goes.
    assert words(head(power_step=0.123), head(power_step=1))[:3] == ["full", "1/2", "1/4"]


# 60 J, 2.5 s and 200 flashes at full power (invented): at a quarter 15 J, 0.625 s, 800 flashes, by hand.
def test_energy_and_time_go_as_power_and_flashes_as_one_over_it():
    rungs = ladder([head(energy=60, recycle=2.5, flashes=200)])
    full, quarter, least = rungs[0], rungs[6], rungs[-1]
    assert (full.energy, full.recycle, full.flashes) == (60, 2.5, 200)
    assert (quarter.power, quarter.energy, quarter.recycle, quarter.flashes) == (0.25, 15, 0.625, 800)
    assert (least.energy, least.recycle, least.flashes) == (60 / 128, 2.5 / 128, 25_600)
    # 200 x 2^(2/3) = 317.48: the next flash would be a part of one.
    assert rungs[2].flashes == 317


def test_what_no_file_states_is_not_made_up():
    assert {(rung.energy, rung.recycle, rung.flashes) for rung in ladder([head()])} == {(None, None, None)}


def test_of_several_heads_the_slowest_counts():
    # Invented heads; the longest times, the fewest flashes, the most energy, by hand at half power.
    slow = head(recycle=4, flashes=300, duration="1/400")
    quick = head(recycle=1, flashes=100, energy=20, duration={"power": ["full"], "time": ["1/250"], "kind": "t0.1"})
    half = nearest(ladder([slow, quick]), 0.5)
    assert (half.recycle, half.flashes, half.energy) == (2, 200, 10)
    for name in ("half", "tenth"):
        assert getattr(half, name) == max(getattr(pulse_of(each, 0.5), name) for each in (slow, quick))


# By hand, in stops: 1/3 is 1.585 stops below full, nearest of thirds 5/3 = 1.667 (0.315); of whole stops 1/4.
@pytest.mark.parametrize(
    "step, power, expected",
    [("1/3", 1 / 3, 2 ** (-5 / 3)), (1, 1 / 3, 1 / 4), (1, 0.36, 1 / 2), (1, 3.0, 1.0), (1, 1e-6, 1 / 128)],
)
def test_nearest_in_stops(step, power, expected):
    assert nearest(ladder([head(power_step=step)]), power).power == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("stop", range(7))
def test_of_two_alike_the_brighter(stop):
    # Half a stop between two rungs a stop apart, whichever way rounding falls.
    for power in (2 ** -(stop + 0.5), 2 ** -(stop + 0.5) * (1 - 1e-9)):
        assert nearest(ladder([head(power_step=1)]), power).power == 2**-stop
        assert nearest(ladder([head(power_step=1)])[::-1], power).power == 2**-stop


@pytest.mark.parametrize("power", [0.0, -1.0, float("nan"), float("inf")])
def test_no_rung_is_near_to_nothing(power):
    with pytest.raises(RigError, match=r"power of a flash: it is .* Allowed: more than 0\. Try"):
        nearest(ladder([head()]), power)


def test_a_ladder_needs_a_flash_and_a_rung():
    with pytest.raises(RigError, match=r"there is no flash\. Allowed: one flash or more\. Try"):
        ladder([])
    with pytest.raises(RigError, match=r"it has no rungs"):
        nearest([], 0.5)
