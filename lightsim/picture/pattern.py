"""The flat pieces of a design, to scale: what there is to cut, before anything is printed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from lightsim.pattern.drawing import Drawing, drawn, extent, moved
from lightsim.pattern.pack import GAP, packed
from lightsim.pattern.piece import Layer, Pattern, Piece, sides
from lightsim.pattern.sizes import EDGE
from lightsim.picture.fit import SMALL
from lightsim.picture.style import COLOURS, GREY, INK, SIZE, canvas, describe, frame, listed, settings
from lightsim.rig.errors import RigError

_BAR = 100.0  # mm
LineStyle = Literal["-", "--", ":"]
_GROW = 1.12  # of the sides of the sheet, until everything finds room on it
_LOOKS: dict[Layer, tuple[str, LineStyle, float, str]] = {
    Layer.CUT: (INK, "-", 1.2, "cut"),
    Layer.SCORE: (COLOURS[0], "--", 1.2, "fold"),
    Layer.MARK: (GREY, ":", 0.8, "mark"),
}


def pattern_picture(pattern: Pattern, *, title: str = "", axes: Axes | None = None) -> Figure:
    """One copy of every piece, to one scale, with a bar of 100 mm; lines have the gid of their layer.

    Raises RigError for a pattern without pieces.
    """
    if not pattern.pieces:
        raise RigError(f"{pattern.title} has no flat pieces to show. Allowed: patterns with pieces. Try another rig")
    laid = _laid(pattern.pieces)
    corners = np.array([extent(each) for each in laid])
    low, high = corners[:, 0].min(axis=0), corners[:, 1].max(axis=0)
    bar = low - [0.0, 0.05 * max(*(high - low), _BAR)]
    wide = max(float(high[0] - low[0]), 1.4 * _BAR)
    with settings():
        figure, here = canvas(axes, size=(SIZE[0], min(4.9 * float(high[1] - bar[1]) / wide + 1.1, 6.5)))
        for drawing, piece in zip(laid, pattern.pieces, strict=True):
            _draw(here, drawing, piece)
        here.plot([bar[0], bar[0] + _BAR], [bar[1]] * 2, color=INK, linewidth=2, gid="bar")
        here.text(bar[0] + _BAR + 0.02 * wide, bar[1], "100 mm", va="center", fontsize=SMALL, color=INK)
        here.set_xlim(low[0] - 0.01 * wide, low[0] + 1.01 * wide)
        here.set_aspect("equal")
        here.set_axis_off()
        here.yaxis.set_visible(False)
        here.set_anchor("NW")
        count = sum(piece.copies for piece in pattern.pieces)
        frame(here, title=title or "The pieces, flat", below=[f"{count} piece{'' if count == 1 else 's'} to cut."])
        here.grid(visible=False)
        listed(here, [(Line2D([], [], color=c, linestyle=s, linewidth=w), name) for c, s, w, name in _LOOKS.values()])
        describe(here, _words(pattern))
    return figure


def _laid(pieces: Sequence[Piece]) -> list[Drawing]:
    """The pieces side by side on one sheet, as square as it takes."""
    one_each = [replace(piece, material="", copies=1) for piece in pieces]
    sizes = np.array([np.array(sides(piece)) for piece in one_each]) + GAP
    side = float(np.sqrt(sizes.prod(axis=1).sum()))
    least = np.sort(sizes, axis=1).max(axis=0)
    while True:
        room = (max(side, least[1]) + 2 * EDGE, max(0.8 * side, least[0]) + 2 * EDGE)
        sheets = packed(one_each, sizes={}, usual=room)
        if len(sheets) == 1:
            break
        side *= _GROW
    found: dict[str, list[Drawing]] = {}
    for place in sheets[0].places:
        drawing = moved(drawn(place.piece), shift=np.zeros(2), turned=place.turned)
        found.setdefault(place.piece.name, []).append(
            moved(drawing, shift=place.corner - extent(drawing)[0], turned=False)
        )
    return [found[piece.name].pop(0) for piece in pieces]


def _draw(axes: Axes, drawing: Drawing, piece: Piece) -> None:
    for stroke in drawing.strokes:
        colour, style, wide, _ = _LOOKS[stroke.layer]
        points = np.concatenate([stroke.points, stroke.points[:1]]) if stroke.closed else stroke.points
        axes.plot(*points.T, color=colour, linestyle=style, linewidth=wide, gid=stroke.layer.value)
    named = [label.place for label in drawing.labels if label.text in (piece.name, f"this is the {piece.side}")]
    middle = np.mean(named, axis=0)
    name = piece.name if piece.copies == 1 else f"{piece.name}\n{piece.copies} times"
    axes.text(float(middle[0]), float(middle[1]), name, ha="center", va="center", fontsize=SMALL, color=INK)


def _words(pattern: Pattern) -> str:
    told = []
    for piece in pattern.pieces:
        width, height = np.array(sides(piece))
        times = f"{piece.copies} times " if piece.copies > 1 else ""
        told.append(f"{times}{piece.name} of {piece.material}, {width:.0f} x {height:.0f} mm")
    return f"Flat pieces of {pattern.title}, drawn to scale: {'; '.join(told)}."
