"""The space through which the lens sees what is in the frame, by Gaussian optics.

Every ray from the frame at the subject to the entrance pupil. With the pupil at z = d, of radius d tan(theta), what is
seen at height z is the frame, shrunk to 1 - z / d of its size and rounded out by a disc of radius z tan(theta) (the
Minkowski sum of the two). Behind the subject the same rays run on: the frame grown to 1 + |z| / d, rounded out by
|z| tan(theta). No ray passes outside the lens front, so the hull of the frame and the front limits it as well.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np

from lightsim.fit.least import clipped
from lightsim.fit.regions import Floats, Region, beyond
from lightsim.rig.place import PlacedRig


@dataclass(frozen=True)
class View:
    """What the lens sees, mm; the pupil may be infinitely far (inf)."""

    width: float  # of the frame at the subject
    height: float
    opening: float  # tan(theta): half of the cone from the middle of the subject to the pupil
    pupil: float  # z of the entrance pupil
    front: float  # z of the lens front
    radius: float  # of the lens front


def opening(*, magnification: float, working_f_number: float) -> float:
    """tan(theta) of the cone of light from the middle of the subject into the lens: m over twice the effective N.

    Derived here for N (1 + m / P): with N = f / D, D the diameter of the entrance pupil, the front focal point lies
    f / m from the subject and f / P from the entrance pupil (Newton's form of the lens equation, once for the subject
    and once for the pupils), so that D / 2 is seen from f (1 / m + 1 / P) away. Source: Jacobson, Photographic Lenses
    Tutorial, "Apertures, f-stop, bellows correction factor, pupil magnification".
    """
    return magnification / (2 * working_f_number)


def view_of(placed: PlacedRig) -> View:
    """The view of a placed rig."""
    lens, camera = placed.rig.lens, placed.rig.camera
    return View(
        width=camera.sensor[0] / placed.magnification,
        height=camera.sensor[1] / placed.magnification,
        opening=opening(magnification=placed.magnification, working_f_number=placed.working_f_number),
        pupil=inf if lens.pupil_depth is None else placed.working_distance + lens.pupil_depth,
        front=placed.working_distance,
        radius=lens.diameter / 2,
    )


def seen(view: View, *, behind: bool = False) -> Region:
    """How far points between the subject and the lens front are beside the view, across the axis; negative inside.

    behind: for points behind the subject (z <= 0) instead of before it. Convex in x, y and z on either side: the
    distance to the rounded frame is the largest of u . (x, y) - a(z) |u_x| - b(z) |u_y| - r(z) over unit vectors u,
    with half the sides a, b and the rounding r linear in z; the largest of linear functions is convex. So is the
    larger of that for the pupil and that for the lens front. Across the axes x and y it changes by at most 1 mm a mm.
    """
    side = -1.0 if behind else 1.0

    def region(point: Floats) -> tuple[Floats, Floats]:
        pupil, by_pupil = _rounded(view, point, side, end=view.pupil, growth=view.opening)
        front, by_front = _rounded(view, point, side, end=view.front, growth=view.radius / view.front)
        return np.maximum(pupil, front), np.where((pupil >= front)[:, None], by_pupil, by_front)

    return region


def between(view: View, corner: Floats, *, behind: bool = False) -> Floats:
    """The pieces of triangles (m, 3, 3) that lie where seen() holds."""
    return clipped(corner, high=0.0) if behind else clipped(corner, low=0.0, high=view.front)


def _rounded(view: View, point: Floats, side: float, *, end: float, growth: float) -> tuple[Floats, Floats]:
    """Distance to the frame, shrunk toward z = end and rounded out by growth mm a mm of height, and its slopes."""
    half = np.array([view.width, view.height]) / 2
    shrinking = half / end
    height = point[:, 2:]
    across = point[:, :2]
    value, slope = beyond(np.abs(across) - (half - shrinking * height))
    out = np.column_stack([slope * np.where(across < 0, -1.0, 1.0), slope @ shrinking - side * growth])
    return value - side * growth * point[:, 2], out
