"""The source as the subject sees it: the half-space around the optical axis on an equal-area map, in stops."""

from __future__ import annotations

from textwrap import fill

import numpy as np
from matplotlib import patheffects
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle
from numpy.typing import NDArray

from lightsim.measure.report import Report
from lightsim.measure.rounding import shown
from lightsim.measure.size import SPOT
from lightsim.measure.source_map import RIM, SourceMap, circle
from lightsim.picture.fit import SMALL
from lightsim.picture.style import (
    AROUND,
    COLOURS,
    GREY,
    INK,
    ON_IMAGE,
    describe,
    figure_of,
    image_canvas,
    image_frame,
    settings,
)

DARKEST = -8.0  # stops below white, where the scale ends
_MAP = "inferno"  # its lightness rises evenly, so colour-blind eyes read it too
_HALF, _SPOT = COLOURS[4], COLOURS[2]
_EDGE: list[patheffects.AbstractPathEffect] = [patheffects.withStroke(linewidth=3.2, foreground=AROUND)]
_AROUND_TEXT: list[patheffects.AbstractPathEffect] = [patheffects.withStroke(linewidth=2.2, foreground=AROUND)]
_WAYS = ("to the right", "above", "to the left", "below")
_ASIDE = 0.05  # of a direction, from which it is named
_UNEVEN = 0.1  # stops of the hot spot
_RINGS = (30.0, 60.0)  # degrees off the axis
_UNDER = 1.2  # inches, for list and scale


def source_picture(found: SourceMap, report: Report, *, title: str = "", axes: Axes | None = None) -> Figure:
    """What the subject sees, looking at the lens: bright and dark in stops, with the equal cone, the line where half
    of the highest brightness is left, and the hot spot.

    Right in the picture is right in the photograph. The scale is the same for all rigs, exposed alike: white is what
    burns out on a shiny eye, as its mirror image there is as bright as a white card that faces the lens. Stops below
    white are stops by which the highlight stays below the white card.
    """
    with settings():
        title = title or "What the subject sees of the light"
        below = [_brightness(found), "Right is right in the photograph. Rim: 90° off the axis."]
        if found.behind > 0.01:
            below.append(f"Not on the map: {100 * found.behind:.0f} % from behind the subject, such as off a leaf.")
        figure, axes = image_canvas(axes, ratio=1.0, title=title, below=below, under=_UNDER)
        whole = found.whole
        with np.errstate(divide="ignore"):
            known = found.white > 0
            stops = np.log2(whole.luminance / found.white) if known else np.full_like(whole.luminance, -np.inf)
        image = axes.imshow(
            np.clip(stops, DARKEST, None),
            extent=(whole.left, whole.right, whole.bottom, whole.top),
            origin="lower",
            cmap=_MAP,
            vmin=DARKEST,
            vmax=0.0,
            interpolation="none",
        )
        rim = Circle((0, 0), RIM, transform=axes.transData, fill=False, edgecolor=GREY, linewidth=1.2)
        axes.add_patch(rim)
        image.set_clip_path(rim)
        image.set_gid("luminance")
        entries = [*_cone(axes, found, report, rim), *_half(axes, found), *_spot(axes, found, report)]
        _rings(axes)
        _outlines(axes, found)
        _names(axes, found)
        axes.set_xlim(-1.06 * RIM, 1.06 * RIM)
        axes.set_ylim(-1.06 * RIM, 1.06 * RIM)
        axes.set_aspect("equal")
        image_frame(axes, title=title, below=below)
        bar = figure_of(axes).colorbar(
            image, ax=axes, orientation="horizontal", extend="max", fraction=0.05, pad=0.02, aspect=28
        )
        bar.set_label("Stops against white: what burns out on a shiny eye")
        bar.outline.set_edgecolor(GREY)
        if entries:
            axes.legend(
                *zip(*entries, strict=True), loc="upper center", bbox_to_anchor=(0.5, 0.0), ncols=1, labelcolor=INK
            )
        describe(axes, _told(found, report))
    return figure


def _told(found: SourceMap, report: Report) -> str:
    cone = report["size.cone_angle"]
    if cone.value is None or not (found.brightest > 0 and found.white > 0):
        return f"{report.title}: too little light reaches the subject to tell what it sees."
    where = ""
    if found.centre is not None:
        off = float(np.degrees(np.arccos(np.clip(found.centre[2], -1, 1))))
        ways = [word for word, far in zip(_WAYS, (*found.centre[:2], *-found.centre[:2]), strict=True) if far > _ASIDE]
        where = f", its middle {off:.0f} degrees off the lens axis{', ' if ways else ''}{' and '.join(ways)}"
    return (
        f"{report.title}: the light as the subject sees it, as large as a cone of {shown(cone).value} degrees{where}. "
        f"{_brightness(found)}"
    )


def _brightness(found: SourceMap) -> str:
    """How bright the brightest place is, in words."""
    if not (found.brightest > 0 and found.white > 0):
        return "No light comes from here."
    stops = float(np.log2(found.brightest / found.white))
    if stops > 0:
        return f"Brightest place: {stops:.1f} stops above white: it burns out."
    return f"Brightest place: {-stops:.1f} stops below white."


def _outlines(axes: Axes, found: SourceMap) -> None:
    """Where the lens and the surroundings are, which send next to no light."""
    step = (np.arange(found.dark.shape[1]) + 0.5) / found.dark.shape[1] * 2 * RIM - RIM
    for number in np.unique(found.dark[found.dark > 0]):
        lines = axes.contour(step, step, found.dark == number, levels=[0.5], colors=[GREY], linewidths=0.8)
        lines.set_gid("outline")


def _names(axes: Axes, found: SourceMap) -> None:
    for name, place in found.around:
        axes.annotate(
            fill(name, 24), place, ha="center", va="center", fontsize=SMALL, color=ON_IMAGE, path_effects=_AROUND_TEXT
        )


def _cone(axes: Axes, found: SourceMap, report: Report, rim: Circle) -> list[tuple[object, str]]:
    cone = report["size.cone_angle"]
    if cone.value is None or found.centre is None:
        return []
    text = shown(cone)
    (line,) = axes.plot(*circle(found.centre, cone.value).T, color=ON_IMAGE, linewidth=1.6, path_effects=_EDGE)
    line.set_gid("equal cone")
    line.set_clip_path(rim)
    return [(line, f"As large as an even circle of {text.value}°")]


def _half(axes: Axes, found: SourceMap) -> list[tuple[object, str]]:
    close = found.close
    if not found.brightest > 0:
        return []
    rows, columns = close.luminance.shape
    x = close.left + (np.arange(columns) + 0.5) / columns * (close.right - close.left)
    y = close.bottom + (np.arange(rows) + 0.5) / rows * (close.top - close.bottom)
    lines = axes.contour(
        x, y, close.luminance, levels=[found.brightest / 2], colors=[_HALF], linewidths=1.6, linestyles="--"
    )
    lines.set_path_effects(_EDGE)
    lines.set_gid("half")
    handle = axes.plot([], [], color=_HALF, linewidth=1.6, linestyle="--", path_effects=_EDGE)[0]
    return [(handle, "Half as bright as the brightest place")]


def _spot(axes: Axes, found: SourceMap, report: Report) -> list[tuple[object, str]]:
    # A light that is even but for its noise has no hot spot, though some place in it is the brightest.
    spot = report["size.hot_spot"]
    if found.spot is None or spot.value is None or spot.value < max(_UNEVEN, spot.half_interval or 0.0):
        return []
    (line,) = axes.plot(*circle(found.spot, float(np.degrees(SPOT))).T, color=_SPOT, linewidth=1.8, path_effects=_EDGE)
    line.set_gid("hot spot")
    return [(line, "Hot spot: brightest circle of 5°")]


def _rings(axes: Axes) -> None:
    """Quiet circles around the axis, so that angles can be read off."""
    for angle in _RINGS:
        ring: NDArray[np.float64] = circle(np.array([0.0, 0.0, 1.0]), 2 * angle)
        axes.plot(*ring.T, color=GREY, linewidth=0.6, linestyle=(0, (1, 3)), zorder=1.5)
        axes.annotate(
            f"{angle:.0f}°",
            (0.0, -2 * np.sin(np.radians(angle) / 2)),
            ha="center",
            va="center",
            fontsize=SMALL,
            color=ON_IMAGE,
            path_effects=_AROUND_TEXT,
        )
