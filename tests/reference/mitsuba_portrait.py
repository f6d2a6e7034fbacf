"""Small subjects under small lights in the words of Mitsuba 3, for the renderer of the portrait."""

from __future__ import annotations

from typing import Any

import mitsuba as mi
import numpy as np
from numpy.typing import NDArray

from lightsim.picture.solids import Surface

ROWS, COLUMNS = 512, 1024  # of a luminance map
Image = NDArray[np.float64]


def map_directions() -> NDArray[np.float64]:
    """Directions of the pixels of its map of surroundings, (ROWS, COLUMNS, 3): +y on top, -z in the middle of row ends.

    Its lookup puts columns at (column + 1/2) / COLUMNS of a turn atan2(x, -z), and rows at row / (ROWS - 1) of the
    angle from +y.
    """
    turn = (np.arange(COLUMNS) + 0.5) / COLUMNS * 2 * np.pi
    down = np.arange(ROWS) / (ROWS - 1) * np.pi
    theta, phi = np.meshgrid(down, turn, indexing="ij")
    return np.stack([np.sin(theta) * np.sin(phi), np.cos(theta), -np.sin(theta) * np.cos(phi)], axis=-1)


def surroundings(luminance: Image) -> dict[str, Any]:
    """Light from far away by a map (ROWS, COLUMNS)."""
    pixels = np.repeat(luminance.astype(np.float32)[:, :, None], 3, axis=2)
    return {"type": "envmap", "bitmap": mi.Bitmap(pixels), "scale": 1.0}


def patch(*, centre: NDArray[np.float64], side: float, luminance: float) -> dict[str, Any]:
    """A square Lambertian patch that faces the origin."""
    frame = mi.ScalarTransform4f().look_at(origin=centre.tolist(), target=[0, 0, 0], up=[0, 1, 0])
    return {
        "type": "rectangle",
        "to_world": frame.scale([side / 2, side / 2, 1]),
        "emitter": {"type": "area", "radiance": {"type": "rgb", "value": luminance}},
    }


def ball(surface: Surface, *, centre: tuple[float, float, float], radius: float) -> dict[str, Any]:
    """A ball of one of our surfaces."""
    return {"type": "sphere", "center": list(centre), "radius": radius, "bsdf": _material(surface)}


def floor(surface: Surface, *, half: float) -> dict[str, Any]:
    """A square plate in the plane z = 0 that faces +z."""
    return {"type": "rectangle", "to_world": mi.ScalarTransform4f().scale(half), "bsdf": _material(surface)}


def picture(
    things: dict[str, Any], *, camera: float, frame: float, pixels: int, depth: int, samples: int, seed: int = 1
) -> Image:
    """Luminance (pixels, pixels, 3) from (0, 0, camera), looking at the origin; depth: 2 is direct light alone."""
    view = mi.ScalarTransform4f().look_at(origin=[0, 0, camera], target=[0, 0, 0], up=[0, 1, 0])
    scene = {
        "type": "scene",
        "integrator": {"type": "path", "max_depth": depth, "hide_emitters": True, "rr_depth": 100},
        "camera": {
            "type": "perspective",
            "to_world": view,
            "fov": float(np.degrees(2 * np.arctan(frame / 2 / camera))),
            "film": {
                "type": "hdrfilm",
                "width": pixels,
                "height": pixels,
                "rfilter": {"type": "box"},
                "pixel_format": "rgb",
                "component_format": "float32",
            },
            "sampler": {"type": "multijitter"},
        },
        **things,
    }
    return np.array(mi.render(mi.load_dict(scene), spp=samples, seed=seed), float)


def _material(surface: Surface) -> dict[str, Any]:
    colour = {"type": "rgb", "value": list(surface.reflectance)}
    if surface.refractive_index is None:
        return {"type": "diffuse", "reflectance": colour}
    return {
        "type": "plastic",
        "diffuse_reflectance": colour,
        "int_ior": surface.refractive_index,
        "ext_ior": 1.0,
        "nonlinear": True,
    }
