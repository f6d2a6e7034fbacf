"""Marks for the small drawings of the documentation: words, arrows, measures, boxes, discs, the arrows of a chart.

Axes are WIDTH by HEIGHT tenths of an inch.
"""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.patches import Circle, FancyArrowPatch, Polygon, Rectangle

from lightsim.picture.style import COLOURS, GREY, INK, PALE

WIDTH, HEIGHT = 52.0, 25.0  # tenths of an inch
BLUE, RED, GREEN, AMBER = COLOURS[0], COLOURS[1], COLOURS[2], COLOURS[5]
LIGHT = "#F7E3A8"  # light on its way
Point = tuple[float, float]


def say(
    axes: Axes, x: float, y: float, words: str, *, colour: str = INK, side: str = "left", size: float = 9.5
) -> None:
    """Words at a place; side: which end of them lies there."""
    axes.text(x, y, words, color=colour, ha=side, va="center", fontsize=size, linespacing=1.25, zorder=9)


def arrow(axes: Axes, start: Point, end: Point, *, colour: str = AMBER, kind: str = "-|>", wide: float = 1.5) -> None:
    """An arrow, of light unless a colour says otherwise."""
    axes.add_patch(
        FancyArrowPatch(
            start, end, arrowstyle=kind, color=colour, linewidth=wide, mutation_scale=11, shrinkA=0, shrinkB=0, zorder=6
        )
    )


def measure(axes: Axes, start: Point, end: Point) -> None:
    """A line with two heads, as in a drawing with measures."""
    arrow(axes, start, end, colour=RED, kind="<|-|>", wide=1.3)


def line(axes: Axes, *points: Point, colour: str = GREY, wide: float = 1.0, style: str = "-") -> None:
    """Straight lines through points."""
    axes.plot(*zip(*points, strict=True), color=colour, linewidth=wide, linestyle=style, zorder=4)


def beam(axes: Axes, *points: Point, colour: str = LIGHT) -> None:
    """A patch of light."""
    axes.add_patch(Polygon(points, facecolor=colour, edgecolor="none", zorder=1))


def box(axes: Axes, x: float, y: float, wide: float, high: float, *, colour: str = GREY, fill: str = PALE) -> None:
    """A box by its lower left corner."""
    axes.add_patch(Rectangle((x, y), wide, high, facecolor=fill, edgecolor=colour, linewidth=1.2, zorder=3))


def disc(axes: Axes, x: float, y: float, radius: float, *, fill: str = INK, edge: str = "none") -> None:
    """A disc, small ones stand for a point."""
    axes.add_patch(Circle((x, y), radius, facecolor=fill, edgecolor=edge, linewidth=1.2, zorder=5))


def graph(axes: Axes, *, left: float, bottom: float, right: float, top: float, across: str, up: str) -> None:
    """The two arrows of a chart and what they stand for."""
    arrow(axes, (left, bottom), (right, bottom), colour=INK, wide=1.0)
    arrow(axes, (left, bottom), (left, top), colour=INK, wide=1.0)
    say(axes, (left + right) / 2, bottom - 1.8, across, side="center", colour=GREY)
    say(axes, left + 0.8, top - 0.4, up, colour=GREY)
