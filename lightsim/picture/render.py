"""The renderer: a subject lit by a rig, as the camera sees it, in linear light.

    seen = render(ball(radius=1.5, refractive_index=1.56), illumination_of(light, view_of(light)),
                  camera=(0, 0, 95), frame=(4, 4), pixels=(200, 200))
    seen.linear     # (200, 200, 3), row 0 on top; a white card facing the lens at the subject is 1

Subjects: `ball` and `wing_case` (lightsim.picture.beetle) for highlights, `beetle()` for the portrait.

What it reckons: direct light from samples at their true places, with the subject's own shadows; the mirror image of
the true luminance map in smooth clear coats, by Fresnel; where a mirrored ray meets the subject itself, the light which
that part sends; one bounce of light from each part of the subject, the leaf above all, to the others.
What it leaves out: light mirrored by one part onto another, depth of field, the glare of a lens. Light that moves
within the subject is seen from the reference point: a source is as bright towards all of it as towards that point.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from lightsim.picture.bounce import OFF, ONCE, Lit, lit, shadowed, share_of
from lightsim.picture.coat import coat_of
from lightsim.picture.illumination import Illumination, Lamps, illumination_of, lamps_of
from lightsim.picture.solids import Landing, Rays, Subject

__all__ = ["Illumination", "Rendered", "illumination_of", "render"]

Point = tuple[float, float, float]
Pair = tuple[float, float]
NOTHING = -1
_KEPT = 16  # sights kept for the next light: four of a portrait, four of a ball and of a wing case
_MOST_KEPT = 200_000  # pixels of a sight that is kept
_NEAR = 2  # pixels about a landing that tell whether it lies at the edge of a shadow
_SHIFT = (0.7548776662466927, 0.5698402909980532)  # of pixels against each other: Roberts' R2 sequence


@dataclass(frozen=True)
class Rendered:
    """A picture in linear light."""

    linear: NDArray[np.float64]  # (rows, columns, 3) luminance; a white card facing the lens is 1; row 0 on top
    solid: NDArray[np.int32]  # (rows, columns) number of the solid at one point of each pixel, NOTHING where none


@dataclass(frozen=True)
class _Frame:
    """Where the camera stands and what it frames in the plane of focus."""

    camera: Point
    size: Pair  # mm
    centre: Pair  # mm
    pixels: tuple[int, int]  # columns, rows

    def rays(self, across: float, down: float) -> tuple[Rays, Rays]:
        """Start and direction of a ray through each pixel, row by row, at this place in it, 0 to 1."""
        columns, rows = self.pixels
        x = self.centre[0] + ((np.arange(columns) + across) / columns - 0.5) * self.size[0]
        y = self.centre[1] + (0.5 - (np.arange(rows) + down) / rows) * self.size[1]
        target = np.zeros((rows, columns, 3))
        target[:, :, 0], target[:, :, 1] = x, y[:, None]
        way = target.reshape(-1, 3) - np.array(self.camera)
        way /= np.linalg.norm(way, axis=1)[:, None]
        return np.tile(np.array(self.camera, np.float32), (rows * columns, 1)), way.astype(np.float32)


@dataclass(frozen=True, eq=False)
class _Sight:
    """What a ray through each pixel meets, whatever the light: k landings, c of them on a coat."""

    landing: Landing  # .ray is the pixel
    index: NDArray[np.float64]  # (k,) of the coat
    body: Rays  # (k, 3) luminance toward the camera over pi times the light that was let in
    coated: NDArray[np.intp]  # (c,) which landings
    mirrored: Rays  # (c, 3) where their mirror images lie
    fresnel: Rays  # (c,) share that is mirrored
    blocked: Landing  # what of the subject the mirrored rays meet; .ray numbers the coated landings
    missed: NDArray[np.intp]  # pixels that show nothing of the subject
    beyond: Rays  # (missed, 3) directions of their rays


def render(
    subject: Subject,
    illumination: Illumination,
    *,
    camera: Point,
    frame: Pair,
    pixels: tuple[int, int],
    centre: Pair = (0.0, 0.0),
    across: int = 2,
    samples: int = 2,
    more: int = 8,
    bounces: int = 1,
    surroundings: bool = False,
    progress: Callable[[float], None] | None = None,
) -> Rendered:
    """A subject as the camera sees it.

    camera: (3,) mm, the middle of the lens front; frame: width and height in the plane of focus (z = 0), mm;
    centre: (2,) mm, its middle there; pixels: columns and rows; across: points each way in a pixel; samples: rays
    toward the light from each of them; more: further ones where shadow and light meet; bounces: of light between the
    parts of the subject; surroundings: show what the light's map has behind the subject, else black;
    progress: told the share that is done, 0 to 1
    Raises ValueError for a frame, pixels or numbers of samples that are not positive, and a camera in or behind the
    plane of focus.
    """
    if min(*frame, *pixels, across, samples) <= 0 or min(more, bounces) < 0:
        raise ValueError(f"frame {frame} mm, pixels {pixels}, across {across}, samples {samples}: all must be above 0")
    if not camera[2] > 0:
        raise ValueError(f"camera at {camera} mm: it must stand before the plane of focus (z above 0)")
    tell = progress or (lambda share: None)
    tell(0.0)
    passes = across * across
    lamps = lamps_of(illumination, quantiles=max(2 * len(illumination.weight), 4 * passes * (samples + more)))
    light = lit(subject, lamps, bounces=bounces)
    view = _Frame(camera, frame, centre, pixels)
    count = pixels[0] * pixels[1]
    see = _sight if count <= _MOST_KEPT else _sight.__wrapped__
    linear, solid = np.zeros((count, 3)), np.full(count, NOTHING, np.int32)
    tell(1 / (passes + 1))
    for number in range(passes):
        with ONCE:
            sight = see(subject, view, across, number)
        direct = np.einsum("kc,kc->k", sight.landing.share, light.direct[subject.faces[sight.landing.triangle]])
        direct *= _share(subject, lamps, sight, view, samples=samples, more=more, turn=number / passes)
        linear += _luminance(subject, illumination, light, sight, view, direct, surroundings=surroundings)
        if number == passes // 2:
            solid[sight.landing.ray] = subject.solid[sight.landing.triangle]
        tell((number + 2) / (passes + 1))
    shape = (pixels[1], pixels[0])
    return Rendered(linear.reshape(*shape, 3) / (passes * illumination.white), solid.reshape(shape))


def _share(
    subject: Subject, lamps: Lamps, sight: _Sight, view: _Frame, *, samples: int, more: int, turn: float
) -> NDArray[np.float32]:
    """Share of the direct light that gets to each landing, (k,).

    Where all landings for two pixels around get all of it, or nothing, a few samples are enough: a shadow that all
    of these miss is lost.
    """
    landing, (columns, rows) = sight.landing, view.pixels
    if subject.convex:
        return np.ones(len(landing.ray), np.float32)
    first = (landing.ray % columns * _SHIFT[0] + landing.ray // columns * _SHIFT[1]) % 1.0
    given, got = shadowed(
        subject, lamps, landing.point, landing.normal, sight.index, first=first, samples=samples, turn=turn
    )
    if more:
        dark, light = np.zeros(rows * columns, bool), np.zeros(rows * columns, bool)
        dark[landing.ray], light[landing.ray] = got < given, got > 0
        mixed = np.flatnonzero((_around(dark, view) & _around(light, view))[landing.ray])
        further = shadowed(
            subject,
            lamps,
            landing.point[mixed],
            landing.normal[mixed],
            sight.index[mixed],
            first=first[mixed] + 0.5 / (samples + more),
            samples=more,
            turn=turn,
        )
        given[mixed] += further[0]
        got[mixed] += further[1]
    return share_of(given, got)


def _around(there: NDArray[np.bool_], view: _Frame) -> NDArray[np.bool_]:
    """Whether a thing is there for any pixel at most two away, (pixels,)."""
    columns, rows = view.pixels
    padded = np.pad(there.reshape(rows, columns), _NEAR)
    wide = np.logical_or.reduce([padded[:, step : step + columns] for step in range(2 * _NEAR + 1)])
    return np.asarray(np.logical_or.reduce([wide[step : step + rows] for step in range(2 * _NEAR + 1)]).ravel())


def _luminance(
    subject: Subject,
    illumination: Illumination,
    light: Lit,
    sight: _Sight,
    view: _Frame,
    direct: NDArray[np.float64],
    *,
    surroundings: bool,
) -> NDArray[np.float64]:
    """Luminance of each pixel by one ray through it, (pixels, 3); direct: (k,) illuminance of the landings."""
    landing = sight.landing
    corner = subject.faces[landing.triangle]
    received = np.einsum("kc,kcx->kx", landing.share, light.indirect[corner]) + direct[:, None]
    value = sight.body * received / np.pi
    start = landing.point[sight.coated].astype(float)
    free = np.ones(len(start), bool)
    free[sight.blocked.ray] = False
    image = np.zeros((len(start), 3))
    image[free] = illumination.mirrored(start[free], sight.mirrored[free].astype(float))[:, None]
    seen = subject.faces[sight.blocked.triangle]
    sent = np.einsum("kc,kcx->kx", sight.blocked.share, light.sent[seen])
    image[sight.blocked.ray] = sent * sight.blocked.front[:, None]
    value[sight.coated] += image * sight.fresnel[:, None]
    result = np.zeros((view.pixels[0] * view.pixels[1], 3))
    result[landing.ray] = np.where(landing.front[:, None], value, 0)
    if surroundings and len(sight.missed):
        way = sight.beyond.astype(float)
        focus = np.array(view.camera) - way * (view.camera[2] / way[:, 2])[:, None]
        result[sight.missed] = illumination.mirrored(focus, way)[:, None]
    return result


@lru_cache(maxsize=_KEPT)
def _sight(subject: Subject, view: _Frame, across: int, number: int) -> _Sight:
    """What the number-th ray of across x across through each pixel meets."""
    start, way = view.rays((number % across + 0.5) / across, (number // across + 0.5) / across)
    landing = subject.meet(start, way)
    index = subject.index[subject.solid[landing.triangle]]
    paint = subject.paint(landing)
    toward = -way[landing.ray]
    cosine = np.clip(np.einsum("kx,kx->k", toward, landing.normal), 0, 1)
    body, mirrors = paint.copy(), np.zeros(len(index), np.float32)
    for each in np.unique(index[index > 1]):
        here, coat = np.flatnonzero(index == each), coat_of(float(each))
        out = coat.lets_in(cosine[here])
        body[here] = coat.body(paint[here]) * out[:, None]
        mirrors[here] = 1 - out
    coated = np.flatnonzero((index > 1) & landing.front)
    normal = landing.normal[coated]
    mirrored = 2 * np.einsum("kx,kx->k", toward[coated], normal)[:, None] * normal - toward[coated]
    may_hide = slice(0, 0) if subject.convex else slice(None)
    blocked = subject.meet((landing.point[coated] + np.float32(OFF) * normal)[may_hide], mirrored[may_hide])
    missed = np.setdiff1d(np.arange(len(way)), landing.ray, assume_unique=True)
    return _Sight(landing, index, body, coated, mirrored, mirrors[coated], blocked, missed, way[missed])
