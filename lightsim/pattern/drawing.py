"""A piece as lines and words, the one description from which PDF, SVG and DXF are written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from textwrap import wrap
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lightsim.pattern.piece import Label, Layer, Piece
from lightsim.pattern.rings import GRID

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_ARROW, _BARB = 24.0, 3.0  # mm, greatest length of the grain arrow and of its barbs
_LEAST = 1.8  # mm, height of letters that are read without effort
_LETTER = 0.64  # width of a letter over its height, about
_LINE = 1.4  # from line to line, in heights
_MARGIN = 1.0  # mm, from a caption to whatever is near it
_WRAPS = 36, 24  # letters a line, of long names
_PLACES = 25  # places across and up where a caption is tried


@dataclass(frozen=True)
class Stroke:
    """One line."""

    layer: Layer
    points: NDArray[np.float64]  # (n, 2) mm
    closed: bool = False
    text: str = ""  # what it is: "outline", "hole", "fold 90 degrees"
    toward: bool = False  # a fold that comes toward the eye


@dataclass(frozen=True)
class Drawing:
    """Lines and words in mm, +x right, +y up."""

    name: str
    strokes: tuple[Stroke, ...]
    labels: tuple[Label, ...]
    caption: int = 0  # how many of the last labels are lines of one text, first line first


def drawn(piece: Piece, *, keep_clear: Sequence[NDArray[np.float64]] = ()) -> Drawing:
    """A piece in its own coordinates.

    keep_clear : boxes (2, 2) mm that its caption avoids if it can
    """
    strokes = [Stroke(Layer.CUT, piece.outline, True, "outline")]
    strokes += [Stroke(Layer.CUT, hole, True, "hole") for hole in piece.holes]
    strokes += [
        Stroke(
            Layer.SCORE,
            np.array([fold.start, fold.end]),
            text=f"fold {abs(np.degrees(fold.angle)):.0f} degrees",
            toward=fold.angle < 0,
        )
        for fold in piece.folds
    ]
    strokes += [Stroke(Layer.MARK, mark.points, mark.closed, mark.text) for mark in piece.marks]
    caption, arrow = _caption(piece, keep_clear)
    # The word at the arrow comes before the lines, which keep their order where the piece is turned.
    words = sorted(caption, key=lambda label: label.text != "grain" or not arrow)
    return Drawing(piece.name, (*strokes, *arrow), (*piece.labels, *words), caption=len(caption) - (1 if arrow else 0))


@dataclass(frozen=True)
class _Block:
    """Lines of words, one below the other, and an arrow below them, about the middle of their box."""

    lines: tuple[str, ...]
    letter: float  # mm, height of its letters
    angle: float  # radians, of the words
    grain: tuple[float, float] | None  # as the piece states it

    @property
    def arrow(self) -> NDArray[np.float64]:
        """The arrow seen along the words, (2,) mm, none without a grain."""
        if self.grain is None:
            return np.zeros(2)
        sine, cosine = np.sin(self.angle), np.cos(self.angle)
        return np.array([[cosine, sine], [-sine, cosine]]) @ self.grain * min(_ARROW, 7 * self.letter)

    @property
    def size(self) -> NDArray[np.float64]:
        """Width and height of its box along the words, (2,) mm."""
        widest = max(map(_letters, self.lines)) * _LETTER * self.letter
        height = self._pitch * (len(self.lines) - 1) + self.letter
        if self.grain is None:
            return np.array([widest, height])
        across, up = abs(self.arrow) + _BARB
        return np.array([max(widest, across, 5 * self._pitch), height + 1.5 * self._pitch + up])

    @property
    def box(self) -> NDArray[np.float64]:
        """Width and height of its box on the piece, (2,) mm."""
        return self.size[::-1] if self.angle else self.size

    @property
    def _pitch(self) -> float:
        return _LINE * self.letter

    def at(self, middle: NDArray[np.float64]) -> tuple[list[Label], list[Stroke]]:
        """Its lines and its arrow about a place."""
        down = np.array([np.sin(self.angle), -np.cos(self.angle)])
        top = middle - down * self.size[1] / 2
        labels = [
            Label(line, top + down * (self.letter / 2 + number * self._pitch), self.letter, self.angle)
            for number, line in enumerate(self.lines)
        ]
        if self.grain is None:
            return labels, []
        word = labels[-1].place + 1.2 * self._pitch * down
        labels.append(Label("grain", word, max(_LEAST, 0.7 * self.letter), self.angle))
        length = float(np.hypot(*self.arrow))
        return labels, _arrow(middle + down * (self.size[1] - abs(self.arrow[1]) - _BARB) / 2, self.grain, length)


def _caption(piece: Piece, keep_clear: Sequence[NDArray[np.float64]]) -> tuple[list[Label], list[Stroke]]:
    """What the piece is, as large as there is room and in its middle if that is free, and the way of the grain."""
    import shapely

    sheet = shapely.Polygon(piece.outline, piece.holes)
    # Words keep clear of the marks, the letters and the tabs.
    taken = [shapely.LineString(mark.points).buffer(2.0) for mark in piece.marks]
    taken += [
        shapely.Point(label.place).buffer(0.5 * max(1.0, _LETTER * _letters(label.text)) * label.height)
        for label in piece.labels
    ]
    taken += [shapely.Polygon(tab.outline) for tab in piece.tabs]
    taken += [shapely.LineString([fold.start, fold.end]).buffer(1.0) for fold in piece.folds]
    free = shapely.difference(sheet, shapely.union_all(taken), grid_size=GRID) if taken else sheet
    open_sides = [shapely.box(*box.ravel()) for box in keep_clear]
    for region in (free.difference(shapely.union_all(open_sides)), free) if open_sides else (free,):
        places = _places(region, sheet)
        for block in _blocks(piece):
            middle = _place(region, places, block.box)
            if middle is not None:
                return block.at(middle)
    # No room for anything: the name all the same, so small that it stays on the piece.
    middle = np.array(shapely.maximum_inscribed_circle(sheet, tolerance=0.1).coords[0])
    room = float(shapely.maximum_inscribed_circle(sheet, tolerance=0.1).length)
    return [Label(piece.name, middle, min(_LEAST, 1.8 * room / max(_LETTER * _letters(piece.name), 1)))], []


def _blocks(piece: Piece) -> Iterator[_Block]:
    """What could be written on a piece, best first: all of it before the name alone, large before small."""
    others = [*([f"one of {piece.copies}"] if piece.copies > 1 else []), f"this is the {piece.side}"]
    names = [[piece.name], *(wrap(piece.name, width) or [piece.name] for width in _WRAPS)]
    materials = [[piece.material], *(wrap(piece.material, width) or [piece.material] for width in _WRAPS)]
    large, small = (4.0, 3.2, 2.5), (2.1, _LEAST)
    for grain, letters in ((piece.grain, large), (piece.grain, small), (None, small)):
        for name, material in zip(names, materials, strict=True):
            for angle, letter in product((0.0, np.pi / 2), letters):
                yield _Block((*name, *material, *others), letter, angle, grain)
    for grain, angle, letter in product(dict.fromkeys((piece.grain, None)), (0.0, np.pi / 2), (*large, *small)):
        yield _Block((piece.name,), letter, angle, grain)
    for angle, letter in product((0.0, np.pi / 2), (1.5, 1.2, 1.0)):
        yield _Block((piece.name,), letter, angle, None)


def _places(region: BaseGeometry, sheet: BaseGeometry) -> NDArray[np.float64]:
    """Where words may stand, (n, 2) mm: in the middle of the sheet, else where most room is."""
    import shapely

    low, high = np.reshape(region.bounds, (2, 2)) if not region.is_empty else np.zeros((2, 2))
    grid = np.stack(np.meshgrid(*np.linspace(low, high, _PLACES).T), axis=-1).reshape(-1, 2)
    middle = np.array(sheet.centroid.coords[0])
    found = np.concatenate([[middle], grid])
    found = found[shapely.contains_xy(region, *found.T)]
    rooms = np.round(shapely.distance(shapely.points(found), region.boundary), 1)
    first = (found == middle).all(axis=1) & (rooms > 0.6 * rooms.max(initial=0.0))
    far = np.hypot(*(found - middle).T)
    return np.asarray(found[np.lexsort((far, -rooms, ~first))])


def _place(region: BaseGeometry, places: NDArray[np.float64], box: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """The first of these places where a box and a margin lie on a region."""
    import shapely

    half = box / 2 + _MARGIN
    shapely.prepare(region)
    fits = shapely.covers(region, shapely.box(*(places - half).T, *(places + half).T))
    return places[int(fits.argmax())] if fits.any() else None


def _letters(text: str) -> int:
    """How many letters wide a text is about: those that fonts lack are told by their number in Unicode."""
    return sum(9 if ord(letter) > 0xFFFF else 1 for letter in text)


def _arrow(middle: NDArray[np.float64], way: tuple[float, float], length: float) -> list[Stroke]:
    """A line with barbs at both ends."""
    along = np.array(way)
    across = np.array([-along[1], along[0]])
    ends = middle + np.array([[-length / 2], [length / 2]]) * along
    barb = min(_BARB, length / 5)
    strokes = [Stroke(Layer.MARK, ends, text="grain")]
    for end, sign in zip(ends, (1, -1), strict=True):
        tips = [end + barb * (sign * along + side * 0.5 * across) for side in (1, -1)]
        strokes.append(Stroke(Layer.MARK, np.array([tips[0], end, tips[1]]), text="grain"))
    return strokes


def moved(drawing: Drawing, *, shift: NDArray[np.float64], turned: bool = False) -> Drawing:
    """A drawing turned by a quarter anticlockwise about the origin if turned, then shifted by (2,) mm."""
    quarter = np.array([[0.0, -1.0], [1.0, 0.0]]) if turned else np.eye(2)
    angle = np.pi / 2 if turned else 0.0
    labels = [replace(each, place=quarter @ each.place + shift, angle=each.angle + angle) for each in drawing.labels]
    first = len(labels) - drawing.caption
    lines = labels[first:]
    if lines and np.cos(lines[0].angle) < -0.5:
        # Words are written the right way up: upside down, the first line would come last.
        texts = [line.text for line in reversed(lines)]
        lines = [replace(line, text=text, angle=line.angle - np.pi) for line, text in zip(lines, texts, strict=True)]
    return replace(
        drawing,
        strokes=tuple(replace(each, points=each.points @ quarter.T + shift) for each in drawing.strokes),
        labels=(*labels[:first], *lines),
    )


def extent(drawing: Drawing) -> NDArray[np.float64]:
    """Least and greatest coordinates of the lines of a drawing, (2, 2) mm."""
    points = np.concatenate([stroke.points for stroke in drawing.strokes])
    return np.array([points.min(axis=0), points.max(axis=0)])
