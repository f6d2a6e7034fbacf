"""The mirror ball: where a glossy ball shows a light to the camera, and how much of it it gives back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

_STEPS = 80  # bisection alone halves the bracket to nothing in so many
_CLOSE = 1e-13  # rad


@dataclass(frozen=True)
class Mirrored:
    """Mirror images of n points of light in a ball, as the camera sees it."""

    right: NDArray[np.float64]  # (n,) mm on the subject, from the ball's middle
    up: NDArray[np.float64]  # (n,) mm
    cosine: NDArray[np.float64]  # (n,) of the angle of incidence at the mirroring point
    magnification: NDArray[np.float64]  # (n,) mm^2/sr, area of the ball's image per solid angle seen from its centre
    visible: NDArray[np.bool_]  # (n,) the camera sees the mirror image


def mirror(origin: NDArray[np.float64], *, centre: ArrayLike, radius: float, camera: ArrayLike) -> Mirrored:
    """Mirror images in a ball of the points origin (n, 3) mm, seen from camera (3,) mm.

    centre: (3,) mm; radius: mm. right and up are the mirroring point's distances from the ball's centre,
    perpendicular to the line of sight; up is the side toward +y. In a picture the front of the ball stands
    nearer to the lens than its centre and so comes out bigger, by at most radius / (distance - radius); that
    is not in them.

    In the plane of light, centre and camera, theta is the mirroring point's angle from the camera's
    direction, gamma the light's. Incidence equals reflection where 2 theta + d(theta, camera) = gamma +
    d(gamma - theta, light), with the parallax d(angle, distance) = atan2(radius sin angle, distance - radius
    cos angle). The left side less the right side rises with theta throughout, so Newton steps kept inside a
    bracket always arrive.
    magnification: radius^2 sin theta cos theta theta' / sin gamma, theta' = d theta / d gamma at a fixed
    distance of the light: exact for a surface that faces the ball, off by up to (radius / distance) tan t for
    one tilted by t. Far away it becomes radius^2 / 4: the mirror ball shows equal solid angles as equal
    areas.
    Raises ValueError for a radius that is not positive, and for a camera inside the ball.
    Source: Alhazen's problem; parallax form derived here.
    """
    if not radius > 0:
        raise ValueError(f"ball radius = {radius} mm: it must be more than 0")
    right, up, toward, reach = camera_axes(centre, camera)
    if reach <= radius:
        raise ValueError(f"the camera is {reach:.3g} mm from the middle of a ball of radius {radius} mm: it is inside")
    offset = np.asarray(origin, float) - np.asarray(centre, float)
    along, aside_right, aside_up = offset @ toward, offset @ right, offset @ up
    aside = np.hypot(aside_right, aside_up)
    distance = np.hypot(along, aside)
    outside = distance > radius
    distance = np.where(outside, distance, 2 * radius)
    gamma = np.arctan2(aside, along)
    theta = _mirroring_angle(gamma, distance, reach, radius)
    sine, cosine = np.sin(theta), np.cos(theta)

    slope_camera = _parallax_slope(cosine, reach, radius)
    slope_light = _parallax_slope(np.cos(gamma - theta), distance, radius)
    turning = (1 + slope_light) / (2 + slope_camera + slope_light)
    straight_on = np.sin(gamma) < 1e-7
    ratio = np.where(straight_on, turning, sine / np.where(straight_on, 1, np.sin(gamma)))
    incidence = (reach * cosine - radius) / np.sqrt(reach**2 + radius**2 - 2 * reach * radius * cosine)
    scale = radius * sine / np.where(aside > 0, aside, 1)
    return Mirrored(
        right=scale * aside_right,
        up=scale * aside_up,
        cosine=incidence,
        magnification=radius**2 * ratio * cosine * turning,
        visible=outside & (incidence > 0) & (distance * np.cos(gamma - theta) > radius),
    )


def camera_axes(
    centre: ArrayLike, camera: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], float]:
    """Unit vectors (3,) right, up and toward the camera, as it sees the centre (3,); its distance [mm]."""
    apart = np.asarray(camera, float) - np.asarray(centre, float)
    reach = float(np.sqrt(apart @ apart))
    toward = apart / max(reach, 1e-300)
    hint = np.array([0.0, 1.0, 0.0]) if abs(toward[1]) < 0.999 else np.array([0.0, 0.0, -np.sign(toward[1])])
    up = hint - (hint @ toward) * toward
    up /= np.sqrt(up @ up)
    return np.cross(up, toward), up, toward, reach


def _mirroring_angle(
    gamma: NDArray[np.float64], distance: NDArray[np.float64], reach: float, radius: float
) -> NDArray[np.float64]:
    low, high = np.zeros_like(gamma), gamma.copy()
    near_camera, near_light = radius / (reach - radius), radius / (distance - radius)
    theta = gamma * (1 + near_light) / (2 + near_camera + near_light)  # exact for small angles
    for _ in range(_STEPS):
        other = gamma - theta
        sine, cosine = np.sin(theta), np.cos(theta)
        other_sine, other_cosine = np.sin(other), np.cos(other)
        excess = (
            theta
            - other
            + np.arctan2(radius * sine, reach - radius * cosine)
            - np.arctan2(radius * other_sine, distance - radius * other_cosine)
        )
        slope = 2 + _parallax_slope(cosine, reach, radius) + _parallax_slope(other_cosine, distance, radius)
        low, high = np.where(excess < 0, theta, low), np.where(excess > 0, theta, high)
        following = theta - excess / slope
        following = np.where((following < low) | (following > high), (low + high) / 2, following)
        moved = float(np.max(np.abs(following - theta), initial=0.0))
        theta = following
        if moved < _CLOSE:
            break
    return theta


def _parallax_slope(
    cosine: NDArray[np.float64], distance: NDArray[np.float64] | float, radius: float
) -> NDArray[np.float64]:
    return np.asarray(
        radius * (distance * cosine - radius) / (distance**2 + radius**2 - 2 * distance * radius * cosine)
    )
