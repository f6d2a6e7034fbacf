"""Words of pictures: names in a list, and numbers in alternative texts."""

from __future__ import annotations

from collections.abc import Sequence

from lightsim.measure.figure import Figure
from lightsim.measure.rounding import rounded, shown
from lightsim.picture.fit import fitted

_LIST = 4.3  # inches of a line of the list below a picture, beside its mark
_MOST_TOLD = 8  # designs whose numbers an alternative text tells


def listed_name(name: str, *, indent: str = "") -> str:
    """A name in lines that fit into the list below a picture, the second and later ones indented."""
    return fitted(name, _LIST, indent=indent)


def together(text: str) -> str:
    """Text that is not broken into lines."""
    return text.replace(" ", "\u00a0")


def in_stops(value: float, half_interval: float = 0.0) -> str:
    """A number of stops with its 95 % interval, as a report rounds it: "-1.62 ± 0.03"."""
    return _with_bar(*rounded(value, half_interval, finest=-2))


def of_figure(figure: Figure) -> str:
    """A figure as a report shows it, with its 95 % interval and unit."""
    value, half, unit = shown(figure)
    words = _with_bar(value, half)
    return f"{words} {unit}" if unit else words


def told(numbers: Sequence[str]) -> str:
    """What an alternative text tells of each design, one after the other; the first ones of many."""
    if not numbers:
        return "nothing to show"
    more = len(numbers) - _MOST_TOLD
    rest = [f"and {more} more"] if more > 0 else []
    return "; ".join([*numbers[:_MOST_TOLD], *rest])


def _with_bar(value: str, half: str) -> str:
    return f"{value} ± {half}" if half else value
