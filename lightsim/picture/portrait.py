"""The portrait: the test subject as each design lights it, all exposed alike."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from matplotlib import patheffects as effects
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from lightsim.picture.beetle import beetle
from lightsim.picture.fit import BODY
from lightsim.picture.illumination import Illumination
from lightsim.picture.render import Rendered, render
from lightsim.picture.style import AROUND, ON_IMAGE, describe, image_canvas, image_frame, settings
from lightsim.picture.tone import srgb
from lightsim.rig.place import PlacedRig

Quality = Literal["preview", "clean"]

FRAME, CENTRE = (11.6, 8.7), (1.5, 0.25)  # mm at the plane of focus, whatever the magnification
EXPOSURE = "exposed so that a white card just reaches white"
SCALE_BAR = 2.0  # mm
_EFFORT: dict[Quality, tuple[tuple[int, int], int, int, int]] = {
    "preview": ((480, 360), 2, 1, 6),  # pixels, points each way in one, rays to the light, further ones in half shadow
    "clean": ((1200, 900), 3, 3, 16),
}


@dataclass(frozen=True)
class Portrait:
    """The beetle in linear light."""

    linear: NDArray[np.float64]  # (rows, columns, 3) luminance; a white card facing the lens is 1; row 0 on top
    frame: tuple[float, float]  # width and height at the plane of focus, mm


def portrait_of(
    illumination: Illumination,
    placed: PlacedRig,
    *,
    quality: Quality = "preview",
    progress: Callable[[float], None] | None = None,
) -> Portrait:
    """The beetle lit by a rig, seen from the middle of its lens front.

    quality: "preview" takes about a second, "clean" about half a minute; progress: told the share done, 0 to 1
    """
    pixels, across, samples, more = _EFFORT[quality]
    seen: Rendered = render(
        beetle(),
        illumination,
        camera=(0.0, 0.0, placed.working_distance),
        frame=FRAME,
        centre=CENTRE,
        pixels=pixels,
        across=across,
        samples=samples,
        more=more,
        surroundings=True,
        progress=progress,
    )
    return Portrait(seen.linear, FRAME)


def portrait_picture(portrait: Portrait, *, title: str = "", stops: float = 0.0, axes: Axes | None = None) -> Figure:
    """A portrait with a scale bar: linear light times 2^stops, cut off at white, the curve of sRGB, nothing else.

    title: name of the design; stops: exposure against one that just makes a white card facing the lens white.
    """
    width, height = portrait.frame
    exposure, title_shown = _exposure(stops), title or "A beetle in this light"
    with settings():
        figure, axes = image_canvas(axes, ratio=height / width, title=title_shown, below=[exposure])
        image = axes.imshow(
            srgb(portrait.linear * 2.0**stops),
            extent=(0, width, 0, height),
            interpolation="none",
        )
        image.set_gid("portrait")
        _scale_bar(axes, width)
        image_frame(axes, title=title_shown, below=[exposure])
        burnt = float((portrait.linear * 2.0**stops >= 1).all(axis=2).mean())
        describe(
            axes,
            f"A glossy red beetle with dark spots on a green leaf{f', lit by: {title}' if title else ''}. {exposure} "
            f"{100 * burnt:.2g} % of the picture is burnt out. The picture is {width:g} mm wide at the eye.",
        )
    return figure


def _exposure(stops: float) -> str:
    words = EXPOSURE[0].upper() + EXPOSURE[1:]
    if not stops:
        return f"{words}."
    amount = f"{abs(stops):g} stop{'' if abs(stops) == 1 else 's'}"
    return f"{amount} {'brighter' if stops > 0 else 'darker'} than where a white card just reaches white."


def _scale_bar(axes: Axes, width: float) -> None:
    """So many mm in the plane of focus, with ends, at the lower right."""
    left, bottom, tick = width - SCALE_BAR - 0.45, 0.4, 0.12
    edge = [effects.withStroke(linewidth=4.5, foreground=AROUND)]
    right = left + SCALE_BAR
    (bar,) = axes.plot(
        [left, left, left, right, right, right],
        [bottom - tick, bottom + tick, bottom, bottom, bottom + tick, bottom - tick],
        color=ON_IMAGE,
        linewidth=2.2,
        path_effects=edge,
    )
    bar.set_gid("scale bar")
    axes.text(
        left + SCALE_BAR / 2,
        bottom + 0.2,
        f"{SCALE_BAR:g} mm",
        ha="center",
        va="bottom",
        fontsize=BODY,
        color=ON_IMAGE,
        path_effects=[effects.withStroke(linewidth=2.6, foreground=AROUND)],
    )
    axes.set_xlim(0, width)
