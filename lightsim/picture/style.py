"""One look for all charts: colours that colour-blind eyes tell apart, markers and line styles beside them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Literal, NamedTuple

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.transforms import ScaledTranslation

from lightsim.picture.fit import BODY, FAMILY, SMALL, any_letters, fitted

# Okabe & Ito, Color Universal Design (2008), from memory; without their yellow, too faint for lines on white.
COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#56B4E9", "#E69F00", "#000000")
MARKERS = ("o", "s", "^", "D", "v", "P", "X", "p")  # eight beside seven colours: 56 pairs before one comes again
LINES: tuple[str | tuple[int, tuple[float, ...]], ...] = ("-", "--", "-.", (0, (1, 1.2)), (0, (6, 1.5, 1, 1.5, 1, 1.5)))
INK, GREY, PALE = "#202020", "#666666", "#E3E3E3"
# On images, which stay as they are where a page turns dark: neither is any of the colours above.
ON_IMAGE, AROUND = "#FEFEFE", "#010101"
SIZE = (5.2, 4.0)  # inches: at the width of a telephone the letters are still 10 pixels high
DOTS = 150  # per inch
_LINE = 0.23  # inches, of a line of the list
_MARGIN, _SIDE = 0.06, 0.12  # inches above and below, and at the sides
_TICKS, _LABEL = 0.45, 0.19  # inches at the left of axes: of the numbers at the ticks, of a line of the label
_TITLE = 13  # points
_PITCH = 14.9  # points, from one line of explanation to the next
_LABELS = 0.62  # inches below the axes that ticks and labels take
_SCALE = "<colorbar>"  # what matplotlib labels the axes of a scale of colours
_SPACING = 0.5  # of the height of a letter, between the names of a list

# Stated here in full, so that a person's own matplotlib settings do not change the pictures.
_LOOK: Any = {
    "font.family": [FAMILY],
    "font.size": BODY,
    "text.color": INK,
    "text.usetex": False,
    "text.parse_math": False,  # a title may hold a dollar sign
    "axes.facecolor": "white",
    "axes.edgecolor": GREY,
    "axes.labelcolor": INK,
    "axes.labelsize": BODY,
    "axes.linewidth": 0.8,
    "axes.formatter.useoffset": False,
    "axes.formatter.limits": (-4, 5),
    "axes.unicode_minus": True,
    "axes.xmargin": 0.05,
    "axes.ymargin": 0.08,
    "axes.axisbelow": True,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "xtick.color": INK,
    "ytick.color": INK,
    "lines.linewidth": 1.6,
    "lines.markersize": 5.5,
    "legend.fontsize": SMALL,
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
    with matplotlib.rc_context(_LOOK), any_letters():
        yield


def look(number: int) -> Look:
    """The look of the design of this number, from 0."""
    return Look(COLOURS[number % len(COLOURS)], MARKERS[number % len(MARKERS)], LINES[number % len(LINES)])


def with_unit(label: str, unit: str) -> str:
    """A label with its unit in words."""
    words = _UNITS.get(unit, unit)
    return f"{label} ({words})" if words else label


def canvas(axes: Axes | None, *, names: Sequence[str] = (), size: tuple[float, float] = SIZE) -> tuple[Figure, Axes]:
    """The figure and axes to draw in: those given, or new ones without a screen, with room for a list of names below.

    size: width and height in inches, without the list
    """
    if axes is not None:
        return figure_of(axes), axes
    width, height = size
    lines = sum(name.count("\n") + 1 for name in names)
    height += _LINE * lines
    figure, axes = bare_canvas((width, height), layout="constrained")
    # A list below takes three times h_pad: most of the margin comes from the rectangle.
    rest = _MARGIN / height
    figure.get_layout_engine().set(w_pad=_SIDE, h_pad=0.04, rect=(0, rest, 1, 1 - 2 * rest))  # type: ignore[union-attr, call-arg]
    return figure, axes


def bare_canvas(size: tuple[float, float], *, layout: Literal["constrained"] | None = None) -> tuple[Figure, Axes]:
    """A new figure of this width and height in inches, without a screen, and axes that whoever asks lays out."""
    figure = Figure(figsize=size, dpi=DOTS, layout=layout)
    FigureCanvasAgg(figure)
    return figure, figure.add_subplot()


def image_canvas(
    axes: Axes | None, *, ratio: float, title: str, below: Sequence[str], under: float = 0.0
) -> tuple[Figure, Axes]:
    """The figure and axes for an image that fills the width, with room for its words; finish it by image_frame.

    ratio: height of the image over its width; under: inches for what stands under it
    """
    room = SIZE[0] - 2 * _SIDE
    titles = fitted(title, room, size=_TITLE, bold=True).count("\n") + 1
    lines = sum(fitted(line, room).count("\n") + 1 for line in below)
    words = titles * _TITLE * 1.25 + lines * _PITCH + 24
    return canvas(axes, size=(SIZE[0], room * ratio + words / 72 + 2 * _MARGIN + under))


def image_frame(axes: Axes, *, title: str, below: Sequence[str]) -> None:
    """Title and explanation over an image, which has neither scales nor grid."""
    axes.set_axis_off()
    axes.yaxis.set_visible(False)
    axes.set_anchor("NW")
    frame(axes, title=title, below=below)
    axes.grid(visible=False)


def figure_of(axes: Axes) -> Figure:
    """The figure that axes belong to, at the top of any nest of subfigures."""
    figure = axes.figure
    while not isinstance(figure, Figure):
        figure = figure.figure
    return figure


def listed(axes: Axes, entries: Sequence[tuple[Any, str]]) -> None:
    """A list of marks and names below the axes and their labels, over the whole width where the axes stand alone."""
    handles, names = [handle for handle, _ in entries], [name for _, name in entries]
    figure = figure_of(axes)
    alone = [each for each in figure.axes if each.get_label() != _SCALE] == [axes] and axes.figure is figure
    if alone and isinstance(figure.get_layout_engine(), ConstrainedLayoutEngine):
        figure.legend(handles, names, loc="outside lower left", labelspacing=_SPACING)
    else:
        below = axes.transAxes + ScaledTranslation(0, -_LABELS, figure.dpi_scale_trans)
        axes.legend(
            handles, names, loc="upper left", bbox_to_anchor=(0, 0), bbox_transform=below, labelspacing=_SPACING
        )


def describe(axes: Axes, text: str) -> None:
    """Give a picture its alternative text: what it shows, in a sentence or two with its main numbers."""
    axes.set_label(text)


def alternative_text(figure: Figure) -> str:
    """What the pictures of a figure show, for those who cannot see them; empty where nothing was said."""
    texts = (str(axes.get_label()) for axes in figure.axes)
    return " ".join(text for text in texts if text and text != _SCALE)


def frame(axes: Axes, *, title: str, below: Sequence[str]) -> None:
    """Title in bold, lines of explanation under it, a quiet grid, no box. Labels of the axes must stand by then."""
    room = _room(axes)
    text = "\n".join(fitted(line, room) for line in below)
    pad = 10 + _PITCH * (text.count("\n") + 1) if text else 8
    title = fitted(title, room, size=_TITLE, bold=True)
    axes.set_title(title, loc="left", fontsize=_TITLE, fontweight="bold", pad=pad)
    axes.annotate(
        text, (0, 1), (0, 8), xycoords="axes fraction", textcoords="offset points", color=GREY, fontsize=SMALL
    )
    axes.grid(color=PALE, linewidth=0.7)
    axes.spines[["top", "right"]].set_visible(False)


def _room(axes: Axes) -> float:
    """Width of the axes of a picture of ours, roughly, from their left end to the right end of the picture [inches]."""
    label = axes.get_ylabel()
    beside = (_TICKS if axes.yaxis.get_visible() else 0.0) + (_LABEL * (label.count("\n") + 1) if label else 0.0)
    return SIZE[0] - 2 * _SIDE - beside
