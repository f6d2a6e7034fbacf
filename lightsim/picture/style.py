"""One look for all charts: colours that colour-blind eyes tell apart, markers and line styles beside them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from textwrap import fill
from typing import Any, NamedTuple

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

# Okabe & Ito, Color Universal Design (2008), from memory; without their yellow, too faint for lines on white.
COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#56B4E9", "#E69F00", "#000000")
MARKERS = ("o", "s", "^", "D", "v", "P", "X", "p")  # eight beside seven colours: 56 pairs before one comes again
LINES: tuple[str | tuple[int, tuple[float, ...]], ...] = ("-", "--", "-.", (0, (1, 1.2)), (0, (6, 1.5, 1, 1.5, 1, 1.5)))
INK, GREY, PALE = "#202020", "#666666", "#E3E3E3"
SIZE = (7.6, 4.9)  # inches
_LIST_WIDTH = 1.4  # inches more, for a list at the right
DOTS = 150  # per inch

# Stated here in full, so that a person's own matplotlib settings do not change the pictures.
_LOOK: Any = {
    "font.family": ["DejaVu Sans"],
    "font.size": 10.5,
    "text.color": INK,
    "text.usetex": False,
    "text.parse_math": False,  # a title may hold a dollar sign
    "axes.facecolor": "white",
    "axes.edgecolor": GREY,
    "axes.labelcolor": INK,
    "axes.labelsize": 10.5,
    "axes.linewidth": 0.8,
    "axes.formatter.useoffset": False,
    "axes.formatter.limits": (-4, 5),
    "axes.unicode_minus": True,
    "axes.xmargin": 0.05,
    "axes.ymargin": 0.08,
    "axes.axisbelow": True,
    "xtick.labelsize": 10,
    "ytick.labelsize": 10,
    "xtick.color": INK,
    "ytick.color": INK,
    "lines.linewidth": 1.6,
    "lines.markersize": 5.5,
    "legend.fontsize": 9.5,
    "legend.frameon": False,
    "figure.facecolor": "white",
    "savefig.facecolor": "white",
    "savefig.bbox": None,
    "svg.fonttype": "path",
    "svg.hashsalt": "lightsim",
    "pdf.fonttype": 42,
}
_UNITS = {"1": "", "deg": "degrees", "px": "pixels"}


class Look(NamedTuple):
    """How one of several designs is drawn."""

    colour: str
    marker: str
    line: str | tuple[int, tuple[float, ...]]


@contextmanager
def settings() -> Iterator[None]:
    """Matplotlib's settings for our charts; the caller's own come back afterwards."""
    with matplotlib.rc_context(_LOOK):
        yield


def look(number: int) -> Look:
    """The look of the design of this number, from 0."""
    return Look(COLOURS[number % len(COLOURS)], MARKERS[number % len(MARKERS)], LINES[number % len(LINES)])


def with_unit(label: str, unit: str) -> str:
    """A label with its unit in words."""
    words = _UNITS.get(unit, unit)
    return f"{label} ({words})" if words else label


def canvas(axes: Axes | None, *, names: Sequence[str] = ()) -> tuple[Figure, Axes]:
    """The figure and axes to draw in: those given, or new ones without a screen, with room for names at the right."""
    if axes is not None:
        return figure_of(axes), axes
    width, height = SIZE
    if names:
        lines = sum(name.count("\n") + 1 for name in names)
        width, height = width + _LIST_WIDTH, max(height, 1.0 + 0.16 * lines + 0.11 * len(names))
    figure = Figure(figsize=(width, height), dpi=DOTS, layout="constrained")
    FigureCanvasAgg(figure)
    figure.get_layout_engine().set(w_pad=0.12, h_pad=0.1)  # type: ignore[union-attr, call-arg]
    return figure, figure.add_subplot()


def figure_of(axes: Axes) -> Figure:
    """The figure that axes belong to, at the top of any nest of subfigures."""
    figure = axes.figure
    while not isinstance(figure, Figure):
        figure = figure.figure
    return figure


def listed(axes: Axes, entries: Sequence[tuple[Any, str]]) -> None:
    """A list of marks and names at the right of the axes."""
    handles, names = [handle for handle, _ in entries], [name for _, name in entries]
    axes.legend(handles, names, loc="center left", bbox_to_anchor=(1.01, 0.5), labelspacing=0.75)


def frame(axes: Axes, *, title: str, below: Sequence[str]) -> None:
    """Title in bold, lines of explanation under it, a quiet grid, no box."""
    text = "\n".join(fill(line, 78) for line in below)
    axes.set_title(title, loc="left", fontsize=12.5, fontweight="bold", pad=10 + 13.5 * (text.count("\n") + 1))
    axes.annotate(text, (0, 1), (0, 8), xycoords="axes fraction", textcoords="offset points", color=GREY, fontsize=9.5)
    axes.grid(color=PALE, linewidth=0.7)
    axes.spines[["top", "right"]].set_visible(False)
