"""Where each lumen went: one bar a design, cut into the same pieces in the same order."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from lightsim.measure.budget import LABELS, Budget
from lightsim.measure.rounding import length, rounded
from lightsim.picture.fit import SMALL
from lightsim.picture.rows import rows, size_of, write_rows
from lightsim.picture.style import COLOURS, GREY, INK, SIZE, canvas, describe, frame, listed, settings
from lightsim.picture.words import listed_name, told

_BAR = 0.3  # inches
_ROOM = 0.055  # of the light: a number fits into pieces at least so long
_SEEN = 0.0005  # of the light: pieces smaller than this in every bar are drawn, but not listed
_TOLD = 3  # largest pieces of each design in the alternative text


class _Fill(NamedTuple):
    colour: str
    hatch: str


_FILLS = dict(
    zip(
        LABELS,
        (
            _Fill(COLOURS[1], "\\\\\\\\"),
            _Fill(COLOURS[5], ""),
            _Fill(GREY, "xxxx"),
            _Fill(COLOURS[2], "||||"),
            _Fill(COLOURS[4], "----"),
            _Fill(COLOURS[0], ""),
            _Fill(COLOURS[3], "////"),
            _Fill(INK, ""),
        ),
        strict=True,
    )
)


_EVEN_FIELD = 0.2  # of the light on the field, beyond which it cannot be lit as in its middle


def budget_picture(budgets: Sequence[Budget], *, axes: Axes | None = None) -> Figure:
    """Where the light of each design went; every bar is all the light that its heads emit.

    Pieces have the gid "design number: label". A piece won by ending paths at random has a negative width, so that the
    widths of a bar sum to 1 (100 on the axis).
    """
    placed, height = rows([each.title for each in budgets], [_on_field(each) for each in budgets], bar=_BAR)
    used = [label for label in LABELS if any(abs(_share(each, label)) >= _SEEN for each in budgets)]
    names = [_listed(label, budgets) for label in used]
    with settings():
        figure, axes = canvas(axes, names=names, size=size_of(height, SIZE[0]))
        for number, (budget, row) in enumerate(zip(budgets, placed, strict=True)):
            start = 0.0
            for label, share in budget.rows:
                piece = _piece(label, (100 * start, row.bottom), 100 * share, row.top - row.bottom)
                piece.set_gid(f"{number}: {label}")
                axes.add_patch(piece)
                if share >= _ROOM:
                    _number(axes, share, 100 * (start + share / 2), (row.bottom + row.top) / 2)
                start += share
        axes.set_xlim(0, 100)
        axes.set_xlabel("Light that the flash emits (%)")
        write_rows(axes, placed, height)
        frame(axes, title="Where the light of the flash goes", below=_explained(budgets))
        axes.grid(visible=False)
        listed(axes, [(_piece(label, (0, 0), 1, 1), name) for label, name in zip(used, names, strict=True)])
        describe(axes, f"Where the light of the flash goes: {told([_words(budget) for budget in budgets])}.")
    return figure


def _piece(label: str, corner: tuple[float, float], width: float, height: float) -> Rectangle:
    colour, hatch = _FILLS[label]
    return Rectangle(corner, width, height, facecolor=colour, edgecolor="white", hatch=hatch, linewidth=0.6)


def _number(axes: Axes, share: float, x: float, y: float) -> None:
    """Per cent on a patch of its own, so that it can be read on any colour and hatch."""
    patch = {"facecolor": "white", "edgecolor": "none", "boxstyle": "round,pad=0.15"}
    axes.text(x, y, _percent(share, finest=0), ha="center", va="center", fontsize=SMALL, color=INK, bbox=patch)


def _share(budget: Budget, label: str) -> float:
    return next(piece.share for piece in budget.rows if piece.label == label)


def _listed(label: str, budgets: Sequence[Budget]) -> str:
    """A piece's name, with its share where there is but one bar."""
    alone = f", {_percent(_share(budgets[0], label), finest=-1)}\u00a0%" if len(budgets) == 1 else ""
    return listed_name(f"{label}{alone}")


def _percent(share: float, *, finest: int) -> str:
    return rounded(100 * share, 0.0, finest=finest)[0]


def _explained(budgets: Sequence[Budget]) -> list[str]:
    fields = dict.fromkeys(" x ".join(length(side) for side in budget.field) for budget in budgets)
    field = f"On the field: {' or '.join(fields)} mm, lit as in its middle." if budgets else ""
    return ["Each bar is all the light; numbers in it are per cent.", field]


def _on_field(budget: Budget) -> str:
    if budget.on_field.value > _EVEN_FIELD:
        return "on the field: too wide to tell from its middle"
    value, half = rounded(100 * budget.on_field.value, 100 * budget.on_field.half_interval, finest=-4, digits=3)
    return f"on the field: {value} ± {half} %" if half else f"on the field: {value} %"


def _words(budget: Budget) -> str:
    """The largest pieces of one design, and what falls on the field."""
    largest = sorted(budget.rows, key=lambda piece: -piece.share)[:_TOLD]
    pieces = ", ".join(f"{_percent(piece.share, finest=0)} % {piece.label.lower()}" for piece in largest)
    width, height = (length(side) for side in budget.field)
    return f"{budget.title}, {pieces}; {_on_field(budget)} of {width} x {height} mm"
