"""Our scenes in the words of an installed general-purpose renderer, Mitsuba 3, as a second opinion.

Lambertian paper and bare metal are its stock plug-ins; sheets that it has no words for are written down a second time
in mitsuba_sheet. So nothing of our scattering code enters. Habits of its to know: its loader merges shapes of equal
material unless optimize is off; its low-discrepancy sampler does not converge on a meter; its path integrator drops
light that nothing but straight-through sheets turned on its way, and its shadow rays end on them.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import drjit as dr
import mitsuba as mi
import numpy as np

from lightsim.light.estimate import Estimate, mean_of
from lightsim.light.scene import Scene
from lightsim.rig.place import Head, Part
from lightsim.sheet import Sheet

from .mitsuba_sheet import conductor, thin_sheet

_METER = 0.1  # mm, side of the meter: far too small to shade anything
_PIXELS = 16  # a side; the meter's pixels all see the same, each is an independent estimate


def translate(
    scene: Scene, *, point: tuple[float, float, float] = (0.0, 0.0, 0.0), sampler: str = "multijitter"
) -> Any:
    """The scene with a meter at point that faces the lens (+z). mi.set_variant must have been called.

    sampler: "multijitter" or "independent". Metal of a scene without_rest is stock metal. Raises ValueError for what
    neither stock nor mitsuba_sheet can say, such as beams given as a table.
    """
    windows = [scene.parts[number] for number in scene.head_part]
    opaque = all(part.sheet.straight + part.sheet.pores == 0 for part in scene.parts)
    content: dict[str, Any] = {
        "type": "scene",
        "integrator": {"type": "path" if opaque else "volpath", "max_depth": -1, "rr_depth": 5},
    }
    if all(_stock(part.sheet, scene) for part in scene.parts):
        content["meter"] = _meter(np.array(point), sampler)
    else:
        # Heads seen straight through a sheet, or bare, are better found by shadow rays than by chance.
        content["patch"], content["meter"] = _patch(np.array(point), sampler)
    for number, head in enumerate(scene.heads):
        content[f"head{number}"] = _head(head)
    for number, part in enumerate(scene.parts):
        if part not in windows:
            content[f"part{number}"] = _mesh(part, scene)
    return mi.load_dict(content, optimize=False)


def illuminance(translated: Any, *, samples: int, seed: int = 0) -> Estimate:
    """Illuminance at the meter, 1/mm^2 per lumen emitted; samples: paths in all, rounded up."""
    each = int(np.ceil(np.sqrt(samples) / _PIXELS)) ** 2  # multijitter likes squares
    image = np.array(mi.render(translated, spp=each, seed=seed))  # the renderer's watts are our lumens
    return mean_of(image[:, :, 0].ravel().astype(float))


def _film() -> dict[str, Any]:
    return {
        "type": "hdrfilm",
        "width": _PIXELS,
        "height": _PIXELS,
        "rfilter": {"type": "box"},
        "pixel_format": "rgb",
        "component_format": "float32",
    }


def _meter(point: np.ndarray, sampler: str) -> dict[str, Any]:
    return {
        "type": "rectangle",  # looks along +z
        "to_world": mi.ScalarTransform4f().translate(point.tolist()).scale(_METER / 2),
        "bsdf": _diffuse(0.0),
        "sensor": {"type": "irradiancemeter", "film": _film(), "sampler": {"type": sampler}},
    }


def _patch(point: np.ndarray, sampler: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """A patch of luminance E, and a camera close before it that looks at nothing else.

    It sends back pi times the light that it gets, but is too small to light anything.
    """
    patch = {
        "type": "rectangle",
        "to_world": mi.ScalarTransform4f().translate(point.tolist()).scale(_METER / 2),
        "bsdf": {"type": "diffuse", "reflectance": {"type": "uniform", "value": np.pi}},
    }
    eye = point + np.array([0, 0, 2 * _METER])
    view = mi.ScalarTransform4f().look_at(origin=eye.tolist(), target=point.tolist(), up=[0, 1, 0])
    camera = {
        "type": "orthographic",
        "to_world": view.scale([0.49 * _METER, 0.49 * _METER, 1]),
        "near_clip": _METER / 10,
        "far_clip": 10 * _METER,
        "film": _film(),
        "sampler": {"type": sampler},
    }
    return patch, camera


def _head(head: Head) -> dict[str, Any]:
    """A window of one lumen has luminance (m + 1) / (2 pi A) cos^(m - 1): 1 / (pi A) if it is Lambertian."""
    power, area = head.beam.cos_power, head.width * head.height
    if power is None:
        raise ValueError(f"{head.name}: only beams given by cos_power have a counterpart")
    axial = head.share * (power + 1) / (2 * np.pi * area)
    if power == 1:
        emitter = {"type": "area", "radiance": _grey(axial)}
    else:
        emitter = {"type": _beam_plugin(mi.variant()), "axial": axial, "power": power}
    frame = np.eye(4)
    # Right-handed, with the emitting side forward: left, up, forward.
    frame[:3, 0], frame[:3, 1], frame[:3, 2] = (
        -head.right * head.width / 2,
        head.up * head.height / 2,
        head.forward,
    )
    frame[:3, 3] = head.centre
    return {
        "type": "rectangle",
        "to_world": mi.ScalarTransform4f(frame.tolist()),
        "bsdf": _diffuse(head.window.sheet.reflectance_by_side[0]),  # one-sided: black behind
        "emitter": emitter,
    }


@lru_cache
def _beam_plugin(variant: str) -> str:
    """Registers an area emitter with a cosine-power profile, which is not in stock; its name."""

    class Beam(mi.Emitter):
        def __init__(self, properties: Any) -> None:
            super().__init__(properties)
            self.m_flags = mi.EmitterFlags.Surface
            self.axial, self.power = properties["axial"], properties["power"]

        def _radiance(self, cosine: Any) -> Any:
            ahead = dr.maximum(cosine, 0)
            return mi.Color3f(dr.select(cosine > 0, self.axial * ahead ** (self.power - 1), 0))

        def eval(self, surface: Any, active: Any = True) -> Any:
            return self._radiance(surface.wi.z)

        def sample_direction(self, receiver: Any, sample: Any, active: Any = True) -> Any:
            towards = self.get_shape().sample_direction(receiver, sample, active)
            towards.emitter = mi.EmitterPtr(self) if "llvm" in variant else self
            radiance = self._radiance(-dr.dot(towards.d, towards.n))
            return towards, dr.select(towards.pdf > 0, radiance / dr.maximum(towards.pdf, 1e-30), 0)

        def pdf_direction(self, receiver: Any, towards: Any, active: Any = True) -> Any:
            return self.get_shape().pdf_direction(receiver, towards, active)

        def eval_direction(self, receiver: Any, towards: Any, active: Any = True) -> Any:
            return self._radiance(-dr.dot(towards.d, towards.n))

    mi.register_emitter("cosine_power", Beam)
    return "cosine_power"


def _mesh(part: Part, scene: Scene) -> Any:
    properties = mi.Properties()
    properties["mesh_bsdf"] = mi.load_dict(_bsdf(part.sheet) if _stock(part.sheet, scene) else thin_sheet(part.sheet))
    mesh = mi.Mesh(part.name, len(part.mesh.vertices), len(part.mesh.faces), properties)
    arrays = mi.traverse(mesh)
    arrays["vertex_positions"] = part.mesh.vertices.astype(np.float32).ravel()
    arrays["faces"] = part.mesh.faces.astype(np.uint32).ravel()
    arrays.update()
    return mesh


def _stock(sheet: Sheet, scene: Scene) -> bool:
    """Whether the stock plug-ins can say what the sheet does: Lambertian lobes, or metal of one bounce and no more."""
    shaped = sheet.straight + sheet.pores + sheet.forward_transmittance + sum(sheet.gloss_by_side)
    metal = [share > 0 for share in sheet.metal_by_side]
    mixed = any(there and diffuse for there, diffuse in zip(metal, sheet.reflectance_by_side, strict=True))
    return not (shaped or (any(metal) and (mixed or sheet.diffuse_transmittance or scene.sheets.rest.any())))


def _bsdf(sheet: Sheet) -> dict[str, Any]:
    """A thin sheet: what each side sends back, blended with what goes through."""
    through = sheet.diffuse_transmittance
    most = max(sheet.reflectance_by_side)
    share = through / (through + most) if through > 0 else 0.0
    sides = [
        conductor(sheet, side) if sheet.metal_by_side[side] else _diffuse(back / (1 - share))
        for side, back in enumerate(sheet.reflectance_by_side)
    ]
    back_only = {"type": "twosided", "front": sides[0], "back": sides[1]}
    if not through:
        return back_only
    # The thin principled model is pure Lambertian transmission at diff_trans = 2.
    paper = {
        "type": "principledthin",
        "base_color": _grey(through / share),
        "diff_trans": 2.0,
        "spec_trans": 0.0,
    }
    return {"type": "blendbsdf", "weight": share, "back": back_only, "through": paper}


def _diffuse(reflectance: float) -> dict[str, Any]:
    return {"type": "diffuse", "reflectance": _grey(reflectance)}


def _grey(value: float) -> dict[str, Any]:
    return {"type": "rgb", "value": value}
