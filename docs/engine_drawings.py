"""Small drawings for docs/engine.md: how the engine works. Written by docs/make_figures.py.

Axes as in docs/sketch.py.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from sketch import AMBER, BLUE, GREEN, RED, Point, arrow, box, disc, line, say

from lightsim.picture.style import GREY, INK

# Where three particles of light land, one after another.
_PATHS: tuple[tuple[Point, ...], ...] = (
    ((36, 16), (27, 20.9), (25, 8.2), (17, 12)),
    ((36, 17), (17, 18)),
    ((36, 15), (22, 7.0), (30, 20.6), (17, 8)),
)


def _scene(axes: Axes) -> None:
    line(axes, (17, 22), (36, 20), (36, 12), (17, 5), wide=2)
    line(axes, (17, 22), (17, 5), colour=BLUE, wide=4)
    box(axes, 36, 13.5, 9, 5, fill="#444444")
    say(axes, 46, 16, "flash")
    say(axes, 17, 23.6, "paper front", side="center", colour=BLUE)
    say(axes, 31, 22.8, "white box", colour=GREY)
    disc(axes, 4, 7, 0.9)
    say(axes, 4, 4.8, "subject", side="center")


def cloud(axes: Axes) -> None:
    """Particles of light that bounce, and the marks that they leave."""
    _scene(axes)
    for path in _PATHS:
        for start, end in pairwise(path):
            arrow(axes, start, end, wide=1.2)
            disc(axes, *end, 0.6, fill=RED)
    say(axes, 22, 2.6, "each landing leaves a mark: place and amount of light", colour=RED, side="center")


def gather(axes: Axes) -> None:
    """Marks joined to the subject."""
    _scene(axes)
    for path in _PATHS:
        for end in path[1:]:
            seen = end[0] < 18
            line(axes, end, (4, 7), colour=AMBER if seen else GREY, style="-" if seen else ":")
            disc(axes, *end, 0.6, fill=RED)
    say(axes, 27, 2.6, "solid: light that arrives; dotted: stopped by the paper", colour=GREY, side="center")


def replicates(axes: Axes) -> None:
    """Sixteen answers, their mean and its interval."""
    rng = np.random.default_rng(4)
    values = 14.5 + 3.6 * rng.standard_normal(16)
    for number, value in enumerate(values):
        disc(axes, 4 + 1.5 * number, float(value), 0.5, fill=BLUE)
    mean, half = float(values.mean()), float(2.131 * values.std(ddof=1) / 4)
    line(axes, (3, mean), (34, mean), style="--")
    arrow(axes, (33, mean - half), (33, mean + half), colour=RED, kind="|-|", wide=1.6)
    disc(axes, 33, mean, 0.6, fill=RED)
    say(axes, 15, 3.2, "16 runs, each with\nits own random numbers", side="center", colour=BLUE)
    say(axes, 35, mean + 0.2, "their mean,\nwith its error bar", colour=RED)


def two_ways(axes: Axes) -> None:
    """Forward from the flash, backward from the subject."""
    for y, words, colour, there in ((18, "forward", AMBER, True), (8, "backward", GREEN, False)):
        disc(axes, 6, y, 0.9, fill=INK)
        box(axes, 38, y - 2, 7, 4, fill="#444444")
        path = ((38.0, y), (30.0, y + 4), (22.0, y - 3.5), (7.0, y))
        for start, end in pairwise(path):
            arrow(axes, *((start, end) if there else (end, start)), colour=colour)
        say(axes, 11, y + 2.6, words)
    say(axes, 6, 2.6, "subject", side="center")
    say(axes, 41.5, 2.6, "flash", side="center")
    say(axes, 24, 2.6, "two ways, one answer", side="center", colour=RED)


DRAWINGS: dict[str, tuple[Callable[[Axes], None], str]] = {
    "cloud": (cloud, "Particles leave the flash, bounce in a white box, and leave a mark at each landing."),
    "gather": (gather, "Lines from the marks to the subject: those from the paper front arrive, others are stopped."),
    "replicates": (replicates, "Sixteen dots scattered about a line, and beside them their mean with an error bar."),
    "two-ways": (two_ways, "A path followed from the flash to the subject, and one from the subject to the flash."),
}
