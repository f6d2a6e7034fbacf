"""Rocking through focus: against tables, a simulated random walk, multivariate normal integrals, and limits."""

from math import ceil, exp, log

import numpy as np
import pytest
from scipy.special import erfinv
from scipy.stats import multivariate_normal

from lightsim.shot.rocking import chance_of, chance_of_one, chances, frames_for

SLOW = {"sway": 2.0, "sway_time": 0.3}
WALKS, STEPS = 20_000, 200  # walks, and steps in which a walk forgets where it was


# Tables of the normal distribution: shares within 1, 2 and 3 standard deviations, and the 95 % interval.
@pytest.mark.parametrize(
    "half, printed, digit",
    [(1, 0.6827, 5e-5), (2, 0.9545, 5e-5), (3, 0.9973, 5e-5), (1.959964, 0.95, 5e-7), (0.674490, 0.5, 5e-7)],
)
def test_one_frame_as_in_tables_of_the_normal_distribution(half, printed, digit):
    assert chance_of_one(depth=2 * half * 0.7, sway=0.7) == pytest.approx(printed, abs=digit)


def walked(*, depth, frames, frame_time, seed):
    """Share of random walks that came within the depth at one of the frames, and its standard error.

    Coin-flip steps, each after the walk was drawn back by 1/STEPS of its distance; step length 1 in units of its own.
    """
    rng = np.random.default_rng(seed)
    kept = 1 - 1 / STEPS
    sway = 1 / np.sqrt(1 - kept**2)  # of such a walk: variance = kept^2 variance + 1
    sway_time = -1 / log(kept)  # in steps: the correlation is kept^steps
    half = depth / SLOW["sway"] * sway / 2
    place, landed = np.zeros(WALKS), np.zeros(WALKS, bool)

    def step(count):
        nonlocal place
        for _ in range(count):
            place = kept * place + (2.0 * rng.integers(0, 2, WALKS, dtype=np.int8) - 1)

    step(6 * STEPS)  # until it has forgotten where it began
    between = round(frame_time / SLOW["sway_time"] * sway_time)
    for _ in range(frames):
        landed |= np.abs(place) < half
        step(between)
    share = landed.mean()
    return share, np.sqrt(share * (1 - share) / WALKS), between / sway_time * SLOW["sway_time"]


@pytest.mark.parametrize("frames, frame_time, depth", [(8, 0.5, 0.4), (20, 0.03, 0.6), (5, 0.15, 1.5)])
def test_against_a_simulated_random_walk(frames, frame_time, depth):
    share, error, exact_time = walked(depth=depth, frames=frames, frame_time=frame_time, seed=7)
    found = chance_of(frames, depth=depth, frame_time=exact_time, **SLOW)
    independent = 1 - (1 - chance_of_one(depth=depth, sway=SLOW["sway"])) ** frames
    assert abs(found - share) < 4 * error
    if frame_time < SLOW["sway_time"]:
        assert abs(independent - share) > 8 * error  # the test would see a process without memory


# Two and three frames by integrals of the joint normal distribution (scipy, after Genz), all included and excluded.
@pytest.mark.parametrize("depth", [0.3, 2.0, 9.0])
@pytest.mark.parametrize("frame_time", [1e-4, 0.003, 0.05, 0.3, 2.0])
def test_two_and_three_frames_against_the_joint_normal_distribution(frame_time, depth):
    half = depth / 2 / SLOW["sway"]
    near, far = (exp(-lag * frame_time / SLOW["sway_time"]) for lag in (1, 2))

    def within(*correlations):
        size = 2 if len(correlations) == 1 else 3
        covariance = np.eye(size)
        covariance[np.triu_indices(size, 1)] = correlations
        covariance = np.triu(covariance) + np.triu(covariance, 1).T
        spread = multivariate_normal(np.zeros(size), covariance, maxpts=200_000, abseps=1e-9, releps=1e-9, seed=3)
        return spread.cdf(np.full(size, half), lower_limit=np.full(size, -half))

    one = chance_of_one(depth=depth, sway=SLOW["sway"])
    two = 2 * one - within(near)
    three = 3 * one - 2 * within(near) - within(far) + within(near, far, near)
    found = chances(3, depth=depth, frame_time=frame_time, **SLOW)
    assert found[0] == pytest.approx(one, abs=1e-14)
    assert found[1] == pytest.approx(two, abs=1e-9)
    assert found[2] == pytest.approx(three, abs=2e-5)  # of the triple integral, which scipy samples


# Independent trials: 1 - (1 - p)^n (geometric distribution, textbooks).
@pytest.mark.parametrize("frame_time", [6.0, 600.0])
def test_long_pauses_make_frames_independent(frame_time):
    one = chance_of_one(depth=0.5, sway=2)
    wished = [1 - (1 - one) ** count for count in range(1, 51)]
    assert chances(50, depth=0.5, frame_time=frame_time, **SLOW) == pytest.approx(wished, abs=1e-9)


# One in ten: 0.9^6 = 0.531, 0.9^7 = 0.478; 0.9^21 = 0.109, 0.9^22 = 0.0985 (geometric distribution).
def test_frames_to_take_where_one_in_ten_lands():
    landing = {"depth": 1.0, "sway": 1 / (2 * np.sqrt(2) * erfinv(0.1)), "sway_time": 0.3, "frame_time": 600}
    assert chance_of_one(depth=1.0, sway=landing["sway"]) == pytest.approx(0.1, abs=1e-12)
    assert frames_for(0.5, **landing) == 7
    assert frames_for(0.9, **landing) == 22
    assert frames_for(0.05, **landing) == 1
    assert frames_for(chance_of_one(depth=landing["depth"], sway=landing["sway"]), **landing) == 1
    assert [frames_for(level, **landing) for level in (0.3, 0.99)] == [ceil(log(1 - c) / log(0.9)) for c in (0.3, 0.99)]


# Derived here: the absolute value of the process is positively dependent, so waiting never costs a chance, and no
# number of frames does better than their chances added up (Boole).
@pytest.mark.parametrize("depth", [0.05, 0.6, 3.0])
def test_quick_frames_count_for_less(depth):
    times = (0.001, 0.01, 0.1, 0.3, 1.0, 10.0)
    rows = np.array([chances(40, depth=depth, frame_time=time, **SLOW) for time in times])
    one = chance_of_one(depth=depth, sway=SLOW["sway"])
    assert np.all(np.diff(rows, axis=0) >= -1e-9)  # longer pauses
    assert np.all(np.diff(rows, axis=1) > 0)  # more frames
    assert np.all(rows <= np.minimum(one * np.arange(1, 41), 1) + 1e-12)
    assert rows[0, -1] < rows[-1, -1] - 0.05 * one


def test_frames_agree_with_chances():
    setting = {"depth": 0.5, "frame_time": 0.1, **SLOW}
    found = chances(200, **setting)
    count = frames_for(0.9, **setting)
    assert count is not None
    assert found[count - 2] < 0.9 <= found[count - 1]
    assert chance_of(count, **setting) == found[count - 1]


def test_the_limits():
    # Without sway every frame lands; without depth none does; a depth of a hundred sways misses nothing.
    still = {"depth": 0.5, "sway": 0.0, "sway_time": 0.3, "frame_time": 0.5}
    assert chances(3, **still) == (1, 1, 1)
    assert frames_for(0.9, **still) == 1
    assert chances(3, depth=0, frame_time=0.5, **SLOW) == (0, 0, 0)
    assert frames_for(0.5, depth=0, frame_time=0.5, **SLOW) is None
    assert chances(3, depth=200, frame_time=0.5, **SLOW) == (1, 1, 1)
    # Small chances keep their digits: 2 phi(0) half, and n of them (series of the error function).
    tiny = chances(10, depth=4e-9, frame_time=60, **SLOW)
    assert tiny == pytest.approx([count * 2e-9 / np.sqrt(2 * np.pi) for count in range(1, 11)], rel=1e-8)
    # A chance of 1 in 2500 for each of 1000 frames is at most 0.4: out of reach.
    assert frames_for(0.9, depth=0.002, frame_time=60, **SLOW) is None


# Common practice, no source: about nine in ten hand-held frames miss. At f/8 and 1x with a blur circle of 0.03 mm the
# depth of field is 0.96 mm (2 N c (1 + m) / m^2); the sway that makes it so follows by the inverse error function.
def test_the_sway_at_which_nine_in_ten_miss():
    sway = 0.96 / (2 * np.sqrt(2) * erfinv(0.1))
    assert sway == pytest.approx(3.82, abs=0.005)
    assert 1 - chance_of_one(depth=0.96, sway=sway) == pytest.approx(0.9, abs=1e-12)


@pytest.mark.parametrize(
    "changed, told",
    [
        ({"depth": -1}, "depth = -1 mm. Allowed: 0 to"),
        ({"sway": -2}, "sway = -2 mm. Allowed: 0 to"),
        ({"sway": float("nan")}, "sway = nan is no number"),
        ({"sway_time": 0}, "sway_time = 0 s. Allowed"),
        ({"frame_time": 0}, "frame_time = 0 s. Allowed"),
        ({"frame_time": 1e-6}, "frame_time = 1e-06 s. Allowed: 3e-06 to"),
        ({"frames": 0}, "frames = 0. Allowed: 1 to 1000"),
        ({"frames": 2.5}, "frames = 2.5. Allowed: whole numbers"),
        ({"frames": 1001}, "frames = 1001. Allowed: 1 to 1000"),
    ],
)
def test_what_cannot_be_is_told(changed, told):
    given = {"frames": 5, "depth": 0.5, "frame_time": 0.5, **SLOW} | changed
    with pytest.raises(ValueError, match=told):
        chance_of(given.pop("frames"), **given)


@pytest.mark.parametrize("chance", [-0.1, 1.0, 90])
def test_a_chance_that_no_number_of_frames_has_is_told(chance):
    with pytest.raises(ValueError, match=r"chance = .* Allowed: 0 to 0.999999"):
        frames_for(chance, depth=0.5, frame_time=0.5, **SLOW)
