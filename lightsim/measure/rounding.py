"""Numbers for people: a figure rounded to what its error bar allows, its range by materials, shares as per cent."""

from __future__ import annotations

import math
from typing import NamedTuple

from lightsim.measure.figure import Figure

DIGITS = 4  # significant digits of a value, at most
_FINEST = {"stops": -2, "deg": -1, "mm": -2, "px": 0, "sr": -3, "%": -1, "1": -2}  # powers of ten, by unit
_SHARES = ("modelling.fill_share", "highlight.diameter_share", "highlight.disc_share", "highlight.gap_share")
_SHARE_KINDS = ("budget.", "shadow.hair")
_COUNTS = ("highlight.count",)
# Figures that cannot be 0 where there is any light, so that an error bar wider than the figure leaves it unknown.
_EXTENTS = ("mm", "px", "deg", "sr")
_EXTENT_NAMES = (
    "highlight.diameter_share",
    "highlight.disc_share",
    "highlight.count",
    "shadow.hair_x",
    "shadow.hair_y",
)
# Figures that are never below 0 but may be 0: where the error bar reaches there, only its upper end says anything.
_FROM_NOTHING = ("size.hot_spot", "modelling.fill_share", "highlight.gap_share")
_EITHER_SIGN = ("illuminance.vector_", "falloff.exponent")  # beside what is in stops
_SMALL = 0.5  # of the half interval: ranges that reach no farther say nothing beside it
_TOP, _MOST_STOPS, _MOST_BAR = "modelling.top_to_underside", 15.0, 5.0


class Shown(NamedTuple):
    """A figure as text; the half interval is empty where the figure is exact."""

    value: str
    half_interval: str
    unit: str


def rounded(value: float, half_interval: float, *, finest: int = -12, digits: int = DIGITS) -> tuple[str, str]:
    """Value and half interval as text, both to the same place.

    The half interval keeps one significant digit, two if the first is 1 (7.2.6 of JCGM 100 asks for two at most, from
    memory); the value keeps at most so many digits and nothing finer than 10^finest. A half interval below that place
    is rounded up to it, and is empty where it is 0.
    """
    place = finest
    if value:
        place = max(place, math.floor(math.log10(abs(value))) - digits + 1)
    if not half_interval and place < -digits and abs(value) < 10.0**finest:
        return "0", ""
    if half_interval:
        power = math.floor(math.log10(half_interval))
        place = max(place, power - 1 if half_interval < 2 * 10.0**power else power)
    if value:
        # An error larger than the value leaves the value its first digit.
        place = min(place, max(finest, math.floor(math.log10(abs(value)))))
    step = 10.0**place
    error = math.ceil(half_interval / step) if half_interval < step / 2 else round(half_interval / step)
    return _text(round(value / step), place), _text(error, place) if half_interval else ""


def shown(figure: Figure, *, digits: int = DIGITS) -> Shown:
    """A figure as text with its half interval and unit: shares in per cent, the sign of blank where no number tells.

    A figure that is never below 0 reads "below 0.5" where its error bar reaches there.
    """
    factor, unit = (100.0, "%") if is_share(figure) else (1.0, figure.unit)
    words = "" if unit == "1" else unit
    nothing = blank(figure)
    if figure.value is None or nothing is not None:
        return Shown(nothing[0] if nothing else "-", "", words)
    finest = 0 if figure.name in _COUNTS else _FINEST.get(unit, -12)
    half = (figure.half_interval or 0.0) * factor
    if figure.name in _FROM_NOTHING and half > figure.value * factor:
        most = max(figure.value * factor, 0.0) + half
        return Shown(f"below {rounded(most, half, finest=finest, digits=digits)[0]}", "", words)
    return Shown(*rounded(figure.value * factor, half, finest=finest, digits=digits), words)


def span(figure: Figure) -> str:
    """The range that the materials give a figure, "1.5 to 2.4", in the unit of shown.

    The step to the farther end keeps one significant digit, two if the first is 1, and the value lies within what is
    written. Empty where there is no range, where no number tells, and where the range says nothing beside the error
    bar: no end farther off than half of it, or than half of the last digit.
    """
    if figure.value is None or figure.low is None or figure.high is None or blank(figure) is not None:
        return ""
    factor, unit = (100.0, "%") if is_share(figure) else (1.0, figure.unit)
    value, low, high = (factor * each for each in (figure.value, figure.low, figure.high))
    finest = 0 if figure.name in _COUNTS else _FINEST.get(unit, -12)
    finite = [step for step in (value - low, high - value) if not math.isinf(step)]
    farther = max(finite, default=0.0)
    power = math.floor(math.log10(farther)) if farther else finest
    place = max(power - 1 if farther < 2 * 10.0**power else power, finest)
    # An end that is something does not read as nothing, as far as two digits more can tell.
    for _ in range(2):
        if place > finest and any(0 < abs(end) < 10.0**place / 2 for end in (low, high)):
            place -= 1
    step = 10.0**place
    if len(finite) == 2 and farther <= max(step / 2, _SMALL * factor * (figure.half_interval or 0.0)):
        return ""
    first = "" if math.isinf(low) else _text(min(round(low / step), math.floor(round(value / step, 6))), place)
    last = "" if math.isinf(high) else _text(max(round(high / step), math.ceil(round(value / step, 6))), place)
    return f"{first} to {last}" if first and last else f"{first or last} or {'more' if first else 'less'}"


def blank(figure: Figure) -> tuple[str, str] | None:
    """A sign to show in place of a number, and why: "-" where a figure has no meaning, "?" where it is not known."""
    if figure.value is None:
        return "-", figure.why
    half = figure.half_interval or 0.0
    if figure.name == _TOP and (abs(figure.value) > _MOST_STOPS or half > _MOST_BAR):
        return "-", f"practically no light {'below' if figure.value > 0 else 'above'}"
    if half > abs(figure.value) and (figure.unit in _EXTENTS or figure.name in _EXTENT_NAMES):
        return "?", "the error bar is wider than the figure"
    return None


def never_negative(figure: Figure) -> bool:
    """Whether a figure cannot be below 0 by what it is."""
    if figure.unit == "stops":
        return figure.name in _FROM_NOTHING
    return not figure.name.startswith(_EITHER_SIGN)


def length(value: float) -> str:
    """A length in mm, to 0.01 mm: what a file states in inches comes out as 59.9999 otherwise."""
    return f"{round(value, 2):g}"


def brief(value: float) -> str:
    """A number that somebody chose or stepped through, short enough to read: 73.33, not 73.3333333."""
    return f"{value:.4g}" if abs(value) < 1000 else f"{value:.7g}"


def is_share(figure: Figure) -> bool:
    """Whether people read a figure in per cent."""
    return figure.name in _SHARES or figure.name.startswith(_SHARE_KINDS)


def _text(steps: int, place: int) -> str:
    return f"{steps * 10**place}" if place >= 0 else f"{steps / 10**-place:.{-place}f}"
