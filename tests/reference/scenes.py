"""Small scenes that our engine and the reference renderer both compute; the subject is at the origin.

Sizes are those of hand-made designs, materials round numbers: what counts is that both sides get the same.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from lightsim.light.scene import Scene, build
from lightsim.rig.beam import Beam
from lightsim.rig.place import Head, Part, rotation
from lightsim.rig.shapes import Box, Cone, CurvedSheet, Disc, FlatSheet, Mesh, RoundHole, Shape, triangulate
from lightsim.sheet import Sheet

PAPER = Sheet(diffuse_transmittance=0.45, diffuse_reflectance=0.42)
COATED = Sheet(diffuse_transmittance=0.35, diffuse_reflectance=(0.6, 0.3))  # sides differ: shows any mix-up
WHITE = Sheet(diffuse_reflectance=(0.85, 0.05))
FOIL = Sheet(metallic_reflectance=(0.85, 0.0), diffuse_reflectance=(0.0, 0.05), roughness=0.2)

# What the renderer's stock has no words for.
TINTED = Sheet(straight=0.5, diffuse_transmittance=0.15, diffuse_reflectance=(0.2, 0.1))
CLOTH = Sheet(straight=0.08, pores=0.06, diffuse_transmittance=0.3, diffuse_reflectance=0.5)
FILM = Sheet(forward_transmittance=0.55, half_value_angle=25.0, diffuse_reflectance=(0.4, 0.3))
FROSTED = Sheet(
    forward_transmittance=0.6, half_value_angle=5.0, diffuse_transmittance=0.1, diffuse_reflectance=(0.2, 0.1)
)
SMOOTH_FOIL = FOIL.model_copy(update={"roughness": 0.15})
COATED_CARD = Sheet(
    glossy_reflectance=(0.05, 0.0), diffuse_reflectance=(0.75, 0.1), diffuse_transmittance=0.1, roughness=0.15
)

BARREL = Sheet(diffuse_reflectance=0.2)  # brighter than a real one, so that an error would show
WINDOW = (60.0, 40.0)

# Head and hollow parts are turned to look down at the subject, so that nothing lies along an axis.
_TILT = 40.0
_AHEAD = rotation(tilt=_TILT, turn=0, roll=0) @ np.array([0.0, 0.0, -1.0])


def flat_sheet(power: float = 5.0) -> Scene:
    """Head behind a sheet of paper."""
    return build(
        [_part("paper", FlatSheet(width=160, height=120), COATED, distance=90)],
        [_head(distance=180, power=power)],
    )


def sheet_with_hole() -> Scene:
    """Upright sheet with a hole, lens barrel through it, head above the barrel."""
    hole = RoundHole(diameter=75, up=-30)
    barrel = Cone(near_diameter=65, far_diameter=65, depth=110)
    sheet = FlatSheet(width=220, height=180, holes=(hole,))
    parts = [
        _part("paper", sheet, PAPER, at=(0, 30, 90), tilt=0),
        _part("lens barrel", barrel, BARREL, at=(0, 0, 180), tilt=0),
        _part("lens front", Disc(diameter=65), BARREL, at=(0, 0, 70), tilt=0),
    ]
    return build(parts, [_head(at=(0, 90, 170), tilt=20)])


def white_box(parts: int = 1) -> Scene:
    """White box with a paper front; each triangle is cut into parts^2."""
    return build(_box(WHITE, parts), [_head(distance=168)])


def paper_arc() -> Scene:
    """Sheet bent round the subject, head behind it."""
    arc = CurvedSheet(width=140, length=190, angle=130)
    return build([_part("arc", arc, COATED, distance=85)], [_head(distance=150, power=5)])


def baffle_box() -> Scene:
    """White box with a paper front and a small panel before the head."""
    baffle = _part("baffle", FlatSheet(width=70, height=50), PAPER, distance=135)
    return build([*_box(WHITE), baffle], [_head(distance=168)])


def foil_box() -> Scene:
    """Box lined with rough foil, paper front."""
    return build(_box(FOIL), [_head(distance=168)])


def without_rest(scene: Scene) -> Scene:
    """The same but for what metal reflects by more than one facet, which stock metal leaves out."""
    none = np.zeros_like(scene.sheets.rest)
    kinds = {name: replace(getattr(scene, name), rest=none) for name in ("sheets", "blunt", "sharp")}
    return replace(scene, **kinds)


def tinted_sheet() -> Scene:
    """Head seen aslant, 55 degrees off square, through a sheet that it shines straight through."""
    return build(
        [_part("film", FlatSheet(width=160, height=160), TINTED, at=(0, 60, 71), tilt=-15)], [_head(distance=180)]
    )


def two_sheets() -> Scene:
    """Cloth 15 mm before a film that blurs."""
    sheet = FlatSheet(width=120, height=100)
    parts = [_part("cloth", sheet, CLOTH, distance=80), _part("film", sheet, FILM, distance=95)]
    return build(parts, [_head(distance=160)])


def frosted_film() -> Scene:
    """Head as a blurred spot behind a film."""
    return build([_part("film", FlatSheet(width=160, height=120), FROSTED, distance=40)], [_head(distance=75)])


def open_foil_box() -> Scene:
    """Box lined with smooth foil, all of its light, and no front."""
    return build(_box(SMOOTH_FOIL)[:1], [_head(distance=168)])


def open_card_box() -> Scene:
    """Box of coated card that lets some light out, and no front."""
    return build(_box(COATED_CARD)[:1], [_head(distance=168)])


SCENES: dict[str, Callable[[], Scene]] = {
    "flat sheet": flat_sheet,
    "sheet with hole and barrel": sheet_with_hole,
    "white box": white_box,
    "paper arc": paper_arc,
    "baffle box": baffle_box,
    "foil-lined box, one facet's light": lambda: without_rest(foil_box()),
}
NOT_IN_STOCK: dict[str, Callable[[], Scene]] = {
    "foil-lined box": foil_box,
    "straight-through sheet aslant": tinted_sheet,
    "two sheets 15 mm apart": two_sheets,
    "frosted film": frosted_film,
    "open foil box": open_foil_box,
    "open coated-card box": open_card_box,
}


def bare_head(*, distance: float, power: float) -> Scene:
    """Nothing but a head, upright on the axis."""
    return build([], [_head(at=(0, 0, distance), tilt=0, power=power)])


def _box(lining: Sheet, divided: int = 1) -> list[Part]:
    box = Box(back=(90, 70), front=(150, 110), depth=90, open=("front",))
    return [
        _part("box", box, lining, distance=170, divided=divided),
        _part("front", FlatSheet(width=150, height=110), PAPER, distance=80, divided=divided),
    ]


def _part(
    name: str,
    shape: Shape,
    sheet: Sheet,
    *,
    at: tuple[float, float, float] | None = None,
    distance: float = 0.0,
    tilt: float = _TILT,
    divided: int = 1,
) -> Part:
    """A shape put at a place, or at a distance from the subject along the way that the head looks."""
    mesh = triangulate(shape)
    place = -distance * _AHEAD if at is None else np.array(at)
    vertices = mesh.vertices @ rotation(tilt=tilt, turn=0, roll=0).T + place
    return Part(name, "diffuser", divide(Mesh(vertices, mesh.faces), divided), sheet)


def _head(
    *,
    at: tuple[float, float, float] | None = None,
    distance: float = 0.0,
    tilt: float = _TILT,
    power: float = 1.0,
) -> Head:
    sheet = Sheet(diffuse_reflectance=(0.3, 0.0))
    pane = FlatSheet(width=WINDOW[0], height=WINDOW[1])
    window = _part("head", pane, sheet, at=at, distance=distance, tilt=tilt)
    turned = rotation(tilt=tilt, turn=0, roll=0)
    return Head(
        name="head",
        centre=window.mesh.vertices.mean(axis=0),
        right=turned[:, 0],
        up=turned[:, 1],
        forward=-turned[:, 2],
        width=WINDOW[0],
        height=WINDOW[1],
        beam=Beam(cos_power=power),
        share=1.0,
        axial_intensity=1.0,
        window=window,
    )


def divide(mesh: Mesh, parts: int) -> Mesh:
    """The same surface with every triangle cut into parts^2 equal ones."""
    corner = mesh.vertices[mesh.faces]
    first, right, up = corner[:, 0], corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    pieces = []
    for i in range(parts):
        for j in range(parts - i):
            pieces.append([(i, j), (i + 1, j), (i, j + 1)])
            if i + j < parts - 1:
                pieces.append([(i + 1, j), (i + 1, j + 1), (i, j + 1)])
    step = np.array(pieces) / parts  # (parts^2, 3 corners, 2)
    along, across = step[None, :, :, :1], step[None, :, :, 1:]
    fine = first[:, None, None] + along * right[:, None, None] + across * up[:, None, None]
    return Mesh(fine.reshape(-1, 3), np.arange(3 * len(mesh.faces) * parts**2).reshape(-1, 3))
