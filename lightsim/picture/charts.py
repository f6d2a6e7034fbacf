"""Charts that need no explanation: falloff, apparent size against light lost, one figure against a varied number.

Each takes figures that are known already, computes none, and returns a matplotlib Figure. No window opens and
pyplot is not touched. Error bars are 95 % intervals.
"""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from textwrap import fill

import numpy as np
from matplotlib.axes import Axes
from matplotlib.container import ErrorbarContainer
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from lightsim.light.light import Light
from lightsim.measure.curves import FalloffCurve, chart_offsets, falloff_curve, inverse_square
from lightsim.measure.figure import Figure as FigureOfReport
from lightsim.measure.report import Report
from lightsim.picture.labels import place_names
from lightsim.picture.style import DOTS, GREY, canvas, frame, listed, look, settings, with_unit
from lightsim.rig.errors import fault, file_name
from lightsim.rig.files import make_folder, require_free, write_safely

FALLOFF_FILE = "falloff.png"
SIZE_FILE = "size-and-stops.png"
_FORMATS = {".png": "png", ".svg": "svg", ".pdf": "pdf"}
# Times of writing and versions of libraries would make equal pictures unequal files.
_METADATA: dict[str, dict[str, str | None]] = {
    "png": {"Software": None},
    "svg": {"Date": None, "Creator": None},
    "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
}
_LIST_LETTERS = 32  # in a line of the list at the right
_MOST_NAMES = 8  # beside points; more get numbers
_BARS = "Bars: 95 % intervals; where none shows, it is smaller than the mark."


def falloff_chart(
    curves: Sequence[FalloffCurve], *, reference: FalloffCurve | None = None, axes: Axes | None = None
) -> Figure:
    """Light behind and in front of the subject, all designs in one picture.

    reference: a curve to compare with, such as the inverse square from the bare head: a thin grey line.
    """
    names = [fill(curve.title, _LIST_LETTERS) for curve in (*curves, *([reference] if reference else []))]
    with settings():
        figure, axes = canvas(axes, names=names)
        axes.axhline(0, color=GREY, linewidth=0.8, zorder=1)
        axes.axvline(0, color=GREY, linewidth=0.8, zorder=1)
        entries: list[tuple[float, ErrorbarContainer | Line2D, str]] = []
        for number, curve in enumerate(curves):
            drawn = _line(axes, number, -curve.offsets, curve.stops, curve.half_interval)
            entries.append((_last(curve), drawn, names[number]))
        if reference is not None:
            (line,) = axes.plot(-reference.offsets, reference.stops, color=GREY, linewidth=1.0, linestyle=(0, (2, 2)))
            entries.append((_last(reference), line, names[-1]))
        # Names in the order in which the curves end, so that the eye finds each beside its curve.
        entries.sort(key=lambda entry: -entry[0])
        listed(axes, [(handle, name) for _, handle, name in entries])
        axes.set_xlabel("Distance behind the subject along the axis (mm)\nleft of 0: nearer to the lens")
        axes.set_ylabel("Light against that on the subject (stops)\nlower: darker")
        frame(axes, title="How the light falls off behind the subject", below=[_BARS])
    return figure


def size_cost_chart(reports: Sequence[Report], *, axes: Axes | None = None) -> Figure:
    """How large each design makes the light, and what that costs: apparent size against stops lost.

    Each point bears the name of its design; from nine designs on a number, and a list tells the names. Designs without
    one of the two figures are named below the title.
    """
    pairs = [(report["loss.total"], report["size.cone_angle"]) for report in reports]
    shown = [number for number, pair in enumerate(pairs) if all(each.value is not None for each in pair)]
    missing = [report.title for number, report in enumerate(reports) if number not in shown]
    many = len(shown) > _MOST_NAMES
    marks = [str(place + 1) if many else fill(reports[number].title, 24) for place, number in enumerate(shown)]
    listing = [f"{mark}  {reports[number].title}" for mark, number in zip(marks, shown, strict=True)] if many else []
    names = [fill(line, _LIST_LETTERS, subsequent_indent="    ") for line in listing]
    with settings():
        figure, axes = canvas(axes, names=names)
        drawn = [_spot(axes, number, *pairs[number]) for number in shown]
        axes.margins(0.14, 0.16)
        axes.set_xlabel("Light lost against the bare head aimed at the subject (stops)\nfurther right: less light")
        axes.set_ylabel("Apparent size: full angle of its cone (degrees)\nhigher: softer light")
        below = [_BARS]
        if missing:
            below.insert(0, f"Left out, as they have no such figures: {', '.join(missing)}.")
        frame(axes, title="How large the light looks, and what that costs", below=below)
        if many:
            listed(axes, list(zip(drawn, names, strict=True)))
        if shown:
            places = np.array([[each.value for each in pairs[number]] for number in shown], float)
            reach = np.array([[each.half_interval or 0.0 for each in pairs[number]] for number in shown], float)
            place_names(axes, marks, places, reach)
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
        _line(axes, 0, np.array(values, float), heights, bars)
        axes.set_xlabel(with_unit(label, unit))
        axes.set_ylabel(fill(with_unit(found[0].label, found[0].unit), 46))
        below = [f"{reports[0].title}, {reports[0].magnification:g}x.", _BARS]
        if np.isnan(heights).any():
            why = next(each.why for each in found if each.value is None)
            below.insert(1, f"Gaps: {why}.")
        if np.isnan(heights).all():
            axes.set_xlim(min(values), max(values) if max(values) > min(values) else min(values) + 1)
            axes.set_yticks([])
        frame(axes, title=fill(f"{found[0].label} against {label}", 62), below=below)
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


def charts_of(
    lights: Sequence[Light], reports: Sequence[Report], folder: Path | str, *, replace: bool = False
) -> tuple[Path, ...]:
    """Write the charts of a comparison into a folder, which is made if need be, and return their paths.

    lights, reports: one of each a design, in the same order; the reference line is that of the first one's first head.
    Raises RigError if a file exists already (unless replace), or cannot be written.
    """
    folder = Path(folder)
    paths = (folder / FALLOFF_FILE, folder / SIZE_FILE)
    for path in paths:  # before anything is drawn or written
        require_free(path, replace=replace)
    make_folder(folder)
    offsets = chart_offsets([light.placed for light in lights])
    first = lights[0].placed
    title = f"Inverse square from the head of: {first.rig.title}"
    reference = inverse_square(first.heads[0].centre, offsets, title=title)
    figures = (
        falloff_chart([falloff_curve(light, offsets) for light in lights], reference=reference),
        size_cost_chart(reports),
    )
    return tuple(save_figure(figure, path, replace=replace) for figure, path in zip(figures, paths, strict=True))


def _line(
    axes: Axes, number: int, x: NDArray[np.float64], y: NDArray[np.float64], bars: NDArray[np.float64]
) -> ErrorbarContainer:
    """Points with error bars, joined in the order of x."""
    style, order = look(number), np.argsort(x, kind="stable")
    return axes.errorbar(
        x[order],
        y[order],
        yerr=bars[order],
        color=style.colour,
        marker=style.marker,
        linestyle=style.line,
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
