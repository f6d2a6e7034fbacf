"""How long a flash shines at each of its powers, and how much of its light comes within a time.

The model: the light rises at once, falls off exponentially, and is cut short as soon as the share of a full pulse that
the power setting asks for has come. t0.5 is the time for which the light is brighter than half of its peak, t0.1 than a
tenth. They stand 1 to 3.32 (ln 10 / ln 2) where the tail is not cut, from 90 % of full power up; below half power the
pulse ends before it has fallen to half, and they are the same. docs/theory.md, The shot.
"""

from __future__ import annotations

import math
from bisect import bisect
from dataclasses import dataclass
from typing import Literal

from lightsim.rig.errors import fault, given
from lightsim.rig.head import HeadSpec

USUAL_DURATION = 1 / 500  # s, t0.5 at full power of a head whose file states none; a choice, no source

Kind = Literal["t0.5", "t0.1"]
_FALL = {"t0.5": math.log(2), "t0.1": math.log(10)}  # in time constants, from the peak to half and to a tenth


@dataclass(frozen=True)
class Pulse:
    """The flash of one head at one power."""

    power: float  # share of full power
    half: float  # t0.5, s
    tenth: float  # t0.1, s


def pulse_of(head: HeadSpec, power: float) -> Pulse:
    """How long a head shines at a power (share of full power).

    By the model, with USUAL_DURATION where the file of the head states no time. Stated times are kept: between two
    stated powers the time goes as a power law, beyond them as the model does, scaled to the nearest. From stated
    t0.5, t0.1 follows by the model's ratio of the two at that power; from stated t0.1, t0.5 is that of full power, or
    t0.1 where this is shorter.
    Raises RigError for a power that is not above 0 and at most 1.
    Source: t0.5 and t0.1 as in ISO 2827 (from memory); the cut-short exponential derived here.
    """
    _check_power(power)
    constant = _constant(head, power)
    half, tenth = constant * _model_time("t0.5", power), constant * _model_time("t0.1", power)
    if head.duration and head.duration.kind == "t0.1":
        # The model's t0.5 as it follows from t0.1 alone. The ratio would let it grow at first as power goes down, where
        # stated times shorten more slowly than the model's while the tail is cut.
        half = min(tenth, _constant(head, 1.0) * _model_time("t0.5", 1.0))
    return Pulse(power, half, tenth)


def light_within(head: HeadSpec, power: float, time: float) -> float:
    """Share of the light of a flash that has come so long after its start: 0 at once, 1 from its end on.

    power : share of full power; time : since the start, s
    By the model, stretched to the stated times. Raises RigError for a power as pulse_of does, or for a time that is
    negative or no number.
    Source: derived here, as the integral of an exponential cut short.
    """
    _check_power(power)
    if not time >= 0:
        raise fault(
            "time after the start of a flash",
            what=f"it is {given(time)} s",
            allowed="0 s or later",
            remedy="0.001",
        )
    return min(-math.expm1(-time / _constant(head, power)) / power, 1.0)


def _constant(head: HeadSpec, power: float) -> float:
    """Time constant of the decay, by the kind of time that a head's file states [s]."""
    kind: Kind = head.duration.kind if head.duration else "t0.5"
    return _stated_time(head, power) / _model_time(kind, power)


def _model_time(kind: Kind, power: float) -> float:
    """t0.5 or t0.1 of the model at a power, in time constants of the full pulse's decay."""
    cut = -math.log1p(-power) if power < 1 else math.inf
    return min(cut, _FALL[kind])


def _stated_time(head: HeadSpec, power: float) -> float:
    """The kind of time that a head's file states (t0.5 where it states none), at any power [s]."""
    if head.duration is None:
        return USUAL_DURATION * _model_time("t0.5", power) / _model_time("t0.5", 1.0)
    pairs = sorted(zip(head.duration.power, head.duration.time, strict=True))
    powers, times = [pair[0] for pair in pairs], [pair[1] for pair in pairs]
    after = bisect(powers, power)
    if after in (0, len(powers)):
        near = max(after - 1, 0)
        kind = head.duration.kind
        return times[near] * _model_time(kind, power) / _model_time(kind, powers[near])
    way = math.log(power / powers[after - 1]) / math.log(powers[after] / powers[after - 1])
    return float(times[after - 1] ** (1 - way) * times[after] ** way)


def _check_power(power: float) -> None:
    if not 0 < power <= 1:
        raise fault(
            "power of a flash",
            what=f"it is {given(power)} of full power",
            allowed="more than 0, and at most 1, which is full power",
            remedy="0.0625, which is 1/16",
        )
