"""Powers and times as flashes and cameras show them.

What displays show is common practice, no source: "1/200" for a shutter time, "1/16" and thirds of a stop above it for a
power. A stop is a factor of two (ISO 2720 as quoted by Conrad, by its exposure values). The digits were worked out by
hand, apart from the package.
"""

import math

import pytest
from pydantic import TypeAdapter, ValidationError

from lightsim.rig.fractions import (
    LEAST_POWER,
    Power,
    Seconds,
    Stops,
    fraction,
    power,
    power_words,
    seconds_words,
)

POWER, SECONDS, STOPS = TypeAdapter(Power), TypeAdapter(Seconds), TypeAdapter(Stops)


@pytest.mark.parametrize(
    ("written", "share"),
    [
        ("full", 1.0),
        ("Full", 1.0),
        (" full ", 1.0),
        ("1/1", 1.0),
        (1, 1.0),
        ("1/16", 0.0625),
        ("1 / 16", 0.0625),
        (0.25, 0.25),
        ("0.25", 0.25),
        ("1/16 + 1/3", 0.0787451),  # 0.0625 x 2^(1/3)
        ("1/16 + 2/3", 0.0992126),
        ("1/16+0.3", 0.0787451),  # displays round a third to 0.3 and two to 0.7
        ("1/16 + 0.7", 0.0992126),
        ("1/16 + 0,7", 0.0992126),
        ("1/2 + 1/2", 0.7071068),
        ("1/128 + .5", 0.0110485),
        ("50%", 0.5),
        ("12,5 %", 0.125),
        ("100%", 1.0),
    ],
)
def test_powers_are_read_as_people_write_them(written, share):
    assert POWER.validate_python(written) == pytest.approx(share, abs=5e-8)
    assert power(written) == pytest.approx(share, abs=5e-8)


@pytest.mark.parametrize(
    ("written", "time"),
    [
        *(("1/200", 0.005), ("1/200 s", 0.005), ("1/200s", 0.005), ("1/200 sec", 0.005), (0.004, 0.004), ("2", 2.0)),
        *(("2.5 s", 2.5), (30, 30.0), ("3 seconds", 3.0), ("2 ms", 0.002), ("0.5ms", 0.0005)),
    ],
)
def test_times_are_read_as_people_write_them(written, time):
    assert SECONDS.validate_python(written) == pytest.approx(time, rel=1e-12)


@pytest.mark.parametrize(("written", "stops"), [("1/3", 1 / 3), ("1/2", 0.5), (1, 1.0), ("0.3", 0.3)])
def test_steps_are_read_as_people_write_them(written, stops):
    assert STOPS.validate_python(written) == pytest.approx(stops, rel=1e-12)


WRONG = ["bright", "", "  ", "1/0", "1//16", "1/16 + 1/4", "full + 1/3", "-", "nan", "inf", "1/16 + ", "9" * 21, "²/3"]


@pytest.mark.parametrize("written", WRONG)
def test_what_is_no_power_is_refused_with_an_example(written):
    with pytest.raises(ValueError, match=r'no power of a flash\. Try "1/16", or "full"$'):
        power(written)


NO_TIME = ["fast", "", "1/0", "1/200 + 1/3", "1/200 m", "1:200", "nan", "9" * 21, "1e99999999", "50%", "ms", "1 s s"]


@pytest.mark.parametrize("written", NO_TIME)
def test_what_is_no_time_is_refused(written):
    with pytest.raises(ValueError, match=r"neither a number nor a fraction$"):
        fraction(written)


@pytest.mark.parametrize(
    "written",
    [0, -0.5, 1.01, "1/8192", "2", "150%", "0%", "1 + 1/3", "-1/16", True, None, [0.5], float("nan")],
)
def test_powers_lie_between_the_least_and_full(written):
    with pytest.raises(ValidationError):
        POWER.validate_python(written)


def test_the_least_power_is_twelve_stops_below_full():
    assert math.log2(LEAST_POWER) == -12
    assert POWER.validate_python("1/4096") == LEAST_POWER


def test_what_is_not_a_text_is_left_to_the_model():
    assert power(0.3) == fraction(0.3) == 0.3
    assert power([1]) == fraction([1]) == [1]


# As displays count up from 1/128 in thirds of a stop.
DISPLAYED = ["1/128", "1/128 + 1/3", "1/128 + 2/3", "1/64", "1/64 + 1/3", "1/64 + 2/3", "1/32"]


def test_powers_in_thirds_of_a_stop_have_the_words_of_displays():
    assert [power_words(2 ** (third / 3)) for third in range(-21, -14)] == DISPLAYED
    assert [power_words(2.0**-stop) for stop in range(9)] == [
        *("full", "1/2", "1/4", "1/8", "1/16", "1/32", "1/64", "1/128", "1/256"),
    ]
    assert power_words(2 ** (-1 / 3)) == "1/2 + 2/3"


def test_words_of_a_power_lead_back_to_it():
    thirds = [2 ** (third / 3) for third in range(-36, 1)]
    assert [power(power_words(each)) for each in thirds] == pytest.approx(thirds, rel=1e-12)
    others = [0.3, 0.7, 1 / 3, 0.123456, 1 / 1000]
    assert [power(power_words(each)) for each in others] == pytest.approx(others, rel=5e-4)


@pytest.mark.parametrize(
    ("share", "words"), [(0.3, "3/10"), (1 / 3, "1/3"), (2 ** (-3.5), "1/16 + 1/2"), (2 ** (-3.4), "0.09473")]
)
def test_other_powers_are_told_as_shares(share, words):
    assert power_words(share) == words


@pytest.mark.parametrize(
    ("time", "words"),
    [
        (1 / 200, "1/200 s"),
        (1 / 60, "1/60 s"),
        (1 / 4, "1/4 s"),
        (1 / 8000, "1/8000 s"),
        (1 / 12345, "1/12300 s"),  # three digits
        (1 / 39_876, "1/39900 s"),
        (0.3, "0.3 s"),
        (0.5, "0.5 s"),
        (1, "1 s"),
        (2.5, "2.5 s"),
        (30, "30 s"),
    ],
)
def test_times_have_the_words_of_cameras(time, words):
    assert seconds_words(time) == words


def test_words_of_a_time_lead_back_to_it():
    # The times that cameras offer, in whole stops and in thirds between.
    offered = [1 / n for n in (4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 60, 125, 200, 250, 320, 500, 1000, 8000)]
    assert [fraction(seconds_words(time)) for time in offered] == pytest.approx(offered, rel=1e-12)
    # Any other to three digits from 1/100 s down.
    others = [1 / n for n in (123.4, 1777, 23_456, 345_678)]
    assert [fraction(seconds_words(time)) for time in others] == pytest.approx(others, rel=5e-3)
