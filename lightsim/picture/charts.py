"""Charts that need no explanation: falloff, apparent size against light lost, one figure against a varied number.

Each takes figures that are known already, computes none, and returns a matplotlib Figure. No window opens and
pyplot is not touched. Error bars are 95 % intervals.
"""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

import numpy as np
from matplotlib.axes import Axes
from matplotlib.container import ErrorbarContainer
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from lightsim.light.light import Light
from lightsim.measure.curves import AcrossCurve, FalloffCurve, chart_offsets, falloff_curve, inverse_square
from lightsim.measure.figure import Figure as FigureOfReport
from lightsim.measure.report import Report
from lightsim.measure.rounding import brief, length
from lightsim.measure.shadow import Direction
from lightsim.picture.fit import BODY, fitted
from lightsim.picture.labels import place_names
from lightsim.picture.style import DOTS, GREY, Look, canvas, describe, frame, listed, look, settings, with_unit
from lightsim.picture.words import in_stops, listed_name, of_figure, told
from lightsim.rig.errors import fault, file_name
from lightsim.rig.files import write_safely

_FORMATS = {".png": "png", ".svg": "svg", ".pdf": "pdf"}
# Times of writing and versions of libraries would make equal pictures unequal files.
_METADATA: dict[str, dict[str, str | None]] = {
    "png": {"Software": None},
    "svg": {"Date": None, "Creator": None},
    "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
}
_MOST_NAMES, _SHORT = 4, 36  # names beside points, letters of such a name; otherwise numbers stand there
_BARS = "Bars: 95 % intervals, where larger than the mark."
_DOTTED: tuple[int, tuple[float, ...]] = (0, (1, 1.2))
_EDGE: tuple[int, tuple[float, ...]] = (0, (5, 3))
_LEAST_STOPS = 0.6  # that a scale of light shows: a tenth of a stop shall not look like a fall
_LEAST_SPANS = (0.6, 12.0)  # stops and degrees, those of apparent size and cost
_LEAST_CHANGE = 0.05  # of a figure, that the scale of a sweep shows

_BESIDE, _TALL, _LONG = 1.4, 2.6, 4.0  # inches of a line: of a name beside a point, up the side of a chart, under it
_RISE = 0.2  # stops
_DEEPEST = 1.2  # stops below the middle that the scale shows where something is in the way
_CLIFF = 1.5  # stops from one place to the next


class _Across(NamedTuple):
    title: str
    across: str  # label of the axis


_WAYS: dict[Direction, str] = {"x": "across", "y": "up and down"}
_SIDES: dict[Direction, str] = {"x": "wide", "y": "high"}
_ONE_WAY: dict[Direction, _Across] = {
    "x": _Across("How even the light is across the field", "Distance to the right of the middle (mm)"),
    "y": _Across("How even it is up and down the field", "Distance above the middle (mm)"),
}
_BOTH_WAYS = _Across("How even the light is over the field", "Distance to the right of, or above, the middle (mm)")


def falloff_chart(
    curves: Sequence[FalloffCurve], *, reference: FalloffCurve | None = None, axes: Axes | None = None
) -> Figure:
    """Light behind and in front of the subject, all designs in one picture.

    reference: a curve to compare with, such as the inverse square from the bare head: a thin grey line.
    """
    names = [listed_name(curve.title) for curve in (*curves, *([reference] if reference else []))]
    with settings():
        figure, axes = canvas(axes, names=names)
        _cross(axes)
        entries: list[tuple[float, ErrorbarContainer | Line2D, str]] = []
        for number, curve in enumerate(curves):
            drawn = _line(axes, look(number), -curve.offsets, curve.stops, curve.half_interval)
            entries.append((_last(curve), drawn, names[number]))
        if reference is not None:
            (line,) = axes.plot(-reference.offsets, reference.stops, color=GREY, linewidth=1.0, linestyle=(0, (2, 2)))
            entries.append((_last(reference), line, names[-1]))
        # Names in the order in which the curves end, so that the eye finds each beside its curve.
        entries.sort(key=lambda entry: -entry[0])
        listed(axes, [(handle, name) for _, handle, name in entries])
        axes.set_xlabel("Distance behind the subject along the axis (mm)\nleft of 0: nearer to the lens")
        axes.set_ylabel("Light against that on the subject (stops)\nlower: darker")
        frame(axes, title="How the light falls off behind the subject", below=[_BARS, *_rise(curves)])
        describe(axes, _falloff_words(curves))
    return figure


def across_chart(curves: Sequence[AcrossCurve], *, axes: Axes | None = None) -> Figure:
    """Light across the field against that in its middle: of several designs one way, or of one design both ways.

    Every design has a look of its own. Where curves of both directions are given, those up and down are dotted, with
    open marks. The edges of the fields are marked.
    """
    titles = list(dict.fromkeys(curve.title for curve in curves))
    ways = {curve.direction for curve in curves}
    both = len(ways) > 1
    names = [listed_name(f"{curve.title}, {_WAYS[curve.direction]}" if both else curve.title) for curve in curves]
    words = _BOTH_WAYS if both else _ONE_WAY["y" if ways == {"y"} else "x"]
    with settings():
        figure, axes = canvas(axes, names=names)
        _cross(axes)
        drawn = []
        for curve in curves:
            style, upward = look(titles.index(curve.title)), both and curve.direction == "y"
            style = style._replace(line=_DOTTED) if upward else style
            drawn.append(_line(axes, style, curve.offsets, curve.stops, curve.half_interval, hollow=upward))
        for edge in sorted({round(curve.edge, 6) for curve in curves}):
            for place in (-edge, edge):
                axes.axvline(place, color=GREY, linewidth=1.0, linestyle=_EDGE, zorder=1, gid="edge of the field")
        _at_least(axes, (0.0, _LEAST_STOPS))
        if _cliff(curves):
            axes.set_ylim(bottom=max(axes.get_ylim()[0], -_DEEPEST))
        listed(axes, list(zip(drawn, names, strict=True)))
        axes.set_xlabel(words.across)
        axes.set_ylabel("Light against that in the middle (stops)\nlower: darker")
        frame(axes, title=words.title, below=[*_edges(curves), *_cliff(curves), _BARS])
        describe(axes, f"{words.title}: {told([_across_words(curve) for curve in curves])}.")
    return figure


def size_cost_chart(reports: Sequence[Report], *, axes: Axes | None = None) -> Figure:
    """How large each design makes the light, and what that costs: apparent size against stops lost.

    Few points with short names bear them; others bear numbers, and a list below tells the names. Designs without one
    of the two figures are named below the title.
    """
    pairs = [(report["loss.total"], report["size.cone_angle"]) for report in reports]
    shown = [number for number, pair in enumerate(pairs) if all(each.value is not None for each in pair)]
    missing = [report.title for number, report in enumerate(reports) if number not in shown]
    titles = [reports[number].title for number in shown]
    many = len(shown) > _MOST_NAMES or any(len(title) > _SHORT for title in titles)
    marks = [str(place + 1) if many else fitted(title, _BESIDE) for place, title in enumerate(titles)]
    names = [listed_name(f"{mark}  {title}", indent="    ") for mark, title in zip(marks, titles, strict=True) if many]
    with settings():
        figure, axes = canvas(axes, names=names)
        drawn = [_spot(axes, number, *pairs[number]) for number in shown]
        axes.margins(0.14, 0.16)
        _at_least(axes, _LEAST_SPANS)
        axes.set_xlabel("Light lost against the bare head (stops)\nfurther right: less light")
        axes.set_ylabel("Apparent size of the light (degrees)\nhigher: softer light")
        below = [_BARS]
        if missing:
            below.insert(0, f"Left out, as they have no such figures: {', '.join(missing)}.")
        frame(axes, title="How large the light looks, and its cost", below=below)
        if many:
            listed(axes, list(zip(drawn, names, strict=True)))
        if shown:
            places = np.array([[each.value for each in pairs[number]] for number in shown], float)
            reach = np.array([[each.half_interval or 0.0 for each in pairs[number]] for number in shown], float)
            place_names(axes, marks, places, reach)
        describe(axes, _size_cost_words(titles, [pairs[number] for number in shown]))
    return figure


def varied_chart(
    label: str,
    unit: str,
    values: Sequence[float],
    reports: Sequence[Report],
    figure_name: str,
    *,
    axes: Axes | None = None,
) -> Figure:
    """One figure against the number that was varied.

    label, unit: of that number; values: (n,); reports: n, one for each value; figure_name: such as "loss.total".
    Raises KeyError for a figure that the reports do not hold, ValueError if values and reports differ in number.
    """
    found = [report[figure_name] for report in reports]
    if not found or len(found) != len(values):
        raise ValueError(f"{len(values)} values, {len(reports)} reports: a chart needs one report for each value")
    heights = np.array([np.nan if each.value is None else each.value for each in found])
    bars = np.array([np.nan if each.value is None else each.half_interval or 0.0 for each in found])
    with settings():
        figure, axes = canvas(axes)
        _line(axes, look(0), np.array(values, float), heights, bars)
        known = np.abs(heights[np.isfinite(heights)])
        _at_least(axes, (0.0, _LEAST_CHANGE * float(known.max(initial=0.0))))
        axes.set_xlabel(fitted(with_unit(label, unit), _LONG, size=BODY))
        axes.set_ylabel(fitted(with_unit(found[0].label, found[0].unit), _TALL, size=BODY))
        gaps = [f"Gaps: {next(each.why for each in found if each.value is None)}."] if np.isnan(heights).any() else []
        rig = f"{reports[0].title}, {reports[0].magnification:g}x."
        if np.isnan(heights).all():
            axes.set_xlim(min(values), max(values) if max(values) > min(values) else min(values) + 1)
            axes.set_yticks([])
        title = f"{found[0].label} against {label}"
        frame(axes, title=title, below=[rig, *gaps, _BARS])
        describe(axes, _varied_words(title, unit, values, found))
    return figure


def save_figure(figure: Figure, path: Path | str, *, replace: bool = False) -> Path:
    """Write a figure as PNG, SVG or PDF, by the ending of the path, and return the path.

    Equal figures give equal files. Raises RigError for another ending, for a file that exists already (unless
    replace), and if it cannot be written.
    """
    path = Path(path)
    kind = _FORMATS.get(path.suffix.lower())
    if kind is None:
        raise fault(
            path,
            what="pictures of this kind cannot be written",
            allowed="names that end in .png, .svg or .pdf",
            remedy=file_name(path.with_suffix(".png").name),
        )
    data = BytesIO()
    with settings():
        figure.savefig(data, format=kind, dpi=DOTS, metadata=_METADATA[kind])
    return write_safely(path, data.getvalue(), replace=replace)


def falloff_of(lights: Sequence[Light]) -> Figure:
    """The falloff chart of a comparison, with the inverse square from the first design's first head beside it."""
    offsets = chart_offsets([light.placed for light in lights])
    first = lights[0].placed
    title = f"Inverse square law, no diffuser, from the head of: {first.rig.title}"
    head = first.heads[0].centre
    at_head = np.isclose(offsets[:, None] * np.array([0.0, 0.0, 1.0]), head, atol=1e-6).all(axis=1).any()
    reference = None if at_head else inverse_square(head, offsets, title=title)
    return falloff_chart([falloff_curve(light, offsets) for light in lights], reference=reference)


def _cross(axes: Axes) -> None:
    """Thin lines through the origin."""
    axes.axhline(0, color=GREY, linewidth=0.8, zorder=1)
    axes.axvline(0, color=GREY, linewidth=0.8, zorder=1)


def _line(
    axes: Axes,
    style: Look,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    bars: NDArray[np.float64],
    *,
    hollow: bool = False,
) -> ErrorbarContainer:
    """Points with error bars, joined in the order of x."""
    order = np.argsort(x, kind="stable")
    return axes.errorbar(
        x[order],
        y[order],
        yerr=bars[order],
        color=style.colour,
        marker=style.marker,
        linestyle=style.line,
        markerfacecolor="white" if hollow else style.colour,
        capsize=2.5,
        elinewidth=1.1,
    )


def _spot(axes: Axes, number: int, across: FigureOfReport, upward: FigureOfReport) -> ErrorbarContainer:
    """A point with both error bars."""
    style = look(number)
    return axes.errorbar(
        [across.value or 0.0],
        [upward.value or 0.0],
        xerr=[across.half_interval or 0.0],
        yerr=[upward.half_interval or 0.0],
        fmt=style.marker,
        color=style.colour,
        markersize=7.5,
        capsize=3,
    )


def _last(curve: FalloffCurve) -> float:
    """Height of a curve where it ends; the darkest where no light arrives."""
    known = curve.stops[np.isfinite(curve.stops)]
    return float(known[-1]) if len(known) else -np.inf


def _edges(curves: Sequence[AcrossCurve]) -> list[str]:
    """What the dashed lines are."""
    sides = {
        curve.direction: sorted({round(2 * each.edge, 6) for each in curves if each.direction == curve.direction})
        for curve in curves
    }
    if not sides:
        return []
    words = " and ".join(
        f"{' or '.join(length(each) for each in sides[way])} mm {word}" for way, word in _SIDES.items() if way in sides
    )
    return [f"Dashed: edges of the field, {words}."]


def _at_least(axes: Axes, spans: tuple[float, float]) -> None:
    """Make the scales of both axes span at least so much, so that a trifle does not look like something."""
    for limits, change, least in (
        (axes.get_xlim(), axes.set_xlim, spans[0]),
        (axes.get_ylim(), axes.set_ylim, spans[1]),
    ):
        middle = sum(limits) / 2
        if limits[1] - limits[0] < least:
            change(middle - least / 2, middle + least / 2)


def _rise(curves: Sequence[FalloffCurve]) -> list[str]:
    """A word on backgrounds that get brighter with distance."""
    for curve in curves:
        outward = np.argsort(-curve.offsets)
        stops = curve.stops[outward][(curve.offsets[outward] <= 0) & np.isfinite(curve.stops[outward])]
        if len(stops) and (stops - np.minimum.accumulate(stops)).max() > _RISE:
            return ["A rise: there the background gets light that the subject does not."]
    return []


def _cliff(curves: Sequence[AcrossCurve]) -> list[str]:
    """A word on falls too steep for any diffuser."""
    steep = any(np.nanmax(np.abs(np.diff(curve.stops)), initial=0.0) > _CLIFF for curve in curves)
    return ["Off the scale: something there may be in the way, such as a leaf."] if steep else []


def _falloff_words(curves: Sequence[FalloffCurve]) -> str:
    numbers = []
    for curve in curves:
        far = int(np.argmin(curve.offsets)) if len(curve.offsets) else None
        if far is None or not np.isfinite(curve.stops[far]):
            numbers.append(f"{curve.title}, no light at the far end")
            continue
        stops = in_stops(float(curve.stops[far]), float(curve.half_interval[far]))
        numbers.append(f"{curve.title}, {stops} stops {length(-float(curve.offsets[far]))} mm behind the subject")
    return f"How the light falls off behind the subject, against that on the subject: {told(numbers)}."


def _across_words(curve: AcrossCurve) -> str:
    """The ends of a curve in words."""
    name = f"{curve.title}, {_WAYS[curve.direction]}"
    ends = [int(np.argmin(np.abs(curve.offsets - place))) for place in (-curve.edge, curve.edge)]
    stops = [float(curve.stops[end]) for end in ends]
    if not np.isfinite(stops).all():
        return f"{name}, no light at an edge"
    low, high = (in_stops(stop, float(curve.half_interval[end])) for stop, end in zip(stops, ends, strict=True))
    sides = ("left", "right") if curve.direction == "x" else ("lower", "upper")
    return f"{name}, {low} stops at the {sides[0]} edge and {high} at the {sides[1]} one"


def _size_cost_words(titles: Sequence[str], pairs: Sequence[tuple[FigureOfReport, FigureOfReport]]) -> str:
    numbers = [
        f"{title}, {of_figure(size)} for {of_figure(lost)} lost"
        for title, (lost, size) in zip(titles, pairs, strict=True)
    ]
    return f"How large the light looks, as the full angle of its cone, and the light lost: {told(numbers)}."


def _varied_words(title: str, unit: str, values: Sequence[float], found: Sequence[FigureOfReport]) -> str:
    """The two ends of a sweep in words."""
    ends = sorted(zip(values, found, strict=True), key=lambda pair: pair[0])
    numbers = [f"{of_figure(each)} at {brief(value)} {unit}".rstrip() for value, each in (ends[0], ends[-1])]
    return f"{title}: {'; '.join(dict.fromkeys(numbers))}."
