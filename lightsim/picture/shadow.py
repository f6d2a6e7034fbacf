"""Shadows of an edge and of a hair: the light across them, and what it looks like on a matt surface."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from lightsim.measure.profiles import EdgeShadow, HairShadow
from lightsim.measure.rounding import length
from lightsim.measure.shadow import Direction
from lightsim.picture.rows import rows, size_of, write_rows
from lightsim.picture.style import AROUND, GREY, SIZE, canvas, describe, frame, listed, look, settings
from lightsim.picture.tone import srgb
from lightsim.picture.words import listed_name, of_figure, together, told

UNSHADED = 0.5  # linear light of the surface without the hair, white being 1
_STRIP, _HAIR = 0.36, 0.1  # inches, of a strip and of the mark of the hair at its upper end
_WAYS: dict[Direction, str] = {"x": "to the right", "y": "upward"}


def hair_picture(shadows: Sequence[HairShadow], *, axes: Axes | None = None) -> Figure:
    """The shadow of each rig's hair on a matt surface, one strip above the other, all to one scale.

    Each strip is an image of one row: linear light, UNSHADED without the hair, as sRGB (IEC 61966-2-1, from memory).
    The hair itself is marked at the upper end of each, to scale.
    """
    notes = [f"darkest: {of_figure(each.contrast)} less light" for each in shadows]
    placed, height = rows([each.title for each in shadows], notes, bar=_STRIP)
    with settings():
        figure, axes = canvas(axes, size=size_of(height, SIZE[0]))
        for number, (shadow, row) in enumerate(zip(shadows, placed, strict=True)):
            step = (shadow.places[-1] - shadow.places[0]) / (len(shadow.places) - 1)
            left, right = shadow.places[0] - step / 2, shadow.places[-1] + step / 2
            seen = srgb(UNSHADED * shadow.share)
            strip = axes.imshow(
                np.repeat(seen[None, :, None], 3, axis=2),
                extent=(left, right, row.bottom, row.top),
                aspect="auto",
                interpolation="none",
            )
            strip.set_gid(f"shadow {number}")
            wide = shadow.diameter
            hair = Rectangle((-wide / 2, row.top - _HAIR), wide, _HAIR, facecolor=AROUND, edgecolor="none", zorder=3)
            hair.set_gid(f"hair {number}")
            axes.add_patch(hair)
        if shadows:
            axes.set_xlim(left, right)
        axes.set_xlabel(f"Distance from below the hair, {_WAYS[_direction(shadows)]} (mm)")
        write_rows(axes, placed, height)
        frame(axes, title="The shadow of a hair, as seen", below=_hair_words(shadows))
        axes.grid(visible=False)
        numbers = [f"{each.title}, {of_figure(each.contrast)} less light where it is darkest" for each in shadows]
        describe(axes, f"The shadow of a hair on a matt surface, {_WAYS[_direction(shadows)]}: {told(numbers)}.")
    return figure


def edge_chart(shadows: Sequence[EdgeShadow], *, axes: Axes | None = None) -> Figure:
    """Light across the shadow of a straight edge, all designs in one picture, with the 10 to 90 % widths marked."""
    names = [listed_name(f"{each.title}: {together(of_figure(each.width))}") for each in shadows]
    with settings():
        figure, axes = canvas(axes, names=names)
        for share in (10, 90):
            axes.axhline(share, color=GREY, linewidth=0.9, linestyle=(0, (5, 3)), zorder=1)
        handles = []
        for number, shadow in enumerate(shadows):
            style = look(number)
            (line,) = axes.plot(shadow.places, 100 * shadow.share, color=style.colour, linestyle=style.line)
            (ends,) = axes.plot(
                [shadow.low, shadow.high],
                [10, 90],
                color=style.colour,
                marker=style.marker,
                linestyle="none",
                markersize=7,
                zorder=3,
            )
            ends.set_gid(f"width {number}")
            handles.append((line, ends))
        if shadows:
            axes.set_xlim(shadows[0].places[0], shadows[0].places[-1])
        axes.set_ylim(-3, 103)
        axes.set_xlabel(f"From the middle of the shadow, {_WAYS[_direction(shadows)]} (mm)")
        axes.set_ylabel("Light of the source that arrives (%)")
        frame(axes, title="How soft the shadow of an edge is", below=_edge_words(shadows))
        listed(axes, list(zip(handles, names, strict=True)))
        numbers = [f"{each.title}, {of_figure(each.width)}" for each in shadows]
        describe(axes, f"How wide the shadow of an edge is, from 10 to 90 % of the light: {told(numbers)}.")
    return figure


def _direction(shadows: Sequence[HairShadow] | Sequence[EdgeShadow]) -> Direction:
    return shadows[0].direction if shadows else "x"


def _hair_words(shadows: Sequence[HairShadow]) -> list[str]:
    sizes = sorted({(each.diameter, each.height) for each in shadows})
    hairs = " or ".join(f"{length(wide)} mm thick and {length(high)} mm above" for wide, high in sizes)
    return [
        *([f"Bar: the hair, {hairs}, to scale."] if hairs else []),
        "True brightness; without the hair the surface is half of white.",
    ]


def _edge_words(shadows: Sequence[EdgeShadow]) -> list[str]:
    heights = " or ".join(length(each) for each in sorted({shadow.height for shadow in shadows}))
    above = f"Edge {heights} mm above the surface; " if heights else ""
    return [f"{above}listed: 10 to 90 % width."]
