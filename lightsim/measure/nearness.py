"""Whether two figures differ: about the same, too close to call, or apart.

Sampling and materials decide together. A number that two designs share, such as that of their paper, moves both alike
and does not blur their difference.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from itertools import combinations
from math import hypot

from lightsim.measure.figure import Figure
from lightsim.measure.ranges import leeway, unsure
from lightsim.measure.report import Report


class Nearness(Enum):
    """How one figure of two designs compares."""

    SAME = "about the same"
    CLOSE = "too close to call"
    APART = "apart"


def same(one: Figure, other: Figure) -> bool:
    """Whether two figures lie within their 95 % error bars of each other (taken as independent), or read the same."""
    if one.value is None or other.value is None:
        return one.value is other.value
    return abs(one.value - other.value) <= _bars(one, other) or _reads(one) == _reads(other)


def nearness(one: Report, other: Report, name: str) -> Nearness:
    """How the figure of that name compares between two reports.

    About the same are figures that look it and that the materials cannot part either.
    """
    mine, others = one[name], other[name]
    alike = same(mine, others)
    if alike and max(leeway(name, one.steps, other.steps)) <= max(_bars(mine, others), _digit(mine)):
        return Nearness.SAME
    if unsure(mine, others, one.steps, other.steps):
        return Nearness.CLOSE
    return Nearness.SAME if alike else Nearness.APART


def close_pairs(reports: Sequence[Report], name: str) -> set[frozenset[int]]:
    """Pairs of reports, by their places, that do not differ surely in the figure of that name."""
    return {frozenset(pair) for pair in combinations(range(len(reports)), 2) if _unsure(reports, *pair, name)}


def close_calls(reports: Sequence[Report], name: str) -> list[tuple[int, ...]]:
    """Groups of reports no two of which differ surely in the figure of that name, largest values last.

    Returns their places in reports. Where a report belongs to several groups it stands in each.
    """
    known = [(each[name].value, number) for number, each in enumerate(reports) if each[name].value is not None]
    order = [number for _, number in sorted(known)]
    pairs = close_pairs(reports, name)
    groups: list[tuple[int, ...]] = []
    for first in range(len(order)):
        last = first + 1
        while last < len(order) and all(frozenset((order[last], each)) in pairs for each in order[first:last]):
            last += 1
        group = tuple(order[first:last])
        if len(group) > 1 and not any(set(group) <= set(other) for other in groups):
            groups.append(group)
    # Pairs with a design between them that is surely another's: it shares materials with one of the two.
    lone = (pair for pair in pairs if not any(pair <= set(group) for group in groups))
    return groups + sorted(tuple(sorted(pair, key=order.index)) for pair in lone)


def _unsure(reports: Sequence[Report], first: int, second: int, name: str) -> bool:
    one, other = reports[first], reports[second]
    return unsure(one[name], other[name], one.steps, other.steps)


def _bars(one: Figure, other: Figure) -> float:
    return hypot(one.half_interval or 0.0, other.half_interval or 0.0)


def _reads(figure: Figure) -> str:
    value = figure.value or 0.0
    return f"{value:.0f}" if _digit(figure) == 1 else f"{round(value, 1) + 0.0:.1f}"


def _digit(figure: Figure) -> float:
    """The last digit that sentences tell of a figure."""
    return 1.0 if figure.unit == "deg" and (figure.value or 0.0) >= 9.5 else 0.1
