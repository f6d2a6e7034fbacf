"""Shapes: area, extent, distance to the true surface, winding, seams, holes, held points, mesh files.

Sources, unless a test names another: mensuration formulae as in any handbook, derived here where they are combined.
"""

from __future__ import annotations

import os
import subprocess
import sys
import typing
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel, TypeAdapter, ValidationError

from lightsim.rig import flat, holes, meshes, shapes
from lightsim.rig.errors import RigError
from lightsim.rig.mesh import Mesh, area, areas, bounds, corners
from lightsim.rig.meshes import read_mesh
from lightsim.rig.shapes import (
    Box,
    Cone,
    CurvedSheet,
    Disc,
    Dome,
    FlatSheet,
    Funnel,
    MeshFile,
    RoundHole,
    RoundWallHole,
    Slit,
    SquareHole,
    SquareWallHole,
    held_point,
    triangulate,
)

SHAPE = TypeAdapter(shapes.Shape)
CHORD = 0.1  # mm, promised
AHEAD = np.array([0.0, 0.0, -1.0])


def samples(mesh: Mesh) -> np.ndarray:
    """Points spread over every triangle, its corners and edges included, (m, 28, 3)."""
    share = np.array([(i, j, 6 - i - j) for i in range(7) for j in range(7 - i)]) / 6
    return share @ corners(mesh)


def normals(mesh: Mesh) -> np.ndarray:
    """Normals (m, 3), as long as twice the area."""
    a, b, c = corners(mesh).transpose(1, 0, 2)
    return np.cross(b - a, c - a)


def edges(mesh: Mesh) -> tuple[np.ndarray, np.ndarray]:
    """Edges (n, 2) with sorted ends, and by how many triangles each is used."""
    pair = np.sort(np.stack([mesh.faces, np.roll(mesh.faces, -1, axis=1)], axis=2).reshape(-1, 2), axis=1)
    return np.unique(pair, axis=0, return_counts=True)


def rim(mesh: Mesh) -> np.ndarray:
    """Ends of the edges that belong to one triangle, (n, 2, 3)."""
    edge, count = edges(mesh)
    return mesh.vertices[edge[count == 1]]


def rim_length(mesh: Mesh) -> float:
    """A vertex in the middle of a neighbour's edge would add that edge, so this finds open seams."""
    ends = rim(mesh)
    return float(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1).sum())


def polygons(outline: np.ndarray, cuts: list[np.ndarray]) -> shapely.Geometry:
    return shapely.Polygon(outline).difference(shapely.union_all([shapely.Polygon(cut) for cut in cuts]))


# --- flat pieces ---


def test_plain_sheet_is_two_triangles_that_face_the_subject() -> None:
    mesh = triangulate(FlatSheet(width=120, height=80))
    assert len(mesh.faces) == 2
    assert area(mesh) == pytest.approx(120 * 80, rel=1e-14)
    assert bounds(mesh).tolist() == [[-60, -40, 0], [60, 40, 0]]
    assert (normals(mesh) @ AHEAD > 0).all()


@pytest.mark.parametrize("diameter", [0.1, 3, 62, 400, 9999])
def test_disc_keeps_its_area_and_outline(diameter: float) -> None:
    mesh = triangulate(Disc(diameter=diameter))
    assert area(mesh) == pytest.approx(np.pi * diameter**2 / 4, rel=1e-6)
    ends = rim(mesh)
    for share in np.linspace(0, 1, 9):
        radius = np.hypot(*(ends[:, 0] + share * (ends[:, 1] - ends[:, 0]))[:, :2].T)
        assert np.abs(radius - diameter / 2).max() < CHORD
    assert len(ends) >= 24
    assert (normals(mesh) @ AHEAD > 0).all()


@pytest.mark.parametrize(("width", "height", "radius"), [(100, 60, 10), (60, 100, 30), (80, 80, 40), (5, 4, 0.1)])
def test_rounded_corners_keep_area_and_straight_edges(width: float, height: float, radius: float) -> None:
    mesh = triangulate(FlatSheet(width=width, height=height, corner_radius=radius))
    # The corners of a square of 2 r less its inscribed circle are what rounding takes away.
    assert area(mesh) == pytest.approx(width * height - (4 - np.pi) * radius**2, rel=1e-9)
    assert bounds(mesh) == pytest.approx(np.array([[-width, -height, 0], [width, height, 0]]) / 2)
    true = shapely.box(*(-np.array([width, height]) / 2 + radius), *(np.array([width, height]) / 2 - radius))
    outline = shapely.MultiLineString([end[:, :2] for end in rim(mesh)])
    # Around a rectangle at distance radius: shapely.buffer with 1,000 segments a quarter as the true outline.
    assert shapely.hausdorff_distance(true.buffer(radius, quad_segs=1000).boundary, outline, 0.05) < CHORD


def test_round_hole_keeps_its_area_and_outline() -> None:
    mesh = triangulate(FlatSheet(width=200, height=150, holes=(RoundHole(diameter=62, right=20, up=-10),)))
    assert area(mesh) == pytest.approx(200 * 150 - np.pi * 31**2, abs=1e-2)  # 1e-4 mm over 200 mm of outline
    ends = rim(mesh)
    inner = ends[(np.abs(ends[..., 0]) < 99).all(axis=1) & (np.abs(ends[..., 1]) < 74).all(axis=1)]
    for share in np.linspace(0, 1, 9):
        point = inner[:, 0] + share * (inner[:, 1] - inner[:, 0]) - [20, -10, 0]
        assert np.abs(np.hypot(point[:, 0], point[:, 1]) - 31).max() < CHORD


def test_holes_may_cross_edges_and_each_other() -> None:
    # By inclusion and exclusion: 60 x 40 at a corner keeps a quarter; two 20 x 20 squares share 10 x 20.
    cuts = (
        SquareHole(width=60, height=40, right=100, up=50),
        SquareHole(width=20, height=20),
        SquareHole(width=20, height=20, right=10),
    )
    mesh = triangulate(FlatSheet(width=200, height=100, holes=cuts))
    assert area(mesh) == pytest.approx(200 * 100 - 30 * 20 - (2 * 400 - 200), abs=1e-9)
    touching = triangulate(FlatSheet(width=200, height=100, holes=(SquareHole(width=20, height=20, up=40),)))
    assert area(touching) == pytest.approx(200 * 100 - 400, abs=1e-9)
    outside = triangulate(FlatSheet(width=200, height=100, holes=(RoundHole(diameter=20, up=200),)))
    assert area(outside) == pytest.approx(200 * 100, abs=1e-9)


@pytest.mark.parametrize(
    ("slit", "taken"),
    [
        (Slit(start=(0, -20), end=(0, 20), gap=1.5), 60.0),  # inside: length by gap
        (Slit(start=(0, 0), end=(0, 80), gap=2), 100.0),  # from the middle over the edge at 50
        (Slit(start=(0, 0), end=(0, 50), gap=2), 100.0),  # exactly to the edge
        (Slit(start=(-30, -30), end=(30, 30), gap=0.5), 30 * np.sqrt(2)),  # slanted
    ],
)
def test_slits_take_their_length_by_their_gap(slit: Slit, taken: float) -> None:
    for piece in (FlatSheet(width=200, height=100, slits=(slit,)), Disc(diameter=100, slits=(slit,))):
        whole = area(triangulate(piece.model_copy(update={"slits": ()})))
        # On the disc a slit to the rim ends on a chord: the sagitta of 2 mm is 0.01 mm, our outline within 0.1 mm.
        assert whole - area(triangulate(piece)) == pytest.approx(taken, abs=0.2 if isinstance(piece, Disc) else 0.01)


place = st.floats(-120, 120)
ROUND = st.builds(flat.circle, diameter=st.floats(0.1, 150), right=place, up=place)
UPRIGHT = st.builds(flat.rectangle, width=st.floats(0.1, 200), height=st.floats(0.1, 200), right=place, up=place)
STRIP = st.tuples(st.tuples(place, place), st.floats(0, 2 * np.pi), st.floats(0.1, 100), st.floats(0.1, 20)).map(
    lambda s: flat.strip(start=s[0], end=(s[0][0] + s[2] * np.cos(s[1]), s[0][1] + s[2] * np.sin(s[1])), gap=s[3])
)


@settings(max_examples=120, deadline=None, derandomize=True)
@given(outline=st.one_of(ROUND, UPRIGHT, STRIP), cuts=st.lists(st.one_of(ROUND, UPRIGHT, STRIP), max_size=6))
def test_division_agrees_with_shapely(outline: np.ndarray, cuts: list[np.ndarray]) -> None:
    vertices, faces = flat.divide(outline, cuts)
    left = polygons(outline, cuts)
    mesh = Mesh(np.column_stack([vertices, np.zeros(len(vertices))]), faces)
    length = sum(shapely.Polygon(ring).length for ring in (outline, *cuts))
    assert area(mesh) == pytest.approx(left.area, abs=flat.GRID * length + 1e-6)
    assert (normals(mesh)[:, 2] > 0).all()
    # Every edge inside is shared by two triangles, none by more; open seams would lengthen the rim.
    assert edges(mesh)[1].max(initial=1) <= 2
    assert rim_length(mesh) <= left.length * (1 + 1e-3) + 200 * flat.GRID * (len(cuts) + 1) + 0.1


def test_vertices_on_the_outline_are_exact() -> None:
    outline = np.array([[-50.00001234, -20.1], [49.98765432, -20.1], [31.23456789, 40.3], [-20.7, 40.3]])
    vertices, _ = flat.divide(outline, [flat.circle(diameter=20), flat.circle(diameter=7, right=-25, up=11)])
    for corner in outline:
        assert (vertices == corner).all(axis=1).sum() == 1
    edge = shapely.LinearRing(outline)
    near = [p for p in shapely.points(vertices) if edge.distance(p) < 1e-3]
    assert len(near) > 20
    assert max(edge.distance(p) for p in near) < 1e-12


# --- curved sheets ---


@pytest.mark.parametrize("bend", ["up-down", "left-right"])
@pytest.mark.parametrize(("length", "angle"), [(300, 120), (300, 359), (20, 90), (1, 180), (9999, 270), (400, 0.1)])
def test_curved_sheet_is_a_cylinder(length: float, angle: float, bend: str) -> None:
    shape = CurvedSheet(width=90, length=length, angle=angle, bend=bend)
    radius = length / np.radians(angle)
    mesh = triangulate(shape)
    assert area(mesh) == pytest.approx(90 * length, rel=1e-9)
    point = samples(mesh)
    along, across = (point[..., 1], point[..., 0]) if bend == "up-down" else (point[..., 0], point[..., 1])
    distance = np.hypot(along, point[..., 2] + radius)
    assert np.abs(distance - radius).max() < CHORD
    assert np.abs(across).max() == pytest.approx(45)
    turned = np.arctan2(along, point[..., 2] + radius)
    assert np.abs(turned).max() == pytest.approx(np.radians(angle) / 2)
    # Front: towards the axis of the cylinder.
    axis = point.mean(axis=1) * ([1, 0, 0] if bend == "up-down" else [0, 1, 0]) - [0, 0, radius]
    assert ((axis - point.mean(axis=1)) * normals(mesh)).sum(axis=1).min() > 0
    middle = np.abs(point.mean(axis=1)).sum(axis=1).argmin()
    assert normals(mesh)[middle] @ AHEAD > 0
    assert edges(mesh)[1].max() == 2
    assert rim_length(mesh) == pytest.approx(2 * (90 + length), rel=1e-9)


def test_radius_and_angle_determine_each_other() -> None:
    by_angle, by_radius = (
        CurvedSheet(width=10, length=100, angle=90),
        CurvedSheet(width=10, length=100, radius=40),
    )
    assert by_angle.arc_radius == pytest.approx(200 / np.pi)  # a quarter of the circumference is 100
    assert by_radius.arc_angle == pytest.approx(2.5)


@pytest.mark.parametrize("bend", ["up-down", "left-right"])
def test_holes_in_a_curved_sheet_keep_area_place_and_seams(bend: str) -> None:
    cuts = (RoundHole(diameter=60, right=10, up=20), RoundHole(diameter=5, right=-40, up=-61.3))
    slits = (Slit(start=(0, -90), end=(25, -60), gap=2),)
    shape = CurvedSheet(width=300, length=200, angle=150, bend=bend, holes=cuts, slits=slits)
    mesh = triangulate(shape)
    # Bending keeps areas; the slit is 39.05 mm long (5, 12, 13 triples: 25^2 + 30^2 = 1525).
    taken = np.pi * (30**2 + 2.5**2) + 2 * np.sqrt(1525)
    assert area(mesh) == pytest.approx(300 * 200 - taken, abs=0.02)
    assert edges(mesh)[1].max() == 2
    assert (normals(mesh) ** 2).sum(axis=1).min() > 0
    # Unrolled by the true cylinder the edges of the large hole lie on its circle.
    radius = shape.arc_radius
    ends = rim(mesh)
    for share in np.linspace(0, 1, 9):
        point = ends[:, 0] + share * (ends[:, 1] - ends[:, 0])
        along, across = (point[:, 1], point[:, 0]) if bend == "up-down" else (point[:, 0], point[:, 1])
        unrolled = radius * np.arctan2(along, point[:, 2] + radius)
        right, up = (across, unrolled) if bend == "up-down" else (unrolled, across)
        reach = np.hypot(right - 10, up - 20)
        assert (np.abs(reach - 30) < CHORD).sum() >= 24
        assert reach.min() > 30 - CHORD
    # The flat outline is closed and bending is isometric, so shapely gives the length of the rim.
    upright = flat.rectangle(width=300, height=200) if bend == "up-down" else flat.rectangle(width=200, height=300)
    assert rim_length(mesh) == pytest.approx(polygons(upright, holes.outlines((*cuts, *slits))).length, rel=1e-5)


# --- turned shapes ---


@pytest.mark.parametrize(
    ("near", "far", "depth", "sweep"),
    [(60, 120, 40, 360), (120, 60, 40, 360), (80, 80, 100, 360), (0, 90, 30, 360), (90, 0, 30, 200), (70, 300, 0.1, 90),
     (9000, 9900, 5000, 360), (0.1, 0.2, 0.1, 360), (50, 100, 60, 1)],
)  # fmt: skip
def test_cone_area_and_surface(near: float, far: float, depth: float, sweep: float) -> None:
    mesh = triangulate(Cone(near_diameter=near, far_diameter=far, depth=depth, sweep=sweep, start=30))
    # Frustum: pi (r1 + r2) s with the slant s.
    slant = np.hypot(depth, (near - far) / 2)
    assert area(mesh) == pytest.approx(np.pi * (near + far) / 2 * slant * sweep / 360, rel=1e-9)
    point = samples(mesh)
    radius = np.hypot(point[..., 0], point[..., 1])
    # Distance to the straight profile from (near / 2, 0) to (far / 2, -depth).
    along = np.array([(far - near) / 2, -depth]) / slant
    off = (radius - near / 2) * along[1] - point[..., 2] * along[0]
    assert np.abs(off).max() < CHORD
    assert bounds(mesh)[:, 2].tolist() == [-depth, 0]
    axis = np.where([True, True, False], 0.0, point.mean(axis=1))
    assert ((axis - point.mean(axis=1)) * normals(mesh)).sum(axis=1).min() > 0
    assert edges(mesh)[1].max() == 2
    if sweep == 360:
        # Two closed rims and nothing else is open.
        assert rim_length(mesh) == pytest.approx(np.pi * (near + far), rel=0.02)


def test_cone_sweeps_clockwise_from_up_as_the_camera_sees_it() -> None:
    mesh = triangulate(Cone(near_diameter=100, far_diameter=100, depth=20, sweep=90))
    middle = corners(mesh).mean(axis=1)
    assert (middle[:, :2] > 0).all()  # from up over right: the quarter with both coordinates positive
    quarter = triangulate(Cone(near_diameter=100, far_diameter=100, depth=20, sweep=90, start=90))
    assert (corners(quarter).mean(axis=1)[:, :2] * [1, -1] > 0).all()


@pytest.mark.parametrize("bulge", ["lens", "subject"])
@pytest.mark.parametrize(
    ("diameter", "depth", "hole"),
    [(120, 60, 0), (120, 20, 0), (120, 20, 62), (100, 100, 0), (100, 90, 40), (9000, 0.1, 0), (0.1, 0.1, 0),
     (5, 1, 0.1), (2000, 1500, 0)],
)  # fmt: skip
def test_dome_area_and_surface(diameter: float, depth: float, hole: float, bulge: str) -> None:
    mesh = triangulate(Dome(diameter=diameter, depth=depth, crown_hole=hole, bulge=bulge))
    radius = (diameter**2 / 4 + depth**2) / (2 * depth)
    # Spherical zone: 2 pi R times its height; the cap above the hole is R - sqrt(R^2 - r^2) high.
    height = depth - hole**2 / 4 / (radius + np.sqrt(radius**2 - hole**2 / 4))
    assert area(mesh) == pytest.approx(2 * np.pi * radius * height, rel=1e-9)
    sign = 1 if bulge == "lens" else -1
    middle = np.array([0, 0, sign * (depth - radius)])
    point = samples(mesh)
    assert np.abs(np.linalg.norm(point - middle, axis=-1) - radius).max() < CHORD
    assert ((middle - point.mean(axis=1)) * normals(mesh)).sum(axis=1).min() > 0
    low, high = bounds(mesh)
    assert sorted(sign * np.array([low[2], high[2]])) == pytest.approx([0, height], abs=1e-9)
    edge, count = edges(mesh)
    assert count.max() == 2
    ends = mesh.vertices[edge[count == 1]]
    on_rim = np.abs(ends[..., 2]).max(axis=1) < 1e-9
    assert np.abs(np.hypot(ends[on_rim][..., 0], ends[on_rim][..., 1]) - diameter / 2).max() < CHORD
    assert on_rim.all() == (hole == 0)
    assert len(mesh.faces) < 100_000


# --- boxes and funnels ---


def test_closed_box_is_watertight_and_faces_inward() -> None:
    mesh = triangulate(Box(back=(100, 80), front=(200, 150), depth=120, front_right=30, front_up=-20))
    assert (edges(mesh)[1] == 2).all()
    # trimesh as reference; a solid whose triangles face inward has a negative volume.
    solid = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert solid.is_watertight
    assert solid.is_winding_consistent
    # Prismatoid rule: depth / 6 (A1 + 4 Am + A2); shifting the front changes nothing (Cavalieri).
    assert solid.volume == pytest.approx(-120 / 6 * (100 * 80 + 4 * 150 * 115 + 200 * 150), rel=1e-12)
    assert bounds(mesh).tolist() == [[-70, -95, -120], [130, 55, 0]]


def test_box_walls_are_trapezia() -> None:
    box = Box(back=(100, 80), front=(200, 150), depth=120, front_right=30, front_up=-20)
    # Mean of the parallel sides times their distance, walls shifted by half the difference and by front_up.
    top, bottom = np.hypot(120, 35 - 20), np.hypot(120, 35 + 20)
    left, right = np.hypot(120, 50 - 30), np.hypot(120, 50 + 30)
    expected = {"back": 8000, "front": 30000, "top": 150 * top, "bottom": 150 * bottom,
                "left": 115 * left, "right": 115 * right}  # fmt: skip
    for wall, value in expected.items():
        others = tuple(name for name in expected if name != wall)
        assert area(triangulate(box.model_copy(update={"open": others}))) == pytest.approx(value, rel=1e-12)
    funnel = Funnel(near=(100, 80), far=(200, 150), depth=120, far_right=30, far_up=-20)
    assert area(triangulate(funnel)) == pytest.approx(sum(list(expected.values())[2:]), rel=1e-12)
    assert bounds(triangulate(funnel)).tolist() == [[-70, -95, -120], [130, 55, 0]]
    middle = np.array([15.0, -10.0, -60.0])
    assert ((middle - corners(triangulate(funnel))[:, 0]) * normals(triangulate(funnel))).sum(axis=1).min() > 0


@pytest.mark.parametrize(
    ("wall", "expected"),
    [
        # A straight box of 100 x 80 x 60: the hole's middle by the documented directions.
        ("back", (10, 5, 0)),
        ("front", (10, 5, -60)),
        ("top", (10, 40, -30 + 5)),
        ("bottom", (10, -40, -30 + 5)),
        ("left", (-50, 5, -30 + 10)),
        ("right", (50, 5, -30 + 10)),
    ],
)
def test_holes_in_walls_of_a_box(wall: str, expected: tuple[float, float, float]) -> None:
    hole = SquareWallHole(wall=wall, width=12, height=8, right=10, up=5)
    box = Box(back=(100, 80), front=(100, 80), depth=60, holes=(hole,))
    mesh = triangulate(box)
    assert area(mesh) == pytest.approx(2 * (8000 + 6000 + 4800) - 96, rel=1e-9)
    inner = rim(mesh)
    axis = {"back": 2, "front": 2, "top": 1, "bottom": 1, "left": 0, "right": 0}[wall]
    within = (np.abs(np.delete(inner - expected, axis, axis=2)) < 6.001).all(axis=(1, 2))
    assert inner[within].min(axis=(0, 1)) + inner[within].max(axis=(0, 1)) == pytest.approx(2 * np.array(expected))
    assert ((np.array([0, 0, -30.0]) - corners(mesh)[:, 0]) * normals(mesh)).sum(axis=1).min() > 0


def test_seams_of_a_box_with_holes_stay_closed() -> None:
    cuts = (RoundWallHole(wall="top", diameter=30), SquareWallHole(wall="right", width=9, height=20, up=4))
    mesh = triangulate(Box(back=(100, 80), front=(200, 150), depth=120, front_up=-20, holes=cuts))
    true = triangulate(Box(back=(100, 80), front=(200, 150), depth=120, front_up=-20))
    edge, _ = edges(true)
    on_edge = 0
    for a, b in true.vertices[edge]:
        share = np.clip((mesh.vertices - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1)
        off = np.linalg.norm(mesh.vertices - a - share[:, None] * (b - a), axis=1)
        near = off[off < 0.01]
        # What lies near an edge lies on it: 1e-9 mm along 200 mm is far below a leak of 1e-5.
        assert near.max() < 1e-9
        on_edge += len(near)
    assert on_edge > 40
    for corner in true.vertices:
        assert (mesh.vertices == corner).all(axis=1).sum() == 1


# --- held points (geometry derived here) ---


@pytest.mark.parametrize(
    ("shape", "points"),
    [
        (FlatSheet(width=100, height=60), {"centre": (0, 0, 0), "top": (0, 30, 0), "bottom": (0, -30, 0),
                                           "left": (-50, 0, 0), "right": (50, 0, 0)}),
        (Disc(diameter=40), {"top": (0, 20, 0), "left": (-20, 0, 0)}),
        # A half cylinder of radius 100 / pi ends one radius nearer to the subject than its middle.
        (CurvedSheet(width=50, length=100, angle=180), {"top": (0, 100 / np.pi, -100 / np.pi), "left": (-25, 0, 0),
                                                        "bottom": (0, -100 / np.pi, -100 / np.pi)}),
        (CurvedSheet(width=50, length=100, angle=180, bend="left-right"),
         {"right": (100 / np.pi, 0, -100 / np.pi), "top": (0, 25, 0)}),
        (Cone(near_diameter=60, far_diameter=100, depth=40), {"centre": (0, 0, -20), "top": (0, 50, -20),
                                                              "back": (0, 0, 0), "front": (0, 0, -40)}),
        # Upper half: from left (270) over up to right (450).
        (Cone(near_diameter=60, far_diameter=100, depth=40, start=-90, sweep=180),
         {"bottom": (0, 0, -20), "top": (0, 50, -20), "right": (50, 25, -20)}),
        (Dome(diameter=80, depth=30), {"back": (0, 0, 30), "front": (0, 0, 0), "centre": (0, 0, 15)}),
        (Dome(diameter=80, depth=30, bulge="subject"), {"front": (0, 0, -30), "back": (0, 0, 0)}),
        # Radius (40^2 + 80^2) / 160 = 50 for a rim of 80 and a depth of 80.
        (Dome(diameter=80, depth=80), {"left": (-50, 0, 40)}),
        (Box(back=(100, 80), front=(200, 150), depth=120, front_right=30, front_up=-20),
         {"back": (0, 0, 0), "front": (30, -20, -120), "top": (30, 55, -60), "centre": (30, -20, -60)}),
        (Funnel(near=(10, 10), far=(30, 30), depth=20, far_up=5), {"front": (0, 5, -20), "bottom": (0, -10, -10)}),
    ],
)  # fmt: skip
def test_held_points(shape: shapes.Shape, points: dict[shapes.Hold, tuple[float, float, float]]) -> None:
    assert held_point(shape).tolist() == [0, 0, 0]
    for hold, point in points.items():
        assert held_point(shape, hold) == pytest.approx(np.array(point), abs=1e-9), hold


def test_sheets_have_no_back_to_hold() -> None:
    with pytest.raises(ValueError, match=r'hold = "back" is for hollow parts.*Allowed'):
        held_point(Disc(diameter=10), "back")


# --- what a file may say ---


def test_inches_become_millimetres_once() -> None:
    table = {"shape": "sheet", "width": 4, "height": 2, "slits": [{"start": [0, 0], "end": [1, 0], "gap": 0.1}],
             "holes": [{"kind": "round", "diameter": 0.5, "right": -1}]}  # fmt: skip
    sheet = SHAPE.validate_python(table, context={"scale": 25.4})
    assert (sheet.width, sheet.height) == (101.6, 50.8)
    assert sheet.slits[0].end == (25.4, 0)
    assert (sheet.holes[0].diameter, sheet.holes[0].right) == (12.7, -25.4)
    bent = SHAPE.validate_python(
        {"shape": "curved sheet", "width": 4, "length": 2, "angle": 90}, context={"scale": 25.4}
    )
    assert bent.angle == 90


GOOD = {
    "sheet": {"width": 100, "height": 60},
    "disc": {"diameter": 100},
    "curved sheet": {"width": 100, "length": 60, "angle": 90},
    "cone": {"near_diameter": 60, "far_diameter": 100, "depth": 40},
    "dome": {"diameter": 100, "depth": 40},
    "box": {"back": [100, 80], "front": [100, 80], "depth": 60},
    "funnel": {"near": [100, 80], "far": [200, 80], "depth": 60},
    "mesh": {"file": "a.stl", "unit": "mm"},
}


@pytest.mark.parametrize(
    "value", [float("nan"), float("inf"), True, "12", 0, 0.05, -5, 10_001, 10**400, None, [1, 2, 3]]
)
def test_no_size_takes_what_is_no_size(value: object) -> None:
    tried = 0
    for kind, table in GOOD.items():
        SHAPE.validate_python({"shape": kind, **table})
        for key, good in table.items():
            if isinstance(good, str) or (value == 0 and "_diameter" in key):
                continue
            for bad in (value, [good[0], value]) if isinstance(good, list) else (value,):
                with pytest.raises(ValidationError):
                    SHAPE.validate_python({"shape": kind, **table, key: bad})
                tried += 1
        with pytest.raises(ValidationError):
            SHAPE.validate_python({"shape": kind, **table, "colour": "white"})
    assert tried > 15


@pytest.mark.parametrize(
    ("kind", "change", "said"),
    [
        ("sheet", {"corner_radius": 31}, "Allowed: from 0 to 30 mm"),
        ("sheet", {"holes": [{"kind": "round", "diameter": 200}]}, "leave 0 mm"),
        ("sheet", {"holes": [{"kind": "rectangle", "width": 100, "height": 59.995}]}, "leave 0.5 mm"),
        ("disc", {"slits": [{"start": [-60, 0], "end": [60, 0], "gap": 120}]}, "Try smaller holes"),
        ("sheet", {"slits": [{"start": [1, 1], "end": [1, 1], "gap": 1}]}, "lie 0 mm apart"),
        ("curved sheet", {"angle": 360}, "less than 360"),
        ("curved sheet", {"radius": 50}, "both given"),
        ("curved sheet", {"angle": None}, "neither given"),
        ("curved sheet", {"angle": None, "radius": 9.5}, "overlaps itself. Allowed: a radius above 9.55 mm"),
        ("curved sheet", {"holes": [{"kind": "round", "diameter": 200}]}, "leave 0 mm"),
        ("cone", {"near_diameter": 0, "far_diameter": 0}, "both 0"),
        ("cone", {"near_diameter": 0.05}, "either 0 or at least 0.1 mm"),
        ("cone", {"sweep": 361}, "less than or equal to 360"),
        ("dome", {"depth": 101}, "at most the diameter. Try 50"),
        ("dome", {"crown_hole": 100}, "leaves nothing"),
        ("box", {"open": ["front", "front"]}, "twice"),
        ("box", {"open": ["front", "back", "left", "right", "top", "bottom"]}, "at most 5"),
        ("box", {"open": ["lid"]}, "'back'"),
        ("box", {"open": ["top"], "holes": [{"kind": "round", "diameter": 9, "wall": "top"}]}, "which open leaves out"),
        ("box", {"holes": [{"kind": "round", "diameter": 900, "wall": "top"}]}, "leave 0 mm"),
        ("mesh", {"unit": "furlong"}, "'inch'"),
        ("mesh", {"file": "a\x00b"}, "pattern"),
        ("mesh", {"repair": 1}, "boolean"),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_refused_with_a_reason(kind: str, change: dict[str, object], said: str) -> None:
    with pytest.raises(ValidationError) as refused:
        SHAPE.validate_python({"shape": kind, **GOOD[kind], **change})
    assert said in str(refused.value)


def test_every_key_is_described() -> None:
    models = [model for model in (*vars(shapes).values(), *vars(holes).values())
              if isinstance(model, type) and issubclass(model, BaseModel) and model is not BaseModel]  # fmt: skip
    assert len(models) >= 13
    for model in models:
        assert model.model_config["frozen"]
        assert model.model_config["extra"] == "forbid"
        for name, field in model.model_fields.items():
            assert field.description, f"{model.__name__}.{name}"


size = st.floats(0.1, 500)
pair = st.tuples(size, size)
shift = st.floats(-300, 300)
cut = st.lists(
    st.one_of(
        st.builds(RoundHole, diameter=size, right=shift, up=shift),
        st.builds(SquareHole, width=size, height=size, right=shift, up=shift),
    ),
    max_size=3,
)
ANY: dict[type[BaseModel], dict[str, st.SearchStrategy[typing.Any]]] = {
    FlatSheet: {"width": size, "height": size, "holes": cut},
    Disc: {"diameter": size, "holes": cut},
    CurvedSheet: {"width": size, "length": size, "angle": st.floats(0.1, 359.99), "holes": cut,
                  "bend": st.sampled_from(["up-down", "left-right"])},
    Cone: {"near_diameter": st.one_of(st.just(0.0), size), "far_diameter": size, "depth": size,
           "sweep": st.floats(1, 360), "start": st.floats(-360, 360)},
    Dome: {"diameter": size, "depth": st.floats(0.1, 100), "bulge": st.sampled_from(["lens", "subject"])},
    Box: {"back": pair, "front": pair, "depth": size, "front_right": shift, "front_up": shift},
    Funnel: {"near": pair, "far": pair, "depth": size, "far_right": shift, "far_up": shift},
}  # fmt: skip


@settings(max_examples=150, deadline=None, derandomize=True)
@given(data=st.data(), model=st.sampled_from(list(ANY)))
def test_any_shape_is_finite_and_without_degenerate_triangles(data: st.DataObject, model: type[BaseModel]) -> None:
    try:
        shape = model(**{key: data.draw(strategy) for key, strategy in ANY[model].items()})
    except ValidationError as refused:
        assert "Allowed" in str(refused)  # noqa: PT017
        return
    mesh = triangulate(shape)
    assert np.isfinite(mesh.vertices).all()
    # What is cut lies on a grid of 1e-4 mm: no triangle is much smaller than half a square of it.
    assert areas(mesh).min() > 0.4 * flat.GRID**2
    assert edges(mesh)[1].max() <= 2
    assert mesh.faces.min() == 0
    assert set(np.unique(mesh.faces)) == set(range(len(mesh.vertices)))
    assert np.isfinite([held_point(shape, hold) for hold in ("centre", "top", "bottom", "left", "right")]).all()


def test_meshes_are_read_only() -> None:
    with pytest.raises(ValueError, match="read-only"):
        triangulate(FlatSheet(width=10, height=10)).vertices[0, 0] = 1.0
    with pytest.raises(ValueError, match="without vertices"):
        bounds(Mesh(np.empty((0, 3)), np.empty((0, 3), np.int64)))


def test_shapes_load_nothing_heavy() -> None:
    code = (
        "import sys; from lightsim.rig.shapes import *; from lightsim.rig import shapes;"
        "area(triangulate(FlatSheet(width=9, height=9, holes=(RoundHole(diameter=3),))));"
        "print([m for m in ('scipy', 'trimesh', 'shapely', 'matplotlib', 'mapbox_earcut') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


# --- mesh files ---


def saved(folder: Path, name: str, mesh: trimesh.Trimesh | trimesh.Scene) -> MeshFile:
    mesh.export(folder / name)
    return MeshFile(file=name, unit="mm")


def tetrahedron() -> trimesh.Trimesh:
    points = [[0, 0, 0], [30, 0, 0], [0, 40, 0], [0, 0, 50]]
    return trimesh.Trimesh(points, [[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]], process=False)


@pytest.mark.parametrize("kind", ["stl", "obj", "ply", "glb"])
@pytest.mark.parametrize(("unit", "scale"), [("mm", 1), ("cm", 10), ("m", 1000), ("inch", 25.4)])
def test_files_come_back_in_millimetres(tmp_path: Path, kind: str, unit: str, scale: float) -> None:
    # Exporters of trimesh as reference; 0.3 x 0.4 x 0.5 in the file's unit, area of three right triangles and one more.
    saved(tmp_path, f"t.{kind}", tetrahedron().apply_scale(0.01))
    mesh, note = read_mesh(MeshFile(file=f"t.{kind}", unit=unit), folder=tmp_path)
    assert note is None
    assert (len(mesh.vertices), len(mesh.faces)) == (4, 4)
    slanted = np.linalg.norm(np.cross([-0.3, 0.4, 0], [-0.3, 0, 0.5])) / 2
    # float32 in the file: seven digits.
    assert area(mesh) == pytest.approx((0.06 + 0.075 + 0.1 + slanted) * scale**2, rel=1e-6)
    assert bounds(mesh) == pytest.approx(scale * np.array([[0, 0, 0], [0.3, 0.4, 0.5]]), rel=1e-6)
    outward = corners(mesh).mean(axis=1) - mesh.vertices.mean(axis=0)
    assert (outward * normals(mesh)).sum(axis=1).min() > 0
    assert triangulate(MeshFile(file=f"t.{kind}", unit=unit), folder=tmp_path).faces.shape == (4, 3)
    held = held_point(MeshFile(file=f"t.{kind}", unit=unit), "top", folder=tmp_path)
    assert held == pytest.approx(scale * np.array([0.15, 0.4, 0.25]), rel=1e-6)


def test_scenes_become_one_mesh_and_mirrors_keep_the_front(tmp_path: Path) -> None:
    scene = trimesh.Scene()
    scene.add_geometry(tetrahedron(), node_name="one")
    mirrored = np.diag([-1.0, 1, 1, 1])
    mirrored[0, 3] = -100
    scene.add_geometry(tetrahedron(), node_name="two", transform=mirrored)
    mesh, _ = read_mesh(saved(tmp_path, "scene.glb", scene), folder=tmp_path)
    assert len(mesh.faces) == 8
    assert bounds(mesh)[:, 0] == pytest.approx([-130, 30])
    solid = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert solid.volume == pytest.approx(2 * 30 * 40 * 50 / 6)  # a mirrored one would count negative


def test_a_file_that_changes_is_read_again(tmp_path: Path) -> None:
    shape = saved(tmp_path, "t.stl", tetrahedron())
    mesh, _ = read_mesh(shape, folder=tmp_path)
    assert read_mesh(shape, folder=tmp_path)[0] is mesh
    saved(tmp_path, "t.stl", tetrahedron().apply_scale(2))
    os.utime(tmp_path / "t.stl", ns=(0, 0))  # whatever the clock of the disk
    assert bounds(triangulate(shape, folder=tmp_path)) == pytest.approx(2 * bounds(mesh))
    assert held_point(shape, "top", folder=tmp_path)[1] == pytest.approx(2 * 40)


def test_faults_are_repaired_and_named_or_refused(tmp_path: Path) -> None:
    points = [[0, 0, 0], [30, 0, 0], [0, 40, 0], [0, 40, 1e-6], [15, 0, 0], [0, 0, 20], [9, 9, 9]]
    faces = [[0, 1, 2], [1, 0, 5], [0, 2, 1], [0, 4, 1], [0, 0, 2], [0, 3, 5]]
    lines = [f"v {x} {y} {z}" for x, y, z in points] + [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in faces]
    (tmp_path / "faulty.obj").write_text("\n".join(lines))
    mesh, note = read_mesh(MeshFile(file="faulty.obj", unit="mm"), folder=tmp_path)
    assert len(mesh.faces) == 3
    assert len(mesh.vertices) == 4
    assert note is not None
    for said in ("joined 1 point", "dropped 2 triangles without area", "dropped 1 triangle that stood twice"):
        assert said in note
    with pytest.raises(RigError, match=r"2 triangles without area and 1 triangle that stood twice.*repair = true"):
        read_mesh(MeshFile(file="faulty.obj", unit="mm", repair=False), folder=tmp_path)


def test_mixed_sides_are_told(tmp_path: Path) -> None:
    mesh = tetrahedron()
    mesh.faces[0] = mesh.faces[0][::-1]
    _, note = read_mesh(saved(tmp_path, "mixed.ply", mesh), folder=tmp_path)
    assert note is not None
    assert "3 edges across which front and back change places" in note


def test_slivers_that_close_a_seam_stay(tmp_path: Path) -> None:
    # 100 mm long, 0.001 mm high: thinner than any chord error, but without it the sheet has a crack.
    sliver = trimesh.Trimesh(
        [[0, 0, 0], [100, 0, 0], [50, 0.001, 0], [50, -60, 0]], [[0, 1, 2], [1, 0, 3]], process=False
    )
    mesh, note = read_mesh(saved(tmp_path, "sliver.ply", sliver), folder=tmp_path)
    assert len(mesh.faces) == 2
    assert note is None


def refusal(folder: Path, name: str, data: bytes | None, unit: typing.Literal["mm", "m"] = "mm") -> str:
    if data is not None:
        (folder / name).write_bytes(data)
    with pytest.raises(RigError) as refused:
        read_mesh(MeshFile(file=name, unit=unit), folder=folder)
    assert name in str(refused.value)
    return str(refused.value)


def test_what_cannot_be_used_is_refused_with_a_reason(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    triangle = b"v 0 0 0\nv %s 0 0\nv 0 %s 0\nf 1 2 3\n"
    assert "no such file" in refusal(tmp_path, "missing.stl", None)
    assert "no such file" in refusal(tmp_path, "no/folder/" + "x" * 200 + ".stl", None)
    assert "cannot be opened" in refusal(tmp_path, "x" * 400 + ".stl", None)
    (tmp_path / "folder.stl").mkdir()
    assert "no such file" in refusal(tmp_path, "folder.stl", None)
    assert "Allowed: STL, OBJ, PLY and GLB" in refusal(tmp_path, "picture.png", b"")
    assert "finite" in refusal(tmp_path, "nan.obj", triangle % (b"nan", b"30"))
    assert "finite" in refusal(tmp_path, "inf.obj", triangle % (b"1e999", b"30"))
    assert "Is the unit right?" in refusal(tmp_path, "small.obj", triangle % (b"0.03", b"0.04"))
    assert "Is the unit right?" in refusal(tmp_path, "large.obj", triangle % (b"300", b"40"), unit="m")
    assert "from the origin" in refusal(tmp_path, "far.obj", b"v 20000 0 0\nv 20030 0 0\nv 20000 9 0\nf 1 2 3\n")
    assert "no triangle of the file has any area" in refusal(tmp_path, "flat.obj", triangle % (b"30", b"0"))
    assert "no triangles" in refusal(tmp_path, "points.obj", b"v 0 0 0\nv 1 0 0\n")
    assert "no triangles" in refusal(
        tmp_path, "points.ply", trimesh.PointCloud([[0, 0, 0], [9, 9, 9]]).export(file_type="ply")
    )
    for kind in ("stl", "obj", "ply", "glb"):
        refusal(tmp_path, f"empty.{kind}", b"")
    monkeypatch.setattr(meshes, "MOST_TRIANGLES", 3)
    assert "more than 3 triangles" in refusal(tmp_path, "many.stl", tetrahedron().export(file_type="stl"))
    monkeypatch.setattr(meshes, "MOST_BYTES", 10)
    assert "MB" in refusal(tmp_path, "heavy.stl", tetrahedron().export(file_type="stl"))


def test_nothing_else_is_read(tmp_path: Path) -> None:
    inner = tmp_path / "rigs"
    inner.mkdir()
    (tmp_path / "beside.mtl").write_text("newmtl white\nKd 1 1 1\n")
    (inner / "sheet.obj").write_text("mtllib ../beside.mtl\nusemtl white\nv 0 0 0\nv 30 0 0\nv 0 40 0\nf 1 2 3\n")
    # A GLB (glTF 2.0 specification, section 4) whose numbers lie in another file that is there and would do.
    data = np.array([[0, 0, 0], [30, 0, 0], [0, 40, 0]], np.float32).tobytes()
    (tmp_path / "beside.bin").write_bytes(data)
    text = (
        b'{"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],'
        b'"meshes":[{"primitives":[{"attributes":{"POSITION":0}}]}],'
        b'"accessors":[{"bufferView":0,"componentType":5126,"count":3,"type":"VEC3"}],'
        b'"bufferViews":[{"buffer":0,"byteLength":36}],"buffers":[{"byteLength":36,"uri":"%s"}]}'
    )
    opened: list[str] = []
    watching = [True]
    sys.addaudithook(lambda event, args: opened.append(str(args[0])) if event == "open" and watching[0] else None)
    mesh, _ = read_mesh(MeshFile(file="sheet.obj", unit="mm"), folder=inner)
    assert len(mesh.faces) == 1
    for uri in (b"../beside.bin", str(tmp_path / "beside.bin").encode()):
        chunk = text % uri
        chunk += b" " * (-len(chunk) % 4)
        head = b"glTF" + np.array([2, 20 + len(chunk), len(chunk)], "<u4").tobytes() + b"JSON"
        assert "hold everything themselves" in refusal(inner, "outside.glb", head + chunk)
    watching[0] = False
    assert any(name.endswith("sheet.obj") for name in opened)
    assert not [name for name in opened if "beside" in name]


def test_text_in_an_old_alphabet_is_no_obstacle(tmp_path: Path) -> None:
    comment = "# Größe geprüft\n".encode("latin-1")
    (tmp_path / "old.obj").write_bytes(comment + b"v 0 0 0\nv 30 0 0\nv 0 40 0\nf 1 2 3\n")
    assert len(read_mesh(MeshFile(file="old.obj", unit="mm"), folder=tmp_path)[0].faces) == 1
    text = trimesh.exchange.stl.export_stl_ascii(tetrahedron()).encode()
    (tmp_path / "old.stl").write_bytes(text.replace(b"solid", b"solid " + "Größe".encode("latin-1"), 1))
    assert len(read_mesh(MeshFile(file="old.stl", unit="mm"), folder=tmp_path)[0].faces) == 4


@pytest.mark.parametrize("kind", ["stl", "obj", "ply", "glb"])
def test_garbage_is_read_or_refused_but_never_crashes(tmp_path: Path, kind: str) -> None:
    rng = np.random.default_rng(3)
    exported = tetrahedron().export(file_type=kind)
    good = exported.encode() if isinstance(exported, str) else exported
    refused = 0
    for number in range(120):
        data = np.frombuffer(good, np.uint8).copy()
        if number % 3 == 0:
            data = rng.integers(0, 256, rng.integers(0, 400), np.uint8)
        elif number % 3 == 1:
            data = data[: rng.integers(len(data))]
        else:
            data[rng.integers(0, len(data), 8)] = rng.choice(np.frombuffer(b"0123456789e-. \n\xff\x00", np.uint8), 8)
        (tmp_path / f"g.{kind}").write_bytes(data.tobytes())
        try:
            mesh, _ = read_mesh(MeshFile(file=f"g.{kind}", unit="mm"), folder=tmp_path)
        except RigError as error:
            assert "Try" in str(error)  # noqa: PT017
            refused += 1
        else:
            assert np.isfinite(mesh.vertices).all()
            assert areas(mesh).min() > 0
    assert refused > 60


def test_large_meshes_are_kept_whole(tmp_path: Path) -> None:
    ball = trimesh.creation.icosphere(subdivisions=6, radius=50)
    mesh, note = read_mesh(saved(tmp_path, "ball.stl", ball), folder=tmp_path)
    assert note is None
    # Icosahedron split six times: 20 * 4^6 faces, 10 * 4^6 + 2 points (Euler).
    assert (len(mesh.faces), len(mesh.vertices)) == (81920, 40962)
