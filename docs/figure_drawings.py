"""Small drawings for docs/figures.md: what each figure measures. Written by docs/make_figures.py.

A drawing is a function of axes, see docs/sketch.py; nothing in it is computed by the engine.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Arc, Circle, Ellipse
from sketch import AMBER, BLUE, GREEN, LIGHT, RED, arrow, beam, box, disc, graph, line, measure, say

from lightsim.picture.style import GREY, INK, PALE


def stage(axes: Axes) -> None:
    """Subject, lens, flash and diffuser from the side."""
    beam(axes, (33, 20.5), (33, 18), (15.5, 14.0), (12.5, 21.5))
    beam(axes, (12.5, 21.5), (15.5, 14.0), (5, 7))
    box(axes, 22, 4, 14, 6)
    say(axes, 29, 7, "lens", side="center")
    box(axes, 36, 2.5, 12, 9)
    say(axes, 42, 7, "camera", side="center")
    box(axes, 33, 17, 7, 4.5, fill="#444444")
    say(axes, 41, 19.2, "flash: the head")
    line(axes, (39, 11.5), (37.5, 17), wide=2)
    line(axes, (12.5, 21.5), (15.5, 14), colour=BLUE, wide=4)
    say(axes, 11.5, 22.5, "diffuser", side="right", colour=BLUE)
    disc(axes, 5, 7, 0.9)
    say(axes, 5, 4.9, "subject", side="center")
    line(axes, (1, 2.8), (11, 3.4), colour=GREEN, wide=3)
    say(axes, 1, 1.2, "leaf: surroundings", colour=GREEN)
    line(axes, (6.5, 7), (22, 7), style="--")
    say(axes, 16.8, 5.4, "lens axis", side="center", colour=GREY)


def size(axes: Axes) -> None:
    """Two sources that look alike from the subject."""
    disc(axes, 5, 12.5, 0.9)
    say(axes, 5, 10, "subject", side="center")
    slope = math.tan(math.radians(22))
    beam(axes, (5, 12.5), (32, 12.5 + 27 * slope), (32, 12.5 - 27 * slope))
    for x, words in ((18, "small and near"), (32, "large and far")):
        line(axes, (x, 12.5 - (x - 5) * slope), (x, 12.5 + (x - 5) * slope), colour=BLUE, wide=4)
        say(axes, x + 1, 12.5 - (x - 5) * slope + 0.6, words, colour=BLUE)
    axes.add_patch(Arc((5, 12.5), 16, 16, theta1=-22, theta2=22, color=RED, linewidth=1.5, zorder=6))
    say(axes, 34.5, 15.5, "the same angle:\nthe same softness", colour=RED)


def extents(axes: Axes) -> None:
    """The source as the subject sees it."""
    axes.add_patch(Circle((15, 12.5), 11, facecolor="#222222", edgecolor=GREY, zorder=1))
    box(axes, 8.5, 11, 13, 7, fill=LIGHT, colour=AMBER)
    measure(axes, (8.5, 9.4), (21.5, 9.4))
    measure(axes, (23, 11), (23, 18))
    axes.text(15, 7.4, "width", color="white", ha="center", va="center", fontsize=9.5, zorder=9)
    line(axes, (23, 14.5), (27, 14.5), colour=RED)
    say(axes, 27.5, 14.5, "height", colour=RED)
    say(axes, 27.5, 20.5, "all that the subject sees;\nwhat is bright is the source")


def hot_spot(axes: Axes) -> None:
    """Brightness along a line across a source."""
    graph(axes, left=4, bottom=4.5, right=32, top=23, across="along a line across the source", up="brightness")
    x = np.linspace(5, 31, 200)
    y = 4.5 + 5 / (1 + ((x - 18) / 11) ** 12) + 9 * np.exp(-(((x - 16) / 3.2) ** 2))
    axes.plot(x, y, color=BLUE, linewidth=2)
    line(axes, (5, 10.4), (36, 10.4), colour=GREY, style="--")
    line(axes, (16, 18.5), (36, 18.5), colour=GREY, style="--")
    measure(axes, (34, 10.4), (34, 18.5))
    say(axes, 35.3, 14.5, "hot spot:\nhow many stops", colour=RED)
    say(axes, 36.8, 19.2, "brightest 5 degrees", colour=GREY)
    say(axes, 36.8, 9.6, "mean of the source", colour=GREY)


def clearance(axes: Axes) -> None:
    """The shortest way from the subject to the diffuser."""
    line(axes, (18, 22), (24, 7), colour=BLUE, wide=4)
    say(axes, 17, 22.3, "diffuser", side="right", colour=BLUE)
    box(axes, 31, 4, 16, 7)
    say(axes, 39, 7.5, "lens", side="center")
    disc(axes, 6, 7, 0.9)
    say(axes, 6, 4.7, "subject", side="center")
    measure(axes, (6.9, 7), (23.6, 7))
    say(axes, 15, 5.2, "clearance", side="center", colour=RED)


def exposure(axes: Axes) -> None:
    """Light that there is against light that is asked for."""
    for x, high, words, fill in ((6, 18, "flash at\nfull power", LIGHT), (21, 8, "what this shot\nasks for", PALE)):
        box(axes, x, 5, 7, high, fill=fill)
        say(axes, x + 3.5, 2.6, words, side="center")
    line(axes, (13, 23), (36, 23), style="--")
    line(axes, (28, 13), (36, 13), style="--")
    measure(axes, (33, 13), (33, 23))
    say(axes, 34.5, 18, "power left,\nin stops", colour=RED)


def planes(axes: Axes) -> None:
    """Cards that face different ways."""
    disc(axes, 16, 12.5, 0.9)
    for dx, dy, words, side in (
        (0, 1, "up", "left"),
        (0, -1, "down", "left"),
        (-1, 0, "left", "center"),
        (1, 0, "right", "center"),
    ):
        x, y = 16 + 4 * dx, 12.5 + 4 * dy
        line(axes, (x - 2.5 * dy, y - 2.5 * dx), (x + 2.5 * dy, y + 2.5 * dx), wide=3, colour=BLUE)
        arrow(axes, (x, y), (x + 4 * dx, y + 4 * dy), colour=INK, wide=1.1)
        say(axes, x + 1 * dx + (1 if dy else 0) + 4.2 * dx, y + 4 * dy + (1.8 if dx else 0) - dy, words, side=side)
    say(axes, 29.5, 19, "one small card after another,\neach facing its own way:", colour=INK)
    say(axes, 29.5, 13.5, "how much light\nlands on it?", colour=RED)
    say(axes, 29.5, 8, "seen by the camera;\na card can face the lens, too", colour=GREY)


def solids(axes: Axes) -> None:
    """A ball and a can that catch light."""
    for x in (3, 6, 9):
        arrow(axes, (x, 23), (x + 3, 17.8))
        arrow(axes, (x + 24, 23), (x + 27, 17.8))
    disc(axes, 10, 12.5, 4, fill=PALE, edge=BLUE)
    say(axes, 10, 5.6, "a ball: light from\nall sides alike", side="center")
    box(axes, 31, 9, 6, 7.5, colour=BLUE)
    axes.add_patch(Ellipse((34, 16.5), 6, 1.8, facecolor="white", edgecolor=BLUE, linewidth=1.2, zorder=4))
    say(axes, 34, 5.6, "an upright can, its wall only:\nlight from above does not count", side="center")


def vector(axes: Axes) -> None:
    """All light summed into one arrow."""
    disc(axes, 14, 9, 0.9)
    for degrees, long in ((150, 7), (125, 9.5), (100, 8), (60, 4), (20, 3)):
        dx, dy = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
        arrow(axes, (14 + (1.2 + long) * dx, 9 + (1.2 + long) * dy), (14 + 1.2 * dx, 9 + 1.2 * dy))
    say(axes, 12, 22.5, "light from several sides", side="center")
    arrow(axes, (31, 20), (37.5, 6), colour=RED, wide=3)
    say(axes, 26, 12.5, "=", size=16)
    say(axes, 37.5, 16, "one arrow:\nits direction is\naway from the light", colour=RED)


def directional(axes: Axes) -> None:
    """A beam, a sky, a fog."""
    for x, words, spread in ((9, "a beam: 4", (90,)), (26, "an even sky: 2", range(0, 181, 30)), (43, "fog: 0", None)):
        disc(axes, x, 12, 0.9)
        for degrees in range(0, 360, 30) if spread is None else spread:
            dx, dy = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
            arrow(axes, (x + 6.8 * dx, 12 + 6.8 * dy), (x + 1.6 * dx, 12 + 1.6 * dy))
        say(axes, x, 2.2, words, side="center", colour=RED)
    say(axes, 26, 23, "vector/scalar ratio", side="center")


def modelling(axes: Axes) -> None:
    """Top, underside and the leaf below."""
    for x in (12, 16, 20):
        arrow(axes, (x - 3, 23), (x, 16.2))
    axes.add_patch(Ellipse((16, 11.5), 16, 7, facecolor="#444444", edgecolor="none", zorder=3))
    line(axes, (1, 3), (33, 3), colour=GREEN, wide=3)
    say(axes, 1.5, 1.2, "leaf", colour=GREEN)
    arrow(axes, (3.5, 20), (5, 3.4))
    arrow(axes, (5, 3.4), (11, 8))
    say(axes, 26, 15, "top: lit", colour=RED)
    say(axes, 26, 8, "underside: only what the\nleaf sends back, the fill", colour=RED)


def highlight(axes: Axes) -> None:
    """The image of the source on a glossy ball."""
    disc(axes, 14, 12.5, 10, fill="#333333")
    axes.add_patch(Ellipse((12, 16.8), 8, 4, facecolor="white", edgecolor="none", zorder=6))
    measure(axes, (8, 13.6), (16, 13.6))
    measure(axes, (25.5, 2.5), (25.5, 22.5))
    say(axes, 26.6, 12.5, "diameter of the ball", colour=RED)
    line(axes, (12, 13.6), (26.5, 19.5), colour=RED)
    say(axes, 26.6, 19.8, "width of the highlight, between\nthe places at half its brightness", colour=RED)
    say(axes, 26.6, 5, "An eye or a wing case mirrors\nthe source, small and bent.", colour=GREY)


def white(axes: Axes) -> None:
    """A highlight against a white card, by the size of the source: log2(pi F / solid angle), F = 0.048."""
    graph(axes, left=5, bottom=4.5, right=34, top=24, across="apparent size of the source [sr]", up="stops over white")
    solid = np.geomspace(0.03, 1.5, 100)
    x = 6 + 26 * (np.log(solid) - math.log(0.03)) / math.log(50)
    axes.plot(x, 14 + 2.4 * np.log2(math.pi * 0.048 / solid), color=BLUE, linewidth=2)
    line(axes, (5, 14), (34, 14), style="--")
    at = 6 + 26 * math.log(math.pi * 0.048 / 0.03) / math.log(50)
    disc(axes, at, 14, 0.7, fill=RED)
    say(axes, at + 1.2, 15.8, "0.15 sr", colour=RED)
    say(axes, 35, 14, "as bright as\na white card", colour=GREY)
    say(axes, 35, 19.5, "small source:\nthe highlight burns out", colour=RED)
    say(axes, 35, 8, "large source:\nit keeps its colour", colour=RED)


def pieces(axes: Axes) -> None:
    """A highlight with a gap, and one in two pieces."""
    for x in (10, 30):
        disc(axes, x, 13.5, 8.5, fill="#333333")
    axes.add_patch(Circle((10, 15), 4.4, facecolor="white", edgecolor="none", zorder=6))
    axes.add_patch(Circle((10, 15), 1.4, facecolor="#333333", edgecolor="none", zorder=7))
    for x in (26.5, 33.5):
        axes.add_patch(Ellipse((x, 15), 3, 5, facecolor="white", edgecolor="none", zorder=6))
    say(axes, 10, 2.8, "one piece,\na dark gap in it", side="center", colour=RED)
    say(axes, 30, 2.8, "two pieces:\ncount 2", side="center", colour=RED)


def edge(axes: Axes) -> None:
    """An edge, its half shadow, and how its width is read."""
    line(axes, (2, 24), (15, 24), colour=BLUE, wide=4)
    say(axes, 16, 23.7, "source", colour=BLUE)
    beam(axes, (8, 15), (1.78, 7), (13.33, 7))
    line(axes, (2, 24), (13.33, 7), colour=AMBER)
    line(axes, (15, 24), (1.78, 7), colour=AMBER)
    line(axes, (0.5, 15), (8, 15), wide=4, colour=INK)
    say(axes, 9.5, 15.4, "edge")
    line(axes, (0.5, 7), (22, 7), wide=2, colour=GREEN)
    say(axes, 22, 5, "skin below", colour=GREEN, side="right")
    say(axes, 7.4, 5, "half shadow", colour=GREY, side="center")
    graph(axes, left=28, bottom=5, right=50, top=23, across="along the skin", up="light")
    x = np.linspace(0, 1, 100)
    axes.plot(30 + 17 * x, 6 + 12 * (x**2 * (3 - 2 * x)), color=BLUE, linewidth=2)
    for share, place in ((0.1, 0.196), (0.9, 0.804)):
        line(axes, (30 + 17 * place, 5), (30 + 17 * place, 6 + 12 * share), style="--")
        say(axes, 30 + 17 * place, 7.2 + 12 * share, f"{share:.0%}".replace("%", " %"), side="right", colour=GREY)
    measure(axes, (30 + 17 * 0.196, 5.9), (30 + 17 * 0.804, 5.9))
    say(axes, 45, 8.2, "width", colour=RED)


def hair(axes: Axes) -> None:
    """A hair over skin, and the dip that it makes."""
    line(axes, (2, 23), (18, 23), colour=BLUE, wide=4)
    say(axes, 19, 22.8, "source", colour=BLUE)
    beam(axes, (9.4, 13), (10.6, 13), (14.5, 5), (5.5, 5), colour=PALE)
    disc(axes, 10, 13.2, 0.8)
    say(axes, 12, 13.4, "hair, end on")
    line(axes, (1, 5), (20, 5), wide=2, colour=GREEN)
    say(axes, 10, 3, "skin", colour=GREEN, side="center")
    graph(axes, left=28, bottom=5, right=50, top=24, across="along the skin", up="light")
    x = np.linspace(29, 48, 150)
    axes.plot(x, 18 - 6 * np.exp(-(((x - 38) / 3) ** 2)), color=BLUE, linewidth=2)
    line(axes, (29, 18), (49, 18), style="--")
    measure(axes, (38, 12), (38, 18))
    say(axes, 40.5, 9.5, "contrast: the share\nthat is missing", colour=RED, side="center")


def exponent(axes: Axes) -> None:
    """Light against distance for a small and a large source: pi r^2 / (r^2 + d^2)."""
    graph(axes, left=5, bottom=4.5, right=34, top=24, across="distance from the source", up="light [stops]")
    x = np.linspace(0, 1, 80)
    distance = 0.12 * 30**x
    axes.plot(6 + 26 * x, 17 - 2 * np.log2(1 + distance**2), color=BLUE, linewidth=2)
    tiny = distance > 0.45
    axes.plot(6 + 26 * x[tiny], 17 - 4 * np.log2(distance[tiny]), color=RED, linewidth=2, linestyle="--")
    say(axes, 8, 11.2, "large source:\n0 touching it,\n1 one radius away,\n2 far off", colour=BLUE)
    say(axes, 20, 21.5, "tiny source: 2 everywhere", colour=RED)


def places(axes: Axes) -> None:
    """The places at which falloff is told."""
    box(axes, 38, 9, 13, 7)
    say(axes, 44.5, 12.5, "lens", side="center")
    line(axes, (3, 12.5), (38, 12.5), style="--")
    for x, y, words, dx, dy in (
        (27, 12.5, "nearer", 0.8, -1.8),
        (19, 12.5, "behind", -0.8, -1.8),
        (23, 18, "top of the field", 1.5, 0.5),
        (23, 7, "bottom of the field", 1.5, -0.5),
    ):
        disc(axes, x, y, 0.7, fill=RED)
        say(axes, x + dx, y + dy, words, colour=RED, side="right" if dx < 0 else "left")
    disc(axes, 23, 12.5, 0.9)
    say(axes, 23.6, 14.6, "subject")
    line(axes, (4, 4), (4, 21), colour=GREEN, wide=3)
    disc(axes, 4, 12.5, 0.7, fill=RED)
    say(axes, 5.2, 19.5, "background", colour=GREEN)
    say(axes, 26, 1.8, "from the side; left and right of the field lie across", side="center", colour=GREY)


def lost(axes: Axes) -> None:
    """A staircase of light lost, stage by stage."""
    graph(axes, left=3, bottom=4, right=50, top=24, across="", up="light [stops]")
    levels = (20, 19, 8.5, 13.5, 14.3)
    names = ("flash, aimed", "as mounted", "paper front", "white box", "leaf")
    for number, (level, name) in enumerate(zip(levels, names, strict=True)):
        x = 4.5 + 9 * number
        box(axes, x, 4, 6.5, level - 4, fill=LIGHT if number else PALE)
        say(axes, x + 3.2, 2.2, name, side="center", size=9)
    measure(axes, (45, 14.3), (45, 20))
    line(axes, (11, 20), (48, 20), style="--")
    say(axes, 44, 17.3, "lost in all", colour=RED, side="right")


def doubling(axes: Axes) -> None:
    """Stops lost against the growth of the source."""
    graph(axes, left=5, bottom=4.5, right=36, top=24, across="apparent area: doublings", up="stops lost")
    for step in range(1, 5):
        line(axes, (7 + 6 * step, 4.5), (7 + 6 * step, 22), colour=PALE)
    line(axes, (7, 5.5), (31, 19.5), colour=BLUE, wide=2)
    disc(axes, 7, 5.5, 0.8, fill=INK)
    disc(axes, 31, 19.5, 0.8, fill=BLUE)
    say(axes, 10.5, 6.1, "flash alone")
    say(axes, 30, 21.3, "your design", side="right", colour=BLUE)
    line(axes, (19, 12.5), (25, 12.5), (25, 16), colour=RED, wide=1.5)
    say(axes, 25.8, 14, "price of one\ndoubling", colour=RED)


def lens_front(axes: Axes) -> None:
    """Light that misses the subject and meets the lens."""
    box(axes, 30, 5, 18, 9)
    say(axes, 39, 9.5, "lens", side="center")
    line(axes, (30, 5), (30, 14), colour=RED, wide=3.5)
    line(axes, (14, 22), (24, 15), colour=BLUE, wide=4)
    say(axes, 25.5, 19.5, "diffuser, glowing to all sides", colour=BLUE)
    disc(axes, 6, 9.5, 0.9)
    say(axes, 6, 7, "subject", side="center")
    arrow(axes, (17.5, 19), (7.2, 10.5))
    arrow(axes, (21.5, 16), (29.4, 11))
    say(axes, 29, 3.2, "light here makes haze in the picture", colour=RED, side="center")


def budget(axes: Axes) -> None:
    """One bar of all the light that left the flash."""
    shares = ((0.47, "box takes", PALE), (0.31, "misses\neverything", LIGHT), (0.13, "flash\ntakes", PALE))
    x = 3.0
    for share, words, fill in (*shares, (0.09, "other", "white")):
        box(axes, x, 11, 46 * share, 6, fill=fill)
        say(axes, x + 23 * share, 14, words, side="center", size=9.5 if share > 0.2 else 9)
        x += 46 * share
    measure(axes, (3, 8.5), (49, 8.5))
    say(axes, 26, 6.3, "all the light of the flash: 100 %", side="center", colour=RED)


DRAWINGS: dict[str, tuple[Callable[[Axes], None], str]] = {
    "stage": (stage, "From the side: flash over the camera, diffuser before it, subject on a leaf, lens axis."),
    "size": (size, "A small source near the subject and a large one farther off fill the same angle."),
    "extents": (extents, "All that the subject sees: a dark circle, in it a bright rectangle, its width and height."),
    "hot-spot": (hot_spot, "Brightness along a line across the source: a hump stands above the mean of the source."),
    "clearance": (clearance, "The shortest line from the subject to the lower edge of the diffuser over the lens."),
    "exposure": (exposure, "A high bar, the flash at full power, beside a low one, what the shot asks for."),
    "planes": (planes, "Small cards around a point, facing up, down, left and right."),
    "solids": (solids, "A ball that catches light from all sides, an upright can that catches it with its wall only."),
    "vector": (vector, "Arrows of light from several sides onto a point, and the one arrow that is their sum."),
    "directional": (directional, "A beam has the ratio 4, an even sky 2, light from everywhere 0."),
    "modelling": (modelling, "A body over a leaf: light from above on its top, light from the leaf on its underside."),
    "highlight": (highlight, "A dark ball with a bright patch, the width of the patch and the diameter of the ball."),
    "white": (white, "The larger the source, the darker the highlight: it falls below a white card at 0.15 sr."),
    "pieces": (pieces, "A highlight with a dark hole in it, and a highlight in two pieces."),
    "edge": (edge, "A source, an edge and its half shadow on the skin; light along the skin rises from 10 to 90 %."),
    "hair": (hair, "A hair over the skin and the dip in the light below it."),
    "exponent": (exponent, "Light against distance: a straight line for a tiny source, a bent one for a large source."),
    "places": (places, "Places around the subject: nearer, behind, top and bottom of the field, background."),
    "lost": (lost, "Bars for the light after each stage: flash, paper front, white box, leaf; the whole loss beside."),
    "doubling": (doubling, "Stops lost against doublings of the apparent area: the slope is the price of a doubling."),
    "lens-front": (lens_front, "A diffuser over the lens sends light to the subject and to the lens front."),
    "budget": (budget, "One bar for all light: the box takes some, some misses everything, the flash takes some."),
}
