"""Solids that a test subject is built of: ellipsoids, tubes and curved sheets, as triangles for the ray caster.

Triangles say where a ray lands; on an ellipsoid the landing is then moved onto the true surface, elsewhere the normals
of the corners are interpolated. So a coarse mesh still gives smooth shading and true mirror images.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.light.cast import MISS, Caster, caster

Array = NDArray[np.float64]
Rays = NDArray[np.float32]
Colour = tuple[float, float, float]
Pattern = Callable[[Array], Array]  # (n, 3) mm -> (n, 3) reflectance


@dataclass(frozen=True, eq=False)
class Surface:
    """What a solid is made of: a matt body, under a smooth clear coat where there is a refractive index."""

    name: str
    reflectance: Colour  # of the body, linear red, green, blue, 0 to 1
    refractive_index: float | None = None  # of the coat, above 1; None: matt, no coat
    pattern: Pattern | None = None  # reflectance by place, in place of the single one

    def __post_init__(self) -> None:
        if not all(0 <= share <= 1 for share in self.reflectance):
            raise ValueError(f"{self.name}: reflectance = {self.reflectance}: each share must lie from 0 to 1")
        if self.refractive_index is not None and not self.refractive_index > 1:
            raise ValueError(f"{self.name}: refractive_index = {self.refractive_index}: it must be above 1")


@dataclass(frozen=True, eq=False)
class Solid:
    """Triangles of one surface with a normal at each corner, outward; world coordinates, mm."""

    surface: Surface
    vertices: Array  # (n, 3)
    faces: NDArray[np.int64]  # (m, 3), right-handed about the outward side
    normals: Array  # (n, 3) unit
    centre: Array | None = None  # (3,) of the ellipsoid, where it is one,
    form: Array | None = None  # and (3, 3), which makes it the unit ball: |form (p - centre)| = 1


@dataclass(frozen=True, eq=False)
class Landing:
    """Where rays met a subject, k of them."""

    ray: NDArray[np.intp]  # (k,) numbers of the rays
    triangle: NDArray[np.int32]  # (k,)
    point: Rays  # (k, 3) mm
    normal: Rays  # (k, 3) unit, outward
    share: Rays  # (k, 3) of each corner in what is interpolated
    front: NDArray[np.bool_]  # (k,) met from outside


@dataclass(frozen=True, eq=False)
class Subject:
    """Solids together: s solids, n vertices, m triangles. Compares and hashes by identity, so it can key a cache."""

    solids: tuple[Solid, ...]
    vertices: Array  # (n, 3) mm
    normals: Array  # (n, 3) unit
    faces: NDArray[np.int64]  # (m, 3)
    solid: NDArray[np.intp]  # (m,) number of the solid of each triangle
    owner: NDArray[np.intp]  # (n,) of each vertex
    reflectance: Array  # (n, 3) at the vertices
    index: Array  # (s,) refractive index of the coat, 1 where there is none

    @cached_property
    def caster(self) -> Caster:
        """Its triangles, ready for rays."""
        return caster(self.vertices, self.faces)

    @property
    def convex(self) -> bool:
        """A single ellipsoid, which hides no light from itself and mirrors none of itself."""
        return len(self.solids) == 1 and self.solids[0].form is not None

    @cached_property
    def _forms(self) -> tuple[Array, Array, NDArray[np.bool_]]:
        forms = [np.eye(3) if each.form is None else each.form for each in self.solids]
        centres = [np.zeros(3) if each.centre is None else each.centre for each in self.solids]
        return np.array(forms), np.array(centres), np.array([each.form is not None for each in self.solids])

    def meet(self, start: Rays, direction: Rays) -> Landing:
        """Where rays first meet the subject; start, direction (k, 3), direction of unit length."""
        start, direction = (np.ascontiguousarray(each, np.float32) for each in (start, direction))
        triangle, distance = self.caster.nearest(start, direction)
        ray = np.flatnonzero(triangle != MISS)
        triangle = triangle[ray].astype(np.int32)
        begin, way = start[ray].astype(float), direction[ray].astype(float)
        point = begin + distance[ray, None] * way
        corner = self.vertices[self.faces[triangle]]  # (k, 3 corners, 3)
        share = _shares(corner, point)
        normal = np.einsum("kc,kcx->kx", share, self.normals[self.faces[triangle]])
        flat = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        forms, centres, round_ = self._forms
        solid = self.solid[triangle]
        refine = np.flatnonzero(round_[solid])
        if len(refine):
            point[refine], normal[refine] = _on_ellipsoid(
                forms[solid[refine]], centres[solid[refine]], begin[refine], way[refine], distance[ray][refine]
            )
        normal /= np.maximum(np.sqrt(np.einsum("kx,kx->k", normal, normal)), 1e-30)[:, None]
        return Landing(
            ray=ray,
            triangle=triangle,
            point=point.astype(np.float32),
            normal=normal.astype(np.float32),
            share=share.astype(np.float32),
            front=np.einsum("kx,kx->k", flat, way) < 0,
        )

    def paint(self, landing: Landing) -> Rays:
        """Reflectance of the body at landings, (k, 3)."""
        solid = self.solid[landing.triangle]
        colour = np.array([each.surface.reflectance for each in self.solids])[solid]
        for number, each in enumerate(self.solids):
            if each.surface.pattern is not None and len(here := np.flatnonzero(solid == number)):
                colour[here] = each.surface.pattern(landing.point[here].astype(float))
        return colour.astype(np.float32)


def subject_of(solids: Sequence[Solid]) -> Subject:
    """Solids as one subject. Raises ValueError for none."""
    if not solids:
        raise ValueError("a subject needs at least one solid")
    counts = [len(each.vertices) for each in solids]
    first = np.concatenate([[0], np.cumsum(counts)[:-1]])
    colours: list[Any] = [
        np.tile(each.surface.reflectance, (len(each.vertices), 1))
        if each.surface.pattern is None
        else each.surface.pattern(each.vertices)
        for each in solids
    ]
    return Subject(
        solids=tuple(solids),
        vertices=np.concatenate([each.vertices for each in solids]),
        normals=np.concatenate([each.normals for each in solids]),
        faces=np.concatenate([each.faces + start for each, start in zip(solids, first, strict=True)]),
        solid=np.repeat(np.arange(len(solids)), [len(each.faces) for each in solids]),
        owner=np.repeat(np.arange(len(solids)), counts),
        reflectance=np.concatenate(colours),
        index=np.array([each.surface.refractive_index or 1.0 for each in solids]),
    )


def ellipsoid(
    surface: Surface,
    *,
    centre: ArrayLike,
    half_axes: ArrayLike,
    turned: ArrayLike | None = None,
    around: int = 48,
    from_height: float = -1.0,
) -> Solid:
    """An ellipsoid, or the dome of it above a plane.

    half_axes: (3,) mm; turned: (3, 3) rotation of its own axes; around: segments about its third axis;
    from_height: where the dome begins on that axis, as a share of its half axis, -1 for all of it.
    Raises ValueError for a half axis that is not positive.
    """
    half, middle = np.asarray(half_axes, float), np.asarray(centre, float)
    if not (half > 0).all():
        raise ValueError(f"half axes = {half.tolist()} mm: each must be more than 0")
    basis = np.eye(3) if turned is None else np.asarray(turned, float)
    lowest = np.arcsin(np.clip(from_height, -1, 1))
    rings = max(4, round(around / 2 * (np.pi / 2 - lowest) / np.pi))
    height, turn = np.linspace(np.pi / 2, lowest, rings + 1), np.arange(around) * 2 * np.pi / around
    up, round_ = np.meshgrid(height, turn, indexing="ij")
    ball = np.stack([np.cos(up) * np.cos(round_), np.cos(up) * np.sin(round_), np.sin(up)], axis=-1).reshape(-1, 3)
    normal = ball / half
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    return Solid(
        surface,
        vertices=middle + ball * half @ basis.T,
        faces=_grid(rings + 1, around, closed=True),
        normals=normal @ basis.T,
        centre=middle,
        form=basis.T / half[:, None],
    )


def tube(surface: Surface, *, along: ArrayLike, radius: ArrayLike, sides: int = 12) -> Solid:
    """A round tube with closed ends. along: (k, 3) mm, its middle line, without doubled points; radius: (k,) mm."""
    line, thick = np.asarray(along, float), np.asarray(radius, float)
    ahead = np.gradient(line, axis=0)
    ahead /= np.linalg.norm(ahead, axis=1)[:, None]
    step = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    slope = np.gradient(thick, step)
    aside = np.empty_like(line)
    previous = np.eye(3)[np.abs(ahead[0]).argmin()]
    for place, way in enumerate(ahead):  # carried along without twist
        previous = previous - (previous @ way) * way
        previous /= np.linalg.norm(previous)
        aside[place] = previous
    other = np.cross(ahead, aside)
    turn = np.arange(sides) * 2 * np.pi / sides
    out = aside[:, None] * np.cos(turn)[:, None] + other[:, None] * np.sin(turn)[:, None]  # (k, sides, 3)
    normal = out - slope[:, None, None] * ahead[:, None]
    normal /= np.linalg.norm(normal, axis=2)[:, :, None]
    rings = line[:, None] + thick[:, None, None] * out
    number = np.arange(sides)
    following = (number + 1) % sides
    tail, first = (len(line) - 1) * sides, len(line) * sides
    caps = [
        np.stack([np.full(sides, first), following, number], axis=1),
        np.stack([np.full(sides, first + 1), tail + number, tail + following], axis=1),
    ]
    return Solid(
        surface,
        vertices=np.concatenate([rings.reshape(-1, 3), line[[0, -1]]]),
        faces=np.concatenate([_grid(len(line), sides, closed=True)[:, ::-1], *caps]),
        normals=np.concatenate([normal.reshape(-1, 3), [-ahead[0], ahead[-1]]]),
    )


def sheet(surface: Surface, place: Callable[[Array, Array], Array], *, along: int, across: int) -> Solid:
    """A curved sheet: place(u, v) (n,) each from -1 to 1 -> (n, 3) mm; its outer side is du x dv."""
    u, v = (axis.ravel() for axis in np.meshgrid(np.linspace(-1, 1, along), np.linspace(-1, 1, across), indexing="ij"))
    step, inner = 1e-4, 1 - 2e-4
    normal = np.cross(
        place(u * inner + step, v * inner) - place(u * inner - step, v * inner),
        place(u * inner, v * inner + step) - place(u * inner, v * inner - step),
    )
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-30)[:, None]
    return Solid(surface, vertices=place(u, v), faces=_grid(along, across, closed=False), normals=normal)


def _grid(rows: int, columns: int, *, closed: bool) -> NDArray[np.int64]:
    """Two triangles for each cell of a grid of vertices, row by row; closed: the last column meets the first."""
    row, column = np.meshgrid(np.arange(rows - 1), np.arange(columns if closed else columns - 1), indexing="ij")
    following = (column + 1) % columns
    a, b = row * columns + column, row * columns + following
    c, d = a + columns, b + columns
    return np.concatenate([np.stack(each, axis=-1).reshape(-1, 3) for each in ((a, c, b), (b, c, d))]).astype(np.int64)


def _shares(corner: Array, point: Array) -> Array:
    """Barycentric coordinates (k, 3) of points in triangles (k, 3, 3), kept inside."""
    one, two, here = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0], point - corner[:, 0]
    aa, ab, bb = (np.einsum("kx,kx->k", left, right) for left, right in ((one, one), (one, two), (two, two)))
    pa, pb = np.einsum("kx,kx->k", here, one), np.einsum("kx,kx->k", here, two)
    whole = np.maximum(aa * bb - ab * ab, 1e-30)
    v, w = (bb * pa - ab * pb) / whole, (aa * pb - ab * pa) / whole
    share = np.clip(np.stack([1 - v - w, v, w], axis=1), 0, 1)
    return np.asarray(share / share.sum(axis=1)[:, None])


def _on_ellipsoid(form: Array, centre: Array, start: Array, way: Array, distance: Any) -> tuple[Array, Array]:
    """Landings (k, 3) and outward normals on ellipsoids, of the two crossings the one nearer to the distance given."""
    begin = np.einsum("kij,kj->ki", form, start - centre)
    ahead = np.einsum("kij,kj->ki", form, way)
    a, b, c = (np.einsum("ki,ki->k", *pair) for pair in ((ahead, ahead), (begin, ahead), (begin, begin)))
    root = np.sqrt(np.maximum(b * b - a * (c - 1), 0))
    near, far = (-b - root) / a, (-b + root) / a
    length = np.where(np.abs(near - distance) <= np.abs(far - distance), near, far)
    point = start + length[:, None] * way
    return point, np.einsum("kji,kj->ki", form, np.einsum("kij,kj->ki", form, point - centre))
