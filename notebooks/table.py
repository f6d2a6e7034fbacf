"""What the notebooks share: a plain lamp on a table, a place to show pictures, and a slider.

Everything else stands in the notebooks themselves. All lengths are in mm.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from io import BytesIO
from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

from lightsim.light.light import Light, light_of
from lightsim.picture.style import alternative_text, settings
from lightsim.rig.load import loads, placed

# A flash far behind a white disc, its beam just as wide as the disc: so the disc is lit evenly, all of the light meets
# it, and it sends the light on in all directions alike. The lens is far away, where it is in nobody's way.
BEHIND, LENS = 1500.0, 4000.0
PASSED = 0.5  # of the light that falls on the disc, invented
_LAMP = """
title = "{title}"
[camera]
sensor = [23.5, 15.6]
pixels = [6000, 4000]
magnification = [1]
[lens]
working_distance = [{lens}]
diameter = 60
length = 100
[[head]]
name = "flash"
from = "subject"
toward_lens = {flash}
window = [0.1, 0.1]
window_reflectance = 0
guide_number = 20
[head.beam]
angle = [0, {edge}]
intensity = [1, 1]
[[diffuser]]
name = "lamp"
shape = "disc"
diameter = {width}
material = "even white"
from = "subject"
toward_lens = {distance}
[material."even white"]
diffuse_transmittance = {passed}
[subject]
edge_height = {height}
"""


def lamp_text(*, width: float, distance: float, height: float = 1.0) -> str:
    """The rig file of an evenly bright disc, width mm across, that faces the subject from distance mm away.

    height: mm of the edge that casts a shadow, over what it shades
    """
    edge = float(np.degrees(np.arctan(width / 2 / BEHIND)))
    return _LAMP.format(
        title=f"{width:g} mm wide, {distance:g} mm away",
        width=width,
        distance=distance,
        flash=distance + BEHIND,
        edge=edge,
        lens=LENS,
        passed=PASSED,
        height=height,
    ).lstrip()


def lamp(*, width: float, distance: float, height: float = 1.0, points: int = 512, seed: int = 1) -> Light:
    """The light of that lamp: 16 replicates of so many light paths (points) each."""
    text = lamp_text(width=width, distance=distance, height=height)
    rig = placed(loads(text, file="lamp.toml", folder=Path.cwd()))
    return light_of(rig, points=points, seed=seed)


def angle(*, width: float, distance: float) -> float:
    """How large a disc looks from a point on its axis [degrees]: 2 atan(width / (2 distance)), any geometry book."""
    return float(np.degrees(2 * np.arctan(width / 2 / distance)))


def png(figure: Figure, *, dots: float = 100) -> bytes:
    """A picture as the bytes of a PNG file; dots: per inch."""
    file = BytesIO()
    with settings():
        figure.savefig(file, format="png", dpi=dots)
    return file.getvalue()


def show(figure: Figure) -> None:
    """Show a picture in a notebook; where the script runs plainly, say in words what it shows."""
    if in_notebook():
        from IPython.display import Image, display

        display(Image(png(figure), alt=" ".join(alternative_text(figure).split())))
    else:
        print(f"[picture: {' '.join(alternative_text(figure).split())}]")


def in_notebook() -> bool:
    """Whether this runs in the kernel of a notebook."""
    if "IPython" not in sys.modules:
        return False
    from IPython import get_ipython

    return hasattr(get_ipython(), "kernel")


def slider(*, label: str, choices: Sequence[str], draw: Callable[[int], Figure]) -> float | None:
    """A slider that changes one picture for another, all drawn before. Without ipywidgets, or outside a notebook: none.

    label: what the slider moves; choices: what its places are called; draw: the picture of a place, all of one size
    Returns how many pictures a second it changes on this machine, screen not counted; None where there is no slider.
    """
    try:
        import ipywidgets
    except ImportError:
        return None
    if not in_notebook():
        return None
    from IPython.display import display

    names = {choice: png(draw(place)) for place, choice in enumerate(choices)}
    image = ipywidgets.Image(value=names[choices[0]], format="png")
    knob = ipywidgets.SelectionSlider(options=list(choices), description=label, continuous_update=True)
    knob.style.description_width = "initial"
    knob.layout.width = "32em"

    def change(event: dict[str, str]) -> None:
        image.value = names[event["new"]]

    knob.observe(change, names="value")
    rate = per_second(lambda place: setattr(knob, "value", choices[place]), len(choices))
    knob.value = choices[0]
    display(ipywidgets.VBox([knob, image]))
    return rate


def per_second(move: Callable[[int], None], places: int) -> float:
    """How many times a second a slider can be moved, by moving it through all its places there and back."""
    start = time.perf_counter()
    for place in [*range(places), *reversed(range(places))]:
        move(place)
    return 2 * places / (time.perf_counter() - start)
