"""Pictures of bars or strips one above the other, one a design: name over it, a note beside or under the name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matplotlib.axes import Axes

from lightsim.picture.fit import SMALL, fitted, width_of
from lightsim.picture.style import GREY, INK

_LINE, _GAP = 0.19, 0.17  # inches, of a line of words, and between a bar and the words of the next
_WIDE, _APART = 4.75, 0.2  # inches of a line over the whole width, and between name and note
_BEFORE = 0.05  # inches between words and bar
_HEAD = 1.4  # inches of title, explanations, ticks and labels


class Row(NamedTuple):
    """Place of one bar, in inches above the lower end of the axes, and the words over it."""

    bottom: float
    top: float
    words: str
    note: str
    aside: bool  # the note stands at the right of the last line of the name, not under it


def rows(names: Sequence[str], notes: Sequence[str], *, bar: float) -> tuple[tuple[Row, ...], float]:
    """Rows from the top downward, and the height of all of them, inches; bar: height of a bar."""
    placed: list[tuple[float, str, str, bool]] = []
    down = 0.0
    for name, note in zip(names, notes, strict=True):
        words = fitted(name, _WIDE)
        aside = width_of(words.rsplit("\n", 1)[-1]) + _APART + width_of(note) <= _WIDE
        lines = words.count("\n") + 1 + (0 if aside or not note else 1)
        top = down + lines * _LINE + _BEFORE
        placed.append((top, words, note, aside))
        down = top + bar + _GAP
    height = max(down, _LINE)
    places = (Row(height - top - bar, height - top, words, note, aside) for top, words, note, aside in placed)
    return tuple(places), height


def size_of(height: float, width: float) -> tuple[float, float]:
    """Size of a picture that holds rows of this height [inches]."""
    return width, height + _HEAD


def write_rows(axes: Axes, placed: Sequence[Row], height: float) -> None:
    """Names and notes, and axes without anything on the left."""
    axes.set_ylim(0, height)
    axes.yaxis.set_visible(False)
    axes.spines["left"].set_visible(False)
    for row in placed:
        _write(axes, row.words if row.aside or not row.note else f"{row.words}\n", row, x=0.0, colour=INK)
        _write(axes, row.note, row, x=float(row.aside), colour=GREY)


def _write(axes: Axes, text: str, row: Row, *, x: float, colour: str) -> None:
    """Words above a bar, from its left end (x = 0) or up to its right one (x = 1)."""
    written = axes.annotate(
        text,
        (x, row.top),
        (0, 72 * _BEFORE),
        xycoords=axes.get_yaxis_transform(),
        textcoords="offset points",
        ha="right" if x else "left",
        va="bottom",
        color=colour,
        fontsize=SMALL,
    )
    # They are made to fit; counted by the layout, a name as wide as the picture would make its bar shorter.
    written.set_in_layout(False)
