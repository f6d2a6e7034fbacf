"""The highlight on a glossy ball and on an oval, domed wing case, as the camera sees it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from matplotlib import patheffects
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle
from numpy.typing import NDArray

from lightsim.light.light import Light
from lightsim.measure.figure_words import against_card
from lightsim.measure.highlight import HighlightMap, luminance_map
from lightsim.measure.report import Report
from lightsim.measure.rounding import length, shown
from lightsim.measure.source import source_only
from lightsim.picture.beetle import ball, wing_case
from lightsim.picture.fit import BODY, SMALL
from lightsim.picture.illumination import Illumination
from lightsim.picture.render import render
from lightsim.picture.solids import Subject
from lightsim.picture.style import AROUND, COLOURS, GREY, ON_IMAGE, describe, image_canvas, image_frame, settings
from lightsim.picture.tone import srgb

_PIXELS = 260  # each way
_HALF = COLOURS[4]
_ROOM = 1.12  # of the ball in its frame
_DARK = (0.018, 0.018, 0.022)  # reflectance of the ball under its gloss, invented: a dark eye
_CASE = (3.0, 2.0, 1.2)  # mm, half axes of the wing case, invented: across, upright, toward the lens
_CASE_FRAME = (7.2, 5.4)  # mm
_EDGE: list[patheffects.AbstractPathEffect] = [patheffects.withStroke(linewidth=3.0, foreground=AROUND)]
EXPOSED = "Exposed so that a white card just reaches white."


@dataclass(frozen=True)
class Shine:
    """A glossy ball and a wing case in the light of a rig, in linear light; a white card facing the lens is 1."""

    title: str
    magnification: float
    ball: NDArray[np.float64]  # (rows, columns, 3), row 0 on top
    radius: float  # mm
    case: NDArray[np.float64]  # (rows, columns, 3)
    highlight: HighlightMap | None  # on the ball's image; None where there is none


def shine_of(light: Light, lit: Illumination) -> Shine:
    """Ball and wing case of a rig, by the renderer. lit: illumination_of the light."""
    placed = light.placed
    shiny = placed.rig.subject.ball
    camera = (0.0, 0.0, placed.working_distance)
    place = (shiny.right, shiny.up, shiny.toward_lens)
    scale = 1 - shiny.toward_lens / placed.working_distance  # the frame lies in the plane of focus
    side = 2 * _ROOM * shiny.radius / scale
    seen = render(
        _ball(shiny.radius, place, shiny.refractive_index),
        lit,
        camera=camera,
        frame=(side, side),
        centre=(shiny.right / scale, shiny.up / scale),
        pixels=(_PIXELS, _PIXELS),
        bounces=0,
    )
    across, upright = _CASE_FRAME
    case = render(
        _wing_case(shiny.refractive_index),
        lit,
        camera=camera,
        frame=_CASE_FRAME,
        pixels=(round(_PIXELS * across / upright), _PIXELS),
        bounces=0,
    )
    mirrored = luminance_map(
        source_only(light, light.at(np.array(place))),
        centre=place,
        radius=shiny.radius,
        refractive_index=shiny.refractive_index,
        camera=camera,
    )
    return Shine(light.placed.rig.title, placed.magnification, seen.linear, shiny.radius, case.linear, mirrored)


def ball_picture(shine: Shine, report: Report, *, title: str = "", axes: Axes | None = None) -> Figure:
    """The highlight on the rig's ball, with its width as the report has it.

    Distances on the picture are those of the ball's image, mm on the subject.
    """
    width = report["highlight.width"]
    diameter = length(2 * shine.radius)
    title, below = title or f"Highlight on a {diameter} mm ball", _ball_words(report)
    with settings():
        figure, axes = image_canvas(axes, ratio=1.0, title=title, below=below)
        reach = _ROOM * shine.radius
        image = axes.imshow(srgb(shine.ball), extent=(-reach, reach, -reach, reach), interpolation="none")
        image.set_gid("ball")
        axes.add_patch(Circle((0, 0), shine.radius, fill=False, edgecolor=GREY, linewidth=0.8, gid="outline"))
        if width.value is not None and shine.highlight is not None and shine.highlight.luminance.max() > 0:
            _measure(axes, shine.highlight, shine.radius, width.value, shown(width).value)
        image_frame(axes, title=title, below=below)
        describe(axes, f"{report.title}, a glossy ball of {diameter} mm: {' '.join(below)}")
    return figure


def wing_case_picture(shine: Shine, *, title: str = "", axes: Axes | None = None) -> Figure:
    """The same light on an oval, domed wing case, whose flat crown shows the light larger than a ball does."""
    long, broad, _ = (length(2 * half) for half in _CASE)
    title, below = title or "Highlight on a domed wing case", [f"{long} mm long, {broad} mm broad. {EXPOSED}"]
    with settings():
        figure, axes = image_canvas(axes, ratio=_CASE_FRAME[1] / _CASE_FRAME[0], title=title, below=below)
        across, upright = (side / 2 for side in _CASE_FRAME)
        image = axes.imshow(srgb(shine.case), extent=(-across, across, -upright, upright), interpolation="none")
        image.set_gid("wing case")
        (bar,) = axes.plot([-across + 0.4, -across + 1.4], [-upright + 0.4] * 2, color=ON_IMAGE, linewidth=2.5)
        bar.set_gid("scale bar")
        axes.annotate("1 mm", (-across + 0.9, -upright + 0.5), ha="center", va="bottom", fontsize=SMALL, color=ON_IMAGE)
        image_frame(axes, title=title, below=below)
        brightest = float(np.log2(max(shine.case[:, :, 1].max(), 1e-9)))
        way = "brighter" if brightest > 0 else "darker"
        describe(
            axes,
            f"{shine.title}: a glossy, domed, red wing case {long} mm long in this light; the brightest place of its "
            f"highlight is {abs(brightest):.1f} stops {way} than a white card facing the lens.",
        )
    return figure


@lru_cache(maxsize=8)
def _ball(radius: float, centre: tuple[float, float, float], refractive_index: float) -> Subject:
    return ball(radius=radius, centre=centre, refractive_index=refractive_index, reflectance=_DARK)


@lru_cache(maxsize=8)
def _wing_case(refractive_index: float) -> Subject:
    return wing_case(half_axes=_CASE, refractive_index=refractive_index)


def _measure(axes: Axes, seen: HighlightMap, radius: float, width: float, text: str) -> None:
    """The outline of what counts as the highlight, and a dimension line over it."""
    rows, columns = seen.luminance.shape
    x = seen.left + (np.arange(columns) + 0.5) / columns * (seen.right - seen.left)
    y = seen.bottom + (np.arange(rows) + 0.5) / rows * (seen.top - seen.bottom)
    half = float(seen.luminance.max()) / 2
    outline = axes.contour(x, y, seen.luminance, levels=[half], colors=[_HALF], linewidths=1.2, linestyles="--")
    outline.set_path_effects(_EDGE)
    outline.set_gid("half")
    lit = seen.luminance >= half
    across = x[lit.any(axis=0)]
    # Above it: below there may be the hole for the lens, which is no part of the light.
    middle, level = float(across[0] + across[-1]) / 2, float(y[lit.any(axis=1)][-1]) + 0.12 * radius
    (line,) = axes.plot(
        [middle - width / 2, middle + width / 2], [level, level], color=ON_IMAGE, linewidth=1.4, marker="|",
        markersize=9, markeredgewidth=1.4, path_effects=_EDGE,
    )  # fmt: skip
    line.set_gid("highlight width")
    axes.annotate(
        f"{text} mm", (middle, level + 0.07 * radius), ha="center", va="bottom", fontsize=BODY, color=ON_IMAGE,
        path_effects=_EDGE,
    )  # fmt: skip


def _ball_words(report: Report) -> list[str]:
    width, share, stops = (report[f"highlight.{name}"] for name in ("width", "diameter_share", "stops_above_white"))
    if width.value is None or share.value is None:
        return ["The ball mirrors no light of a head or the diffuser to the lens."]
    pixels = report["highlight.width_pixels"]
    words = [
        f"Dashed: half as bright as its brightest place and more. That is {shown(width).value} mm wide, "
        f"{shown(share).value} % of the ball, at {report.magnification:g}x {shown(pixels).value} pixels"
    ]
    if stops.value is not None:
        words[0] += f"; on average {against_card(stops)} facing the lens"
    return [f"{words[0]}."]
