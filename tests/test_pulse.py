"""How long a flash shines: textbook values of the exponential, a pulse followed in fine steps, stated times."""

import numpy as np
import pytest
from scipy import stats

from lightsim.rig.errors import RigError
from lightsim.rig.fractions import power as power_of
from lightsim.rig.head import HeadSpec
from lightsim.shot.pulse import USUAL_DURATION, light_within, pulse_of

POWERS = [2 ** (-tenth / 10) for tenth in range(71)]


def head(**keys):
    place = {"from": "subject", "toward_lens": 100}
    return HeadSpec.model_validate(
        {**place, "window": [60, 40], "beam": {"cos_power": 5}, "guide_number": 20, **keys},
    )


def half_last_digit(printed):
    return 0.5 * 10.0 ** -len(printed.partition(".")[2])


def followed(power, *, half):
    """t0.5 and t0.1 of a flash followed step by step, from how t0.5 and t0.1 are defined: brighter than half, than a
    tenth of the peak, until the share of the light has come; half : t0.5 at full power."""
    step = half / 20_000
    time = (np.arange(1_000_000) + 0.5) * step
    intensity = 2.0 ** (-time / half)
    come = np.cumsum(intensity)
    shining = come <= power * come[-1] * (1 + 1e-12)
    return [step * np.count_nonzero(shining & (intensity > level)) for level in (0.5, 0.1)]


# t0.5 = T ln 2 and t0.1 = T ln 10 of an exponential, notation as in ISO 2827 (from memory): their ratio, and t0.1 in ms
# of a flash of t0.5 = 1/1000 s.
@pytest.mark.parametrize("scale, printed", [(1 / 0.001, "3.321928"), (1e3, "3.321928")])
def test_tenth_over_half_of_a_full_pulse(scale, printed):
    assert scale * pulse_of(head(duration="1/1000"), 1.0).tenth == pytest.approx(
        float(printed), abs=half_last_digit(printed)
    )


# 1 - e^(-t/T) at t = T ln 2 and T ln 10: derived.
@pytest.mark.parametrize("kind, printed", [("half", "0.500000"), ("tenth", "0.900000")])
def test_light_of_a_full_pulse_within_its_times(kind, printed):
    flash = head(duration="1/1000")
    share = light_within(flash, 1.0, getattr(pulse_of(flash, 1.0), kind))
    assert share == pytest.approx(float(printed), abs=half_last_digit(printed))


# -ln(1 - p) / ln 2 by hand: half a pulse's light has come after t0.5, three quarters after twice as long, 15/16 after
# four times, when the light has fallen below a tenth (ln 10 / ln 2 = 3.3219); 1/4 of it after log2(4/3) = 0.4150.
@pytest.mark.parametrize(
    "power, half, tenth",
    [
        (1.0, "1.0000", "3.3219"),
        (15 / 16, "1.0000", "3.3219"),
        (0.75, "1.0000", "2.0000"),
        (0.5, "1.0000", "1.0000"),
        (0.25, "0.4150", "0.4150"),
        (1 / 128, "0.0113", "0.0113"),
    ],
)
def test_a_pulse_cut_short_by_hand(power, half, tenth):
    pulse = pulse_of(head(duration="1/500"), power)
    assert 500 * pulse.half == pytest.approx(float(half), abs=half_last_digit(half))
    assert 500 * pulse.tenth == pytest.approx(float(tenth), abs=half_last_digit(tenth))


@pytest.mark.parametrize("power", [1.0, 0.93, 0.8, 0.5, 0.3, 1 / 16, 1 / 128])
def test_against_a_flash_followed_in_fine_steps(power):
    pulse = pulse_of(head(duration="1/500"), power)
    # A step is 1/20000 of t0.5; the times are whole numbers of steps.
    assert [pulse.half, pulse.tenth] == pytest.approx(followed(power, half=1 / 500), abs=1.5 / 500 / 20_000)


# scipy.stats.truncexpon: the exponential distribution cut off at b, in time constants.
@pytest.mark.parametrize("power", [0.95, 0.6, 0.25, 1 / 128])
@pytest.mark.parametrize("way", [0.0, 0.1, 0.5, 0.9, 1.0, 1.7])
def test_light_within_a_time_against_the_truncated_exponential(power, way):
    constant, end = 1 / 500 / np.log(2), -np.log(1 - power)
    expected = stats.truncexpon(b=end).cdf(way * end)
    assert light_within(head(duration="1/500"), power, way * end * constant) == pytest.approx(expected, abs=1e-12)


def test_a_head_without_times_shines_a_five_hundredth_of_a_second():
    # 1/500 s is our choice; the check is that the choice is the one rig files are told of.
    assert pulse_of(head(), 1.0).half == USUAL_DURATION == 1 / 500
    assert "1/500 s at full power" in HeadSpec.model_fields["duration"].description.replace("\n", " ")
    assert pulse_of(head(), 0.1) == pulse_of(head(duration="1/500"), 0.1)


# Invented times of a flash.
TABLE = {"power": ["full", "1/2", "1/4", "1/16"], "time": ["1/300", "1/900", "1/2000", "1/9000"]}


@pytest.mark.parametrize("kind, name", [("t0.5", "half"), ("t0.1", "tenth")])
@pytest.mark.parametrize("order", [1, -1])
def test_stated_times_are_kept(kind, name, order):
    flash = head(duration={key: values[::order] for key, values in TABLE.items()} | {"kind": kind})
    for power, time in zip(TABLE["power"], [1 / 300, 1 / 900, 1 / 2000, 1 / 9000], strict=True):
        assert getattr(pulse_of(flash, power_of(power)), name) == pytest.approx(time, rel=1e-12)


@pytest.mark.parametrize("kind, name", [("t0.5", "half"), ("t0.1", "tenth")])
def test_between_stated_powers_times_lie_on_a_straight_line_of_logarithms(kind, name):
    flash = head(duration=TABLE | {"kind": kind})
    powers = np.geomspace(1 / 16, 1, 41)
    # numpy.interp on logarithms.
    known = np.log([1 / 9000, 1 / 2000, 1 / 900, 1 / 300])
    expected = np.exp(np.interp(np.log(powers), np.log([1 / 16, 1 / 4, 1 / 2, 1]), known))
    assert [getattr(pulse_of(flash, power), name) for power in powers] == pytest.approx(expected, rel=1e-9)


def test_beyond_stated_powers_the_model_goes_on_from_the_nearest():
    flash = head(duration={"power": ["1/2", "1/4"], "time": ["1/1000", "1/2500"]})
    # By hand: full and half power have one t0.5; t0.5 of 1/8 to that of 1/4 as ln(8/7) to ln(4/3).
    assert pulse_of(flash, 1.0).half == pytest.approx(1 / 1000, rel=1e-12)
    assert pulse_of(flash, 1.0).tenth == pytest.approx(np.log2(10) / 1000, rel=1e-12)
    assert pulse_of(flash, 1 / 8).half == pytest.approx(np.log(8 / 7) / np.log(4 / 3) / 2500, rel=1e-12)


def test_one_stated_tenth_gives_the_half_by_the_model():
    # t0.1 = 1/150 s at full power: t0.5 = 1/150 s / log2(10), and T = 1/150 s / ln 10; 1/16 comes in T ln(16/15).
    flash = head(duration={"power": ["full"], "time": ["1/150"], "kind": "t0.1"})
    assert pulse_of(flash, 1.0).half == pytest.approx(1 / 150 / np.log2(10), rel=1e-12)
    assert pulse_of(flash, 0.75).half == pytest.approx(1 / 150 / np.log2(10), rel=1e-12)
    assert pulse_of(flash, 1 / 16).half == pytest.approx(1 / 150 / np.log(10) * np.log(16 / 15), rel=1e-12)


DURATIONS = [
    None,
    "1/800",
    TABLE,
    TABLE | {"kind": "t0.1"},
    {"power": ["full", "1/16"], "time": ["1/150", "1/5000"], "kind": "t0.1"},
    {"power": ["full", "1/4"], "time": ["1/500", "1/500"]},
    {"power": ["full", "1/4"], "time": ["1/200", "1/200"], "kind": "t0.1"},
]


@pytest.mark.parametrize("duration", DURATIONS)
def test_less_power_never_takes_longer_and_a_tenth_never_less_than_a_half(duration):
    # By definition: the light passes half of its peak before a tenth; a flash cut short earlier is no longer.
    pulses = [pulse_of(head(duration=duration), power) for power in POWERS]
    assert all(pulse.half <= pulse.tenth * (1 + 1e-12) for pulse in pulses)
    for name in ("half", "tenth"):
        times = np.array([getattr(pulse, name) for pulse in pulses])
        assert np.all(times[1:] <= times[:-1] * (1 + 1e-12)), name


@pytest.mark.parametrize("duration", DURATIONS)
@pytest.mark.parametrize("power", [1.0, 0.7, 1 / 16])
def test_light_comes_from_nothing_to_all_and_never_goes(duration, power):
    # By definition of a share that has come.
    flash = head(duration=duration)
    come = [light_within(flash, power, time) for time in np.linspace(0, 0.2, 500)]
    assert come[0] == 0
    assert come[-1] == pytest.approx(1, abs=1e-6)
    assert np.all(np.diff(come) >= 0)


@pytest.mark.parametrize("power", [0.0, -0.5, 1.1, float("nan"), float("inf")])
def test_a_power_that_no_flash_has_is_refused(power):
    for call in (lambda: pulse_of(head(), power), lambda: light_within(head(), power, 0.001)):
        with pytest.raises(RigError, match=r"power of a flash: it is .* of full power\. Allowed: more than 0.*Try"):
            call()


@pytest.mark.parametrize("time", [-1e-6, float("nan")])
def test_a_time_before_the_flash_is_refused(time):
    with pytest.raises(RigError, match=r"time after the start of a flash: it is .* s\. Allowed: 0 s or later\. Try"):
        light_within(head(), 1.0, time)


def test_light_within_a_time_goes_by_the_time_stated_for_that_power():
    # By hand: a pulse of 1/16 is an exponential cut where 1/16 has come, at -T ln(15/16). In half of that time
    # 1 - sqrt(15/16) of a full pulse has come, 16 times as much of this one: 50.81 %, whatever full power lasts.
    flash = head(duration={"power": ["full", "1/16"], "time": ["1/400", "1/5000"]})
    assert light_within(flash, 1 / 16, 1 / 10_000) == pytest.approx(16 * (1 - (15 / 16) ** 0.5), rel=1e-9)
    assert light_within(flash, 1 / 16, 1 / 5000) == pytest.approx(1, rel=1e-9)
