"""How many frames to take: the chance that at least one of them is sharp where it is meant to be."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from lightsim.measure.rounding import length
from lightsim.picture.style import GREY, canvas, describe, frame, listed, look, settings
from lightsim.picture.words import listed_name, together, told
from lightsim.shot.plan import Plan

_LINES = (50, 90)  # per cent, that are marked
_DASHES = (0, (5, 3))
_SAME = 1e-9
_MOST_NAMES = 3  # of designs that share a curve


def focus_picture(plans: Sequence[Plan], chances: Sequence[NDArray[np.float64]], *, axes: Axes | None = None) -> Figure:
    """Chance that at least one of n frames is sharp, one curve for all plans whose chances are the same.

    chances : for each plan, (frames,) of 1, 2, ... frames
    """
    groups = _alike(plans, chances)
    names = [listed_name(_name(group, plans)) for group in groups]
    with settings():
        figure, axes = canvas(axes, names=names)
        for share in _LINES:
            axes.axhline(share, color=GREY, linewidth=0.9, linestyle=_DASHES, zorder=1)
        drawn = []
        for number, group in enumerate(groups):
            chance, style = chances[group[0]], look(number)
            frames = np.arange(1, len(chance) + 1)
            (line,) = axes.plot(
                frames,
                100 * chance,
                color=style.colour,
                marker=style.marker,
                linestyle=style.line,
                markevery=max(len(frames) // 10, 1),
                gid=f"chance {number}",
            )
            drawn.append(line)
        axes.set_xlim(0, max((len(chance) for chance in chances), default=50) + 1)
        axes.set_ylim(0, 103)
        axes.set_yticks([0, 10, 25, 50, 75, 90, 100])
        axes.set_xlabel("Frames taken one after the other")
        axes.set_ylabel("Chance that at least one of them\nis sharp (%)")
        frame(axes, title="How many frames to take", below=_explained(plans))
        listed(axes, list(zip(drawn, names, strict=True)))
        numbers = [_words(group, plans) for group in groups]
        describe(axes, f"Chance that at least one of so many frames is sharp where it is meant to be: {told(numbers)}.")
    return figure


def _alike(plans: Sequence[Plan], chances: Sequence[NDArray[np.float64]]) -> list[list[int]]:
    """Numbers of the plans, those with the same chances and the same depth together."""
    groups: list[list[int]] = []
    for number, chance in enumerate(chances):
        for group in groups:
            other = chances[group[0]]
            depths = [plans[each].focus.depth for each in (number, group[0])]
            if len(other) == len(chance) and np.allclose(other, chance, rtol=0, atol=_SAME) and depths[0] == depths[1]:
                group.append(number)
                break
        else:
            groups.append([number])
    return groups


def _name(group: Sequence[int], plans: Sequence[Plan]) -> str:
    """Whose curve it is, with the depth of field and how far the camera sways."""
    more = len(group) - _MOST_NAMES
    whose = "; ".join(plans[number].title for number in group[:_MOST_NAMES]) + (f"; {more} more" if more > 0 else "")
    if 1 < len(group) == len(plans):
        whose = "All of them"
    focus = plans[group[0]].focus
    deep, sway = (together(f"{length(each)} mm") for each in (focus.depth, focus.sway))
    return f"{whose}: depth {deep}, sway {sway}"


def _explained(plans: Sequence[Plan]) -> list[str]:
    """What is taken for granted."""
    if not plans:
        return []
    return ["By hand, with the focus set: the camera sways to and fro about it, and each frame is a new try."]


def _words(group: Sequence[int], plans: Sequence[Plan]) -> str:
    """A curve in words."""
    focus = plans[group[0]].focus
    half, most = focus.frames_half, focus.frames_most
    found = f"one frame {100 * focus.chance:.0f} %"
    if half is not None:
        found += f", {half} frames for an even chance"
    if most is not None:
        found += f", {most} for nine in ten"
    return f"{_name(group, plans).replace(chr(10), ' ')}: {found}"
