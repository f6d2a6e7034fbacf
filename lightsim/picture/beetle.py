"""The test subject: a stylised beetle of ellipsoids and tubes on a leaf, our own; a ball and a wing case alone.

All shapes and reflectances are invented. Under the coat of insect cuticle (refractive index 1.56) lies a matt body.
The beetle is built in its own frame: x ahead, y to its left, z up from the leaf, mm; then it is turned and moved so
that its left eye, the nearer one, lies in the plane of focus at the origin.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.picture.solids import Array, Colour, Solid, Subject, Surface, ellipsoid, sheet, subject_of, tube

CUTICLE = 1.56  # refractive index of insect cuticle, as the ready designs have it
LEAF_TILT, TURN = 50.0, 48.0  # degrees: leaf against the optical axis; beetle out of the camera's direction
LENGTH = 8.0  # mm, of the body, about

_BLACK: Colour = (0.012, 0.010, 0.010)
_RED: Colour = (0.62, 0.085, 0.014)
_CREAM: Colour = (0.62, 0.50, 0.27)
_LEG: Colour = (0.075, 0.030, 0.014)
_HAIR: Colour = (0.62, 0.50, 0.30)
_LEAF: Colour = (0.085, 0.200, 0.034)
_VEIN: Colour = (0.23, 0.38, 0.11)
_CASE = {"centre": (-1.15, 0.26, 1.22), "half_axes": (2.95, 1.92, 1.92)}
_PRONOTUM = {"centre": (1.62, 0.0, 1.30), "half_axes": (1.0, 1.66, 1.20)}
_HEAD = {"centre": (2.38, 0.0, 1.30), "half_axes": (0.72, 0.80, 0.70)}
_EYE = {"centre": (2.62, 0.62, 1.64), "half_axes": (0.45, 0.40, 0.52)}
_SPOTS = ((0.55, 0.62, 0.36), (-1.05, 1.12, 0.52), (-2.65, 0.62, 0.44))  # ahead, aside, radius on the left case, mm


def ball(
    *,
    radius: float,
    centre: ArrayLike = (0.0, 0.0, 0.0),
    refractive_index: float = CUTICLE,
    reflectance: Colour = (0.0, 0.0, 0.0),
) -> Subject:
    """A glossy ball, black under its coat unless told otherwise; centre (3,) mm, radius mm."""
    surface = Surface("ball", reflectance, refractive_index)
    return subject_of([ellipsoid(surface, centre=centre, half_axes=(radius, radius, radius), around=160)])


def wing_case(
    *,
    centre: ArrayLike = (0.0, 0.0, 0.0),
    half_axes: ArrayLike = (3.0, 2.0, 1.2),
    turned: ArrayLike | None = None,
    refractive_index: float = CUTICLE,
    reflectance: Colour = _RED,
) -> Subject:
    """A glossy domed oval, red as the beetle: half axes (3,) mm across, upright and toward the lens, unless turned."""
    surface = Surface("wing case", reflectance, refractive_index)
    return subject_of([ellipsoid(surface, centre=centre, half_axes=half_axes, turned=turned, around=160)])


@cache
def beetle() -> Subject:
    """The beetle on its leaf, in world coordinates; made once."""
    turned, origin = _stance()

    def own(world: Array) -> Array:
        return (world - origin) @ turned

    def painted(name: str, colour: Colour, pattern: Callable[[Array], Array], index: float | None) -> Surface:
        return Surface(name, colour, index, lambda world: pattern(own(world)))

    solids = [*_body(painted), *_legs(), *_antennae(), *_hairs(), _leaf(painted)]
    return subject_of([_moved(each, turned, origin) for each in solids])


Painter = Callable[[str, Colour, Callable[[Array], Array], float | None], Surface]


def _stance() -> tuple[Array, Array]:
    """Rotation (3, 3) from the beetle's own frame to the world, and where its origin lies (3,) mm."""
    tilt, turn = np.radians(LEAF_TILT), np.radians(TURN)
    up = np.array([0.0, np.sin(tilt), np.cos(tilt)])
    down_leaf = np.array([0.0, -np.cos(tilt), np.sin(tilt)])
    ahead = np.cos(turn) * down_leaf - np.sin(turn) * np.array([1.0, 0.0, 0.0])
    turned = np.stack([ahead, np.cross(up, ahead), up], axis=1)
    # The place of the near eye that faces the lens goes to the origin.
    half = np.array(_EYE["half_axes"])
    out = half**2 * turned[2]
    facing = np.array(_EYE["centre"]) + out / np.sqrt((turned[2] * out).sum())
    return turned, -turned @ facing


def _moved(solid: Solid, turned: Array, origin: Array) -> Solid:
    return Solid(
        solid.surface,
        vertices=solid.vertices @ turned.T + origin,
        faces=solid.faces,
        normals=solid.normals @ turned.T,
        centre=None if solid.centre is None else turned @ solid.centre + origin,
        form=None if solid.form is None else solid.form @ turned.T,
    )


def _mirrored(point: ArrayLike, side: int) -> Array:
    return np.asarray(np.asarray(point, float) * np.array([1, side, 1]))


def _mixed(colour: Colour, other: Colour, share: Array) -> Array:
    return np.asarray(np.array(colour) * (1 - share[:, None]) + np.array(other) * share[:, None])


def _soft(distance: Array, width: float) -> Array:
    """1 inside, 0 outside, smooth over so many mm; distance: below 0 inside."""
    step = np.clip(0.5 - distance / width, 0, 1)
    return np.asarray(step * step * (3 - 2 * step))


def _case_paint(point: Array) -> Array:
    aside = np.abs(point[:, 1])
    colour = np.zeros(len(point))
    for ahead, out, radius in _SPOTS:
        apart = np.hypot(point[:, 0] - ahead, (aside - out) * 1.1)
        colour = np.maximum(colour, _soft(apart - radius, 0.07))
    colour = np.maximum(colour, _soft(aside - 0.055, 0.05))  # dark along the seam
    return _mixed(_RED, _BLACK, colour)


def _pronotum_paint(point: Array) -> Array:
    apart = np.hypot((point[:, 0] - 2.0) / 0.62, (np.abs(point[:, 1]) - 1.28) / 0.44) - 1
    return _mixed(_BLACK, _CREAM, _soft(apart * 0.5, 0.09))


def _head_paint(point: Array) -> Array:
    apart = np.hypot(point[:, 0] - 2.78, np.abs(point[:, 1]) - 0.20) - 0.11
    return _mixed(_BLACK, _CREAM, _soft(apart, 0.05))


def _body(painted: Painter) -> list[Solid]:
    cases = painted("wing case", _RED, _case_paint, CUTICLE)
    pronotum = painted("pronotum", _BLACK, _pronotum_paint, CUTICLE)
    head = painted("head", _BLACK, _head_paint, CUTICLE)
    eye = Surface("eye", (0.008, 0.008, 0.009), CUTICLE)
    under = Surface("underside", (0.03, 0.022, 0.018))
    mouth = Surface("mouth", _LEG, CUTICLE)
    solids = [
        ellipsoid(pronotum, centre=_PRONOTUM["centre"], half_axes=_PRONOTUM["half_axes"], around=72, from_height=-0.12),
        ellipsoid(head, centre=_HEAD["centre"], half_axes=_HEAD["half_axes"], around=56),
        ellipsoid(under, centre=(-1.1, 0, 1.05), half_axes=(2.8, 2.0, 0.5), around=48),
        ellipsoid(under, centre=(1.3, 0, 1.05), half_axes=(1.35, 1.3, 0.5), around=40),
        ellipsoid(mouth, centre=(2.98, 0, 1.04), half_axes=(0.26, 0.44, 0.24), around=36),
    ]
    for side in (1, -1):
        solids += [
            ellipsoid(
                cases,
                centre=_mirrored(_CASE["centre"], side),
                half_axes=_CASE["half_axes"],
                around=96,
                from_height=-0.1,
            ),
            ellipsoid(eye, centre=_mirrored(_EYE["centre"], side), half_axes=_EYE["half_axes"], around=56),
            *_limb(
                mouth, [(3.0, 0.3, 0.97), (3.32, 0.34, 0.84), (3.42, 0.22, 0.64)], (0.07, 0.075, 0.05), side, sides=10
            ),
        ]
    return solids


def _curve(points: Sequence[ArrayLike], radii: Sequence[float], count: int) -> tuple[Array, Array]:
    """A smooth line (count, 3) through points and the radius (count,) along it (Catmull & Rom)."""
    through = np.concatenate([np.asarray(points, float), np.asarray(radii, float)[:, None]], axis=1)
    ends = [2 * through[0] - through[1], *through, 2 * through[-1] - through[-2]]
    control = np.array(ends)
    place = np.linspace(0, len(through) - 1, count)
    piece = np.minimum(place.astype(int), len(through) - 2)
    t = (place - piece)[:, None]
    a, b, c, d = (control[piece + step] for step in range(4))
    line = 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
    return line[:, :3], np.maximum(line[:, 3], 0.004)


def _rounded(radius: Array) -> Array:
    """The radius with both ends drawn in."""
    drawn = radius.copy()
    drawn[[0, -1]] *= 0.25
    drawn[[1, -2]] *= 0.8
    return drawn


def _limb(
    surface: Surface,
    points: Sequence[ArrayLike],
    radii: Sequence[float],
    side: int,
    *,
    sides: int = 14,
    count: int = 15,
) -> list[Solid]:
    line, radius = _curve([_mirrored(each, side) for each in points], radii, count)
    return [tube(surface, along=line, radius=_rounded(radius), sides=sides)]


def _legs() -> list[Solid]:
    horn = Surface("leg", _LEG, CUTICLE)
    legs = (
        ((1.75, 0.7, 0.85), (2.32, 2.05, 1.28), (2.85, 2.55, 0.42), (3.38, 2.88)),
        ((0.3, 1.2, 0.85), (0.62, 2.88, 1.38), (0.78, 3.5, 0.42), (1.08, 4.05)),
        ((-1.3, 1.2, 0.85), (-1.85, 2.85, 1.38), (-2.65, 3.4, 0.42), (-3.2, 3.82)),
    )
    solids = []
    for hip, knee, ankle, toe in legs:
        for side in (1, -1):
            hip_, knee_, ankle_ = (np.array(each) for each in (hip, knee, ankle))
            ground = np.array([*ankle[:2], leaf_height(np.array([ankle[0]]), np.array([side * ankle[1]]))[0]])
            ankle_[2] += ground[2]
            tip = np.array([*toe, leaf_height(np.array([toe[0]]), np.array([side * toe[1]]))[0] + 0.07])
            middle = 0.5 * (hip_ + knee_) + np.array([0, 0, -0.14])  # under the rim, then up
            solids += _limb(horn, [hip_, middle, knee_], (0.20, 0.23, 0.14), side)
            shin = 0.5 * (knee_ + ankle_) + np.array([0, 0.05, 0.06])
            solids += _limb(horn, [knee_, shin, ankle_], (0.12, 0.115, 0.10), side)
            solids += _foot(horn, ankle_, tip, side)
    return solids


def _foot(surface: Surface, ankle: Array, tip: Array, side: int) -> list[Solid]:
    """Four short joints and two claws."""
    count = 29
    t = np.linspace(0, 1, count)
    sag = np.array([0, 0, -1.0]) * (np.sin(np.pi * t) * 0.10)[:, None]
    line = ankle + (tip - ankle) * t[:, None] + sag
    radius = 0.085 * (0.62 + 0.38 * np.abs(np.sin(4 * np.pi * t))) * (1 - 0.15 * t)
    along = (tip - ankle) / np.linalg.norm(tip - ankle)
    solids = [tube(surface, along=line * [1, side, 1], radius=_rounded(radius), sides=10)]
    for way in (0.5, -0.5):
        bent = np.array(
            [along[0] * np.cos(way) - along[1] * np.sin(way), along[0] * np.sin(way) + along[1] * np.cos(way), 0]
        )
        claw = [tip, tip + 0.12 * bent + [0, 0, 0.03], tip + 0.22 * bent + [0, 0, -0.05]]
        solids += _limb(surface, claw, (0.035, 0.03, 0.012), side, sides=8, count=8)
    return solids


def _antennae() -> list[Solid]:
    """Eleven joints each, thicker toward the end."""
    horn = Surface("antenna", (0.10, 0.042, 0.018), CUTICLE)
    solids = []
    for side in (1, -1):
        points = [(2.92, 0.34, 1.50), (3.35, 0.66, 1.92), (3.9, 1.2, 2.15), (4.35, 1.85, 2.02), (4.62, 2.45, 1.66)]
        line, radius = _curve([_mirrored(each, side) for each in points], (0.07, 0.06, 0.065, 0.085, 0.10), 89)
        joints = 0.6 + 0.4 * np.sqrt(np.abs(np.sin(11 * np.pi * np.linspace(0, 1, 89))))
        solids.append(tube(horn, along=line, radius=_rounded(radius * joints), sides=10))
    return solids


def _hairs() -> list[Solid]:
    """Fine hairs along the sides of the wing cases, on pronotum and head: 0.03 to 0.045 mm thick at the root."""
    surface = Surface("hair", _HAIR)
    rng = np.random.default_rng(7)
    solids = []

    def grow(root: Array, out: Array, lean: Array, length: float, thick: float) -> None:
        way = out + lean
        way /= np.linalg.norm(way)
        t = np.linspace(0, 1, 4)[:, None]
        line = root - 0.03 * out + length * (t * way + 0.28 * t**2 * (lean - 0.25 * np.array([0, 0, 1.0])))
        solids.append(tube(surface, along=line, radius=thick / 2 * np.linspace(1, 0.3, 4), sides=4))

    for side in (1, -1):
        for turn in np.linspace(0.25, 2.95, 40):  # the rim of a wing case
            height = rng.uniform(-0.06, 0.16)
            place, out = _on(_CASE, turn + rng.normal(0, 0.02), height, side)
            if place[1] * side > 0.5:
                grow(
                    place,
                    out,
                    np.array([-0.45, 0.1 * side, 0.05]) + rng.normal(0, 0.1, 3),
                    rng.uniform(0.34, 0.6),
                    0.034,
                )
        for turn in np.linspace(0.15, 1.75, 26):  # the side of the pronotum
            place, out = _on(_PRONOTUM, turn + rng.normal(0, 0.03), rng.uniform(-0.25, 0.1), side)
            grow(place, out, np.array([0.35, 0.1 * side, 0.1]) + rng.normal(0, 0.14, 3), rng.uniform(0.3, 0.55), 0.032)
        for _ in range(22):  # the back of the pronotum
            place, out = _on(_PRONOTUM, rng.uniform(0, np.pi), rng.uniform(0.25, 0.93), side)
            if place[0] > 1.05:
                grow(place, out, np.array([0.5, 0, 0]) + rng.normal(0, 0.2, 3), rng.uniform(0.28, 0.5), 0.032)
        for _ in range(12):  # the head
            place, out = _on(_HEAD, rng.uniform(0, 1.1), rng.uniform(0.2, 0.85), side)
            grow(place, out, np.array([0.3, 0, 0.2]) + rng.normal(0, 0.2, 3), rng.uniform(0.2, 0.36), 0.03)
    return solids


def _on(form: dict[str, tuple[float, float, float]], turn: float, height: float, side: int) -> tuple[Array, Array]:
    """A place on an ellipsoid and the outward normal there; turn from ahead, to the left for side 1."""
    flat = np.sqrt(1 - height**2)
    ball = np.array([flat * np.cos(turn), side * flat * np.sin(turn), height])
    half = np.array(form["half_axes"])
    out = ball / half
    return _mirrored(form["centre"], side) + ball * half, out / np.linalg.norm(out)


_LEAF_LONG, _LEAF_WIDE, _LEAF_TURN = 13.5, 8.6, np.radians(-26.0)  # half axes mm; midrib against the beetle
_LEAF_MIDDLE = np.array([1.0, 1.7])


def _on_leaf(x: Array, y: Array) -> tuple[Array, Array]:
    """Along and across the midrib, mm, of places in the beetle's own frame."""
    x, y = x - _LEAF_MIDDLE[0], y - _LEAF_MIDDLE[1]
    cosine, sine = np.cos(_LEAF_TURN), np.sin(_LEAF_TURN)
    return x * cosine + y * sine, y * cosine - x * sine


def _vein_distance(along: Array, aside: Array) -> Array:
    """mm to the nearest side vein: they leave the midrib every 2.1 mm and run forward in a bow."""
    place = along - 0.75 * np.abs(aside) + 0.028 * aside**2 + np.where(aside > 0, 0.0, 0.9)
    return np.asarray(np.abs((place / 2.1 + 0.5) % 1.0 - 0.5) * 2.1 * 0.8)


def leaf_height(x: Array, y: Array) -> NDArray[np.float64]:
    """Height of the leaf over its plane, mm, at places in the beetle's own frame."""
    along, aside = _on_leaf(x, y)
    bow = -0.006 * along**2 - 0.012 * aside**2 + 0.10 * np.sin(0.55 * along + 0.3 * aside)
    midrib = -0.20 * np.exp(-((aside / 0.32) ** 2))
    veins = -0.075 * np.exp(-((_vein_distance(along, aside) / 0.20) ** 2)) * (1 - np.exp(-((aside / 0.5) ** 2)))
    return np.asarray(bow + midrib + veins)


def _leaf_paint(point: Array) -> Array:
    along, aside = _on_leaf(point[:, 0], point[:, 1])
    vein = 0.6 * np.exp(-((_vein_distance(along, aside) / 0.075) ** 2)) * np.clip(1.15 - np.abs(aside) / 7, 0, 1)
    mottle = 1 + 0.07 * np.sin(1.9 * along + 0.8 * np.sin(1.3 * aside)) * np.sin(1.6 * aside + np.sin(along))
    green = _mixed(_LEAF, _VEIN, np.maximum(vein, np.exp(-((aside / 0.15) ** 2))))
    return np.asarray(green * mottle[:, None])


def _leaf(painted: Painter) -> Solid:
    def place(u: Array, v: Array) -> Array:
        along = _LEAF_LONG * u
        # Blunt behind, drawn to a point ahead.
        wide = _LEAF_WIDE * np.sqrt(np.maximum(1 - u**2, 0)) * (1 - 0.18 * u)
        aside = wide * v
        cosine, sine = np.cos(_LEAF_TURN), np.sin(_LEAF_TURN)
        x, y = along * cosine - aside * sine + _LEAF_MIDDLE[0], aside * cosine + along * sine + _LEAF_MIDDLE[1]
        return np.stack([x, y, leaf_height(x, y)], axis=1)

    return sheet(painted("leaf", _LEAF, _leaf_paint, None), place, along=160, across=104)
