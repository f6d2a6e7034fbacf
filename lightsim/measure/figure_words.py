"""Single figures in the words of sentences, rounded for reading: stops, degrees, what light costs."""

from __future__ import annotations

import math

from lightsim.measure.figure import Figure
from lightsim.measure.report import Report

PAID = "loss.per_doubling"
_NOTHING = 0.05  # stops that are not worth a word
_THIRD_IN_STOPS = math.log2(4 / 3)


def sure(figure: Figure) -> bool:
    """Whether a figure is known well enough to be spoken of: to a third of itself, or of the light for stops."""
    if figure.value is None:
        return False
    most = _THIRD_IN_STOPS if figure.unit == "stops" else abs(figure.value) / 3
    return (figure.standard_error or 0.0) <= most


def spent(figure: Figure) -> bool:
    """Whether stops lost, gained or paid are worth a word."""
    value = figure.value or 0.0
    return (value if figure.name == PAID else abs(value)) > _NOTHING


def tenths(value: float) -> float:
    """The size of a number in tenths; 0 where it would read 0.0."""
    return abs(round(value, 1))


def costs(lost: Figure, report: Report) -> str:
    """What is lost of a report's light, "costs 1.7 stops"."""
    value = lost.value or 0.0
    if not spent(lost):
        return "costs no light to speak of"
    return f"costs {stops(lost)}" if value > 0 else f"gains {-value:.1f} {stop_or_stops(value)} on {bare(report)}"


def bare(report: Report) -> str:
    """What light lost is told against."""
    return "the bare head" if report.heads == 1 else "the bare heads"


def against_card(figure: Figure) -> str:
    """A highlight against a white card, "2.1 stops darker than a white card"."""
    value = figure.value or 0.0
    if not tenths(value):
        return "about as bright as a white card"
    return f"{abs(value):.1f} {stop_or_stops(value)} {'brighter' if value > 0 else 'darker'} than a white card"


def stops(figure: Figure) -> str:
    """A figure in stops, to a tenth."""
    value = figure.value or 0.0
    return f"{round(value, 1) + 0.0:.1f} {stop_or_stops(value)}"


def stop_or_stops(value: float) -> str:
    """The unit that goes with a number as it reads."""
    return "stop" if f"{abs(value):.1f}" == "1.0" else "stops"


def degrees(figure: Figure) -> str:
    """A figure in degrees, whole from 10 on."""
    value = figure.value or 0.0
    return f"{value:.0f} degrees" if value >= 9.5 else f"{value:.1f} degrees"


def times(large: Figure, small: Figure) -> str:
    """How many times as large one figure is as another."""
    ratio = (large.value or 0.0) / small.value if small.value else math.inf
    return f"{ratio:.1f} times" if ratio < 9.95 else f"{ratio:.0f} times"
