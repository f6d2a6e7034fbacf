"""The power ladder of the flash: where the setting to start from falls, how sure that is, and what is left above it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import ceil, floor, inf, isfinite, log2
from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from lightsim.picture.rows import Row, rows, size_of, write_rows
from lightsim.picture.style import COLOURS, GREY, INK, PALE, SIZE, canvas, describe, frame, listed, settings
from lightsim.picture.words import told
from lightsim.rig.fractions import power_words, seconds_words
from lightsim.shot.ladder import Rung
from lightsim.shot.plan import Fits, Plan

_BAR, _LINE, _TIMES = 0.26, 0.1, 0.2  # inches, of a ladder, and of each range and of the times below it
_LETTERS = 9.5  # points, of times at the rungs
_WIDE, _TIME = 4.8, 0.62  # inches of the axes, and of a time below a rung
_MARGIN, _MOST = 0.5, 3.5  # stops beyond the ladder that the scale shows: at least, and at most
_SAME = 1e-6  # of a stop
_OFF = 0.5  # stops, from which on a note tells how far a picture is off, in place of what is left
_DASHES = (0, (2.5, 0.8))
_SIZES = {"D": 9.5, "o": 7.5}  # points


def ladder_picture(plans: Sequence[Plan], *, axes: Axes | None = None) -> Figure:
    """One ladder of power settings a plan, full power on the right, with the setting to start from.

    Places are stops above full power. Marks have the gid "start number", "below number", "above number" and
    "wanted number", ranges "meters number" and "sheets number", what is left above the start "left number".
    """
    low, high = _ends(plans)
    step = ceil(_TIME * (high - low) / _WIDE)
    ticks = [stop for stop in range(ceil(low), floor(high) + 1) if stop % step == 0]
    times, entries = _common_times(plans, ticks), _entries(plans)
    under = _LINE * (1 + any(_by_sheets(plan) for plan in plans)) + (0 if times else _TIMES)
    placed, height = rows([each.title for each in plans], [_note(each) for each in plans], bar=_BAR + under)
    with settings():
        figure, axes = canvas(axes, names=[name for _, name in entries], size=size_of(height, SIZE[0]))
        axes.set_xlim(low, high)
        for number, (plan, row) in enumerate(zip(plans, placed, strict=True)):
            _ladder(axes, number, plan, row)
            for rung in () if times else _timed(plan.rungs, high - low):
                place = (log2(rung.power), row.bottom + _TIMES / 2)
                axes.text(*place, _time(rung), ha="center", va="center", fontsize=_LETTERS)
        names = [power_words(2.0**stop) if stop <= 0 else f"{2**stop} ×" for stop in ticks]
        labels = [f"{name}\n{times.get(stop, '')}" if times else name for stop, name in zip(ticks, names, strict=True)]
        axes.set_xticks(ticks, labels)
        axes.set_xlabel("Power of the flash" + (", and how long it lasts (s)" if times else ""))
        write_rows(axes, placed, height)
        frame(axes, title="Which power the shot takes", below=_explained(plans))
        axes.grid(visible=False)
        listed(axes, entries)
        describe(axes, f"Which power the shot takes: {told([_words(each) for each in plans])}.")
    return figure


def _ladder(axes: Axes, number: int, plan: Plan, row: Row) -> None:
    """One ladder with its rungs and marks, the ranges and times below it."""
    bottom, middle = row.top - _BAR, row.top - _BAR / 2
    stops = [log2(rung.power) for rung in plan.rungs]
    start, least = log2(plan.start.power), stops[-1]
    axes.add_patch(Rectangle((least, bottom), -least, _BAR, facecolor=PALE, edgecolor="none"))
    axes.add_patch(
        Rectangle((start, bottom), -start, _BAR, facecolor=COLOURS[4], edgecolor="none", gid=f"left {number}")
    )
    for stop in stops:
        whole = abs(stop - round(stop)) < _SAME
        top = bottom + _BAR * (1.0 if whole else 0.3)
        axes.plot([stop, stop], [bottom, top], color=GREY, linewidth=0.9 if whole else 0.6)
    for name, rung in (("below", plan.darker), ("above", plan.brighter)):
        if rung is not None:
            axes.plot([log2(rung.power)], [middle], **_mark("o", "white"), gid=f"{name} {number}")
    axes.plot([start], [middle], **_mark("D", INK), gid=f"start {number}")
    meters = _within(axes, *_by_meters(plan))
    if meters is not None:
        under = bottom - _LINE
        axes.plot(meters, [under, under], color=COLOURS[1], linewidth=2.0, gid=f"meters {number}")
        wanted = _within(axes, plan.wanted, plan.wanted)
        if wanted is not None:
            axes.plot(wanted[:1], [under], color=COLOURS[1], marker="o", markersize=5.5, gid=f"wanted {number}")
    sheets = _by_sheets(plan)
    if sheets is not None and (ends := _within(axes, *sheets)) is not None:
        under = bottom - 2 * _LINE
        axes.plot(ends, [under, under], color=COLOURS[2], linewidth=2.6, linestyle=_DASHES, gid=f"sheets {number}")


def _mark(marker: str, fill: str) -> dict[str, Any]:
    return {
        "marker": marker,
        "markersize": _SIZES[marker],
        "markerfacecolor": fill,
        "markeredgecolor": "white" if fill == INK else INK,
        "linestyle": "none",
        "zorder": 5,
    }


def _by_meters(plan: Plan) -> tuple[float, float]:
    """Least and greatest power by the ways to call an exposure right."""
    powers = [level.power for level in plan.levels]
    return min(powers), max(powers)


def _by_sheets(plan: Plan) -> tuple[float, float] | None:
    """Least and greatest power by what the materials may do to the light; None where that is not known."""
    full = plan.full
    if full.value is None or full.low is None or full.high is None or plan.wanted <= 0:
        return None
    lacking = plan.wanted * full.value
    return lacking / full.high if full.high > 0 else inf, lacking / full.low if full.low > 0 else inf


def _within(axes: Axes, low: float, high: float) -> tuple[float, float] | None:
    """Two powers in stops, cut off at the ends of the scale; None where there is nothing between them to see."""
    left, right = axes.get_xlim()
    ends = [-inf if power <= 0 else log2(power) if isfinite(power) else inf for power in (low, high)]
    if ends[1] < left or ends[0] > right:
        return None
    return max(ends[0], left), min(ends[1], right)


def _ends(plans: Sequence[Plan]) -> tuple[float, float]:
    """The ends of the scale, stops above full power: all ladders, and what is wanted beyond them within reason."""
    least = min((log2(plan.rungs[-1].power) for plan in plans), default=-7.0)
    marks = []
    for plan in plans:
        for ends in (_by_meters(plan), _by_sheets(plan)):
            marks += [log2(power) for power in ends or () if 0 < power < inf]
    low = min([least - _MARGIN, *(mark - _MARGIN / 2 for mark in marks)])
    high = max([_MARGIN, *(mark + _MARGIN / 2 for mark in marks)])
    return max(low, least - _MOST), min(high, _MOST)


def _common_times(plans: Sequence[Plan], ticks: Sequence[int]) -> dict[int, str]:
    """How long the flash lasts at the ticks; empty where that differs from plan to plan, or is not known at a tick."""
    found = [{stop: _time(rung) for rung in plan.rungs for stop in ticks if _at(rung, stop)} for plan in plans]
    whole = all(
        {stop for stop in ticks if log2(plan.rungs[-1].power) - _SAME <= stop <= 0} == set(each)
        for plan, each in zip(plans, found, strict=True)
    )
    return found[0] if found and whole and all(each == found[0] for each in found) else {}


def _at(rung: Rung, stop: float) -> bool:
    return abs(log2(rung.power) - stop) < _SAME


def _time(rung: Rung) -> str:
    return seconds_words(rung.tenth).removesuffix(" s")


def _timed(rungs: Sequence[Rung], span: float) -> Iterator[Rung]:
    """The rungs that have room for a time, on a scale that spans so many stops: from full power on, whole stops."""
    gap = ceil(_TIME * span / _WIDE)
    last = inf
    for rung in rungs:
        if log2(rung.power) <= last - gap + _SAME:
            yield rung
            last = log2(rung.power)


def _entries(plans: Sequence[Plan]) -> list[tuple[Artist, str]]:
    """Marks and names of the list, without what no ladder shows."""
    found: list[tuple[Artist, str]] = [
        (Line2D([], [], **_mark("D", INK)), "the setting to start from"),
        (Line2D([], [], **_mark("o", "white")), "one stop less, and one stop more"),
        (Patch(facecolor=COLOURS[4]), "power that is left"),
    ]
    if any(plan.wanted > 0 for plan in plans):
        line = Line2D([], [], color=COLOURS[1], linewidth=2.0, marker="o", markersize=5.5)
        found.append((line, "what would fit; line: as far as meters disagree"))
    if any(_by_sheets(plan) is not None for plan in plans):
        line = Line2D([], [], color=COLOURS[2], linewidth=2.6, linestyle=_DASHES)
        found.append((line, "the same, as far as materials may move it"))
    return found


def _explained(plans: Sequence[Plan]) -> list[str]:
    lines = ["Times: brighter than a tenth of the peak (t0.1)."]
    if any(level.power > 1 for plan in plans for level in plan.levels):
        lines.append("Right of full: light that the flash does not have.")
    return lines


def _note(plan: Plan) -> str:
    """What stands beside a name."""
    if plan.fits is Fits.DAY_ALONE:
        return "the day alone is enough"
    start = f"start at {power_words(plan.start.power)}"
    if abs(plan.off) >= _OFF:
        return f"{start}, {abs(plan.off):.1f} stops too {'bright' if plan.off > 0 else 'dark'}"
    return f"{start}, {plan.left:.1f} stops left"


def _words(plan: Plan) -> str:
    """A ladder in words."""
    return f"{plan.title}, {_note(plan)}, the flash lasts {seconds_words(plan.start.tenth)}"
