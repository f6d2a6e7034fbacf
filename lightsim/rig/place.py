"""From a rig to triangles and heads in world coordinates, for one magnification.

World: mm, origin at the subject in the plane of focus, +z from the subject to the lens, +y up, +x right as the
camera sees it. A part that is not turned faces the subject (-z).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from lightsim.rig.beam import Beam, beam_solid_angle
from lightsim.rig.camera import working_f_number
from lightsim.rig.errors import RigError, fault, naming
from lightsim.rig.head import C, HeadSpec
from lightsim.rig.mesh import Mesh
from lightsim.rig.meshes import MOST_TRIANGLES, MeshFile, read_mesh
from lightsim.rig.models import PartSpec, Rig
from lightsim.rig.photometric import with_file
from lightsim.rig.placement import Placement
from lightsim.rig.shapes import Box, Cone, Disc, FlatSheet, held_point, triangulate
from lightsim.sheet import Sheet

Point = NDArray[np.float64]  # (3,) mm
Materials = Callable[[str], Sheet]


@dataclass(frozen=True)
class Part:
    """A placed part: triangles whose right-handed normals point to its front, and its material."""

    name: str
    role: str  # "head", "diffuser", "surroundings" or "camera"
    mesh: Mesh
    sheet: Sheet
    material: str = ""  # the name of the sheet in the file or the library
    origin: Point = field(default_factory=lambda: np.zeros(3))  # where the shape's reference point is
    turned: NDArray[np.float64] = field(default_factory=lambda: np.eye(3))  # (3, 3), from the shape's frame to here


@dataclass(frozen=True)
class Head:
    """A placed flash head: a rectangular window that throws light forward with a profile about its axis."""

    name: str
    centre: Point
    right: Point  # (3,) unit, along the window's width
    up: Point  # (3,) unit, along its height
    forward: Point  # (3,) unit, the beam's axis
    width: float
    height: float
    beam: Beam
    share: float  # of the light of all heads
    axial_intensity: float  # cd s at full power by the guide number, C = 250
    window: Part


@dataclass(frozen=True)
class PlacedRig:
    """A rig at one magnification, in world coordinates."""

    rig: Rig
    magnification: float
    working_distance: float  # mm, subject to lens front
    heads: tuple[Head, ...]
    parts: tuple[Part, ...]  # without the windows of the heads
    notes: tuple[str, ...]  # what was repaired in meshes

    @property
    def field(self) -> tuple[float, float]:
        """Width and height of the frame at the subject, mm (the width of interest where the rig states one)."""
        width, height = (side / self.magnification for side in self.rig.camera.sensor)
        if self.rig.subject.field is not None:
            height, width = height * self.rig.subject.field / width, self.rig.subject.field
        return width, height

    @property
    def working_f_number(self) -> float:
        """Effective f-number, of the light at the sensor."""
        distance = self.working_distance
        return working_f_number(self.rig.lens, magnification=self.magnification, working_distance=distance)

    @property
    def pixel(self) -> float:
        """Width of a pixel at the subject, mm."""
        return self.rig.camera.sensor[0] / self.rig.camera.pixels[0] / self.magnification


FARTHEST = 10_000.0  # mm: the ray caster counts in float32, whose step beyond 16 m exceeds its offset from surfaces

# An open black paint or plastic; see shapes/materials.toml.
BLACK = Sheet(diffuse_reflectance=0.05, about="black barrel and body", source="assumed, from memory: 0.03 to 0.08")


def place(rig: Rig, *, materials: Materials, folder: Path | None = None, index: int = 0) -> PlacedRig:
    """Parts and heads of a rig at its index-th magnification.

    materials: looks up a sheet by name (rig file first, then the library); folder: where mesh and photometric files
    are sought.
    Raises RigError for unknown anchors, anchors in a circle, unknown materials, meshes and photometric files that
    cannot be used, parts too far away, too many triangles.
    """
    distance = rig.lens.working_distance[index]
    barrel = rig.lens.length + rig.lens.extension
    anchors = {
        "subject": np.zeros(3),
        "lens": np.array([0.0, 0.0, distance]),
        "shoe": np.array([0.0, rig.camera.shoe_up, distance + barrel + rig.camera.shoe_back]),
    }
    _require_lens_outside(rig, distance)
    specs = {spec.name: spec for spec in rig.heads_and_parts}
    groups = (("head", rig.head), ("diffuser", rig.diffuser), ("surroundings", rig.surroundings))
    titles = {spec.name: f'{group} "{spec.name}"' for group, group_specs in groups for spec in group_specs}
    frames: dict[str, tuple[Point, NDArray[np.float64]]] = {}

    def frame(name: str, chain: tuple[str, ...]) -> tuple[Point, NDArray[np.float64]]:
        if name not in frames:
            spec = specs[name]
            anchor = spec.place.anchor
            if anchor in chain or anchor == name:
                raise RigError(
                    f'{name}: from = "{anchor}" goes round in a circle. Allowed: what ends at "subject", "lens" '
                    'or "shoe". Try from = "subject"'
                )
            if anchor in anchors:
                base = anchors[anchor]
            elif anchor in specs:
                base = frame(anchor, (*chain, name))[0]
            else:
                known = ", ".join(f'"{known}"' for known in [*anchors, *specs][:20])
                raise RigError(f'{name}: from = "{anchor}" is not known. Allowed: {known}. Try "subject"')
            frames[name] = _frame(name, spec.place, base, _held(spec, titles[name], folder))
        return frames[name]

    lamps = [_with_files(spec, titles[spec.name], folder) for spec in rig.head]
    intensity = [_axial_intensity(spec) for spec in lamps]
    energy = [i * beam_solid_angle(spec.beam) for i, spec in zip(intensity, lamps, strict=True)]
    heads = tuple(
        _head(spec, *frame(spec.name, ()), share=e / sum(energy), intensity=i)
        for spec, e, i in zip(lamps, energy, intensity, strict=True)
    )
    parts, notes = [*_camera(rig, distance, barrel)], []
    count = 0
    for role, group in (("diffuser", rig.diffuser), ("surroundings", rig.surroundings)):
        for spec in group:
            with naming(titles[spec.name]):
                mesh = triangulate(spec.shape, folder=folder)
            if isinstance(spec.shape, MeshFile) and (repaired := read_mesh(spec.shape, folder=folder)[1]):
                notes.append(f"{spec.name}: {repaired}")
            count += len(mesh.faces)
            if count > MOST_TRIANGLES:
                raise RigError(
                    f"{spec.name}: with this part the rig has {count:,} triangles. Allowed: {MOST_TRIANGLES:,}. "
                    "Try smaller curved parts, or coarser meshes"
                )
            origin, turned = frame(spec.name, ())
            mesh = _moved(mesh, origin, turned)
            _require_near(spec.name, mesh)
            parts.append(Part(spec.name, role, mesh, materials(spec.material), spec.material, origin, turned))
    for head in heads:
        _require_near(head.name, head.window.mesh)
    return PlacedRig(rig, rig.camera.magnification[index], distance, heads, tuple(parts), tuple(notes))


def _require_lens_outside(rig: Rig, distance: float) -> None:
    ball = rig.subject.ball
    apart = float(np.hypot(np.hypot(ball.right, ball.up), distance - ball.toward_lens))
    if apart < 1.1 * ball.radius:
        raise fault(
            "lens",
            f"working_distance = {distance:g} mm",
            what="the lens front stands in or at the subject's ball",
            allowed=f"more than {1.1 * ball.radius + ball.toward_lens:.3g} mm, for a ball of radius {ball.radius:g} mm",
            remedy="a longer working_distance or a smaller ball",
        )


def _require_near(name: str, mesh: Mesh) -> None:
    reach = float(np.abs(mesh.vertices).max())
    if reach > FARTHEST:
        raise RigError(
            f"{name}: it reaches {reach / 1000:.3g} m away from the subject. Allowed: {FARTHEST / 1000:g} m. "
            "Try placing it nearer"
        )


def rotation(*, tilt: float, turn: float, roll: float) -> NDArray[np.float64]:
    """Matrix (3, 3) that turns a part facing -z: tilt looks down, turn to the right, roll clockwise. Degrees."""
    a, b, c = np.radians([-tilt, -turn, -roll])
    about_x = np.array([[1, 0, 0], [0, np.cos(a), -np.sin(a)], [0, np.sin(a), np.cos(a)]])
    about_y = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
    about_z = np.array([[np.cos(c), -np.sin(c), 0], [np.sin(c), np.cos(c), 0], [0, 0, 1]])
    return np.asarray(about_y @ about_x @ about_z)


def _frame(name: str, place: Placement, base: Point, held: Point) -> tuple[Point, NDArray[np.float64]]:
    """World position of a part's reference point and its rotation."""
    toward_lens = place.toward_lens if place.toward_lens is not None else -(place.toward_subject or 0.0)
    point = base + np.array([place.right, place.up, toward_lens])
    tilt, turn = place.tilt, place.turn
    if place.aim == "subject":
        reach = np.linalg.norm(point)
        if reach < 1e-6:
            raise RigError(
                f'{name}: aim = "subject" cannot be followed at the subject itself. Allowed: a place away '
                "from it. Try moving it toward the lens"
            )
        ahead = -point / reach
        tilt = float(np.degrees(np.arcsin(np.clip(-ahead[1], -1, 1))))
        turn = float(np.degrees(np.arctan2(ahead[0], -ahead[2])))
    turned = rotation(tilt=tilt, turn=turn, roll=place.roll)
    return point - turned @ held, turned


def _held(spec: HeadSpec | PartSpec, title: str, folder: Path | None) -> Point:
    shape = _pane(spec) if isinstance(spec, HeadSpec) else spec.shape
    try:
        return held_point(shape, spec.place.hold, folder=folder)
    except ValueError as error:
        raise RigError(f"{title}: {error}") from None


def _with_files(spec: HeadSpec, title: str, folder: Path | None) -> HeadSpec:
    """A head whose beams have the content of their photometric files."""
    read = {}
    for key in ("beam", "guide_number_beam"):
        beam = getattr(spec, key)
        if beam is not None and beam.file is not None:
            with naming(title, key):
                read[key] = with_file(beam, folder=folder)
    return spec.model_copy(update=read) if read else spec


def _pane(spec: HeadSpec) -> FlatSheet:
    width, height = spec.window
    return FlatSheet(shape="sheet", width=width, height=height)


def _moved(mesh: Mesh, origin: Point, turned: NDArray[np.float64]) -> Mesh:
    return Mesh(mesh.vertices @ turned.T + origin, mesh.faces)


def _axial_intensity(spec: HeadSpec) -> float:
    """cd s at full power: C N^2 d^2 / S with N d the guide number (ISO 2720 as quoted by Conrad)."""
    metres = spec.guide_number * (0.3048 if spec.guide_number_unit == "ft" else 1.0)
    on_axis = C * metres**2 / spec.iso
    if spec.guide_number_beam is None:
        return on_axis
    # Another zoom setting throws the same light into another solid angle.
    return on_axis * beam_solid_angle(spec.guide_number_beam) / beam_solid_angle(spec.beam)


def _head(spec: HeadSpec, origin: Point, turned: NDArray[np.float64], *, share: float, intensity: float) -> Head:
    width, height = spec.window
    return Head(
        name=spec.name,
        centre=origin,
        right=turned[:, 0],
        up=turned[:, 1],
        forward=-turned[:, 2],
        width=width,
        height=height,
        beam=spec.beam,
        share=share,
        axial_intensity=intensity,
        window=Part(
            spec.name,
            "head",
            _moved(triangulate(_pane(spec)), origin, turned),
            Sheet(diffuse_reflectance=(spec.window_reflectance, 0.0), about="window of the head"),
        ),
    )


def _camera(rig: Rig, distance: float, barrel: float) -> tuple[Part, ...]:
    """Barrel, front of the lens and body, all black."""
    diameter = rig.lens.diameter
    tube = triangulate(Cone(shape="cone", near_diameter=diameter, far_diameter=diameter, depth=barrel))
    glass = triangulate(Disc(shape="disc", diameter=diameter))
    width, height, depth = rig.camera.body
    body = triangulate(Box(shape="box", back=(width, height), front=(width, height), depth=depth))
    upright = np.eye(3)
    return (
        Part("lens barrel", "camera", _moved(tube, np.array([0, 0, distance + barrel]), upright), BLACK),
        Part("lens front", "camera", _moved(glass, np.array([0, 0, distance]), upright), BLACK),
        Part("camera body", "camera", _moved(body, np.array([0, 0, distance + barrel + depth]), upright), BLACK),
    )
