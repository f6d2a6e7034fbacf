"""Lines, words and check bars on a PDF page, in millimetres from its lower left."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
from numpy.typing import NDArray
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from lightsim.pattern.clip import Box, clipped
from lightsim.pattern.drawing import Drawing
from lightsim.pattern.lettering import angle as upright
from lightsim.pattern.piece import Label, Layer
from lightsim.pattern.sizes import sizes_told
from lightsim.rig.errors import one_line
from lightsim.rig.units import INCH

POINT = INCH / 72  # mm, ISO 32000-1, 8.3.2.3
BODY, SMALL = 9.0, 7.5  # points
# Okabe & Ito, Color Universal Design (2008), from memory: this blue is told from black by colour-blind eyes, too.
INK, BLUE, GREY, PALE = "#000000", "#0072B2", "#666666", "#BBBBBB"
# Width and dashes [mm] of what is done along a line, told apart without colour.
LINES: dict[Layer, tuple[str, float, tuple[float, ...]]] = {
    Layer.CUT: (INK, 0.3, ()),
    Layer.SCORE: (BLUE, 0.3, (4.0, 2.0)),
    Layer.MARK: (GREY, 0.2, (0.8, 0.6)),
}
TOWARD = (BLUE, 0.3, (6.0, 1.5, 0.6, 1.5))  # a fold that comes toward the eye
BY = " × "  # between width and height on pages, whose fonts have the sign
BAR, SQUARE = 100.0, 50.0  # mm
INCHES = 4.0  # of the bar beside it in rigs that state inches
_TICK = 1.2  # mm from the bar to the end of its ticks
# The fonts come with matplotlib. Capitals stand so high and letters hang so low, in parts of the font's size.
_FACES = {False: ("lightsim", "DejaVuSans.ttf"), True: ("lightsim-bold", "DejaVuSans-Bold.ttf")}
_ABOVE, _BELOW = 0.729, 0.236


@lru_cache(maxsize=2)
def _face(bold: bool) -> TTFont:
    name, file = _FACES[bold]
    font = TTFont(name, str(Path(matplotlib.get_data_path()) / "fonts" / "ttf" / file))
    pdfmetrics.registerFont(font)
    return font


# Words


def legible(text: str) -> str:
    """One line in which letters that the font lacks are told by their number in Unicode, such as [U+1FAB2]."""
    known = _face(False).face.charToGlyph
    return "".join(letter if ord(letter) in known else f"[U+{ord(letter):04X}]" for letter in one_line(text))


def _font(text: str, bold: bool) -> TTFont:
    """The bold face has fewer letters than the other."""
    known = _face(bold).face.charToGlyph
    return _face(bold and all(ord(letter) in known for letter in text))


def width_of(text: str, *, size: float = BODY, bold: bool = False) -> float:
    """Width of one line [mm] at a size in points."""
    text = legible(text)
    return float(_font(text, bold).stringWidth(text, size)) * POINT


def fitted(text: str, width: float, *, size: float = BODY, bold: bool = False) -> str:
    """The beginning of a text that is no wider than so many mm."""
    text = legible(text)
    if width_of(text, size=size, bold=bold) <= width:
        return text
    while text and width_of(text.rstrip() + "…", size=size, bold=bold) > width:
        text = text[:-1]
    return text.rstrip() + "…"


def wrapped(text: str, width: float, *, size: float = BODY, bold: bool = False) -> list[str]:
    """A text in lines no wider than so many mm; a word that is wider is broken."""
    lines = [""]
    for word in legible(text).split():
        joined = f"{lines[-1]} {word}".lstrip()
        if width_of(joined, size=size, bold=bold) <= width:
            lines[-1] = joined
            continue
        lines.append("")
        for letter in word:
            if lines[-1] and width_of(lines[-1] + letter, size=size, bold=bold) > width:
                lines.append("")
            lines[-1] += letter
    return [line for line in lines if line] or [""]


def words(
    canvas: Canvas,
    text: str,
    place: tuple[float, float],
    *,
    size: float = BODY,
    bold: bool = False,
    align: float = 0.0,
    angle: float = 0.0,
    colour: str = INK,
) -> None:
    """One line of words that stands at a place [mm].

    align : share of its width that lies before the place, 0.5 for the middle
    angle : radians, anticlockwise about the place
    """
    text = legible(text)
    canvas.saveState()
    canvas.setFillColor(colour)
    canvas.translate(place[0] / POINT, place[1] / POINT)
    canvas.rotate(float(np.degrees(angle)))
    font = _font(text, bold)
    canvas.setFont(font.fontName, size)
    canvas.drawString(-align * font.stringWidth(text, size), 0, text)
    canvas.restoreState()


def label(canvas: Canvas, given: Label, *, shift: NDArray[np.float64]) -> None:
    """A label of a piece, never upside down: its place is the middle of its words."""
    angle = upright(given)
    size = _font_size(given)
    down = size * (_ABOVE - _BELOW) / 2 * np.array([-np.sin(angle), np.cos(angle)])
    x, y = given.place + shift - down
    words(canvas, given.text, (x, y), size=size / POINT, align=0.5, angle=angle)


def _font_size(given: Label) -> float:
    """Size of the font of a label, mm."""
    return given.height / (_ABOVE + _BELOW)


def label_box(given: Label) -> Box:
    """The box about the words of a label, in the frame of its drawing."""
    half = np.array([width_of(given.text, size=_font_size(given) / POINT), given.height]) / 2
    sine, cosine = abs(np.sin(given.angle)), abs(np.cos(given.angle))
    reach = np.array([[cosine, sine], [sine, cosine]]) @ half
    return np.array([given.place - reach, given.place + reach])


# Lines


def line(
    canvas: Canvas,
    points: NDArray[np.float64],
    *,
    colour: str = INK,
    width: float = 0.2,
    dashes: Sequence[float] = (),
    fill: bool = False,
) -> None:
    """A line through points (n, 2) mm, closed where it ends at its start; fill paints what it encloses instead."""
    canvas.setStrokeColor(colour)
    canvas.setFillColor(colour)
    canvas.setLineWidth(width / POINT)
    canvas.setDash([dash / POINT for dash in dashes])
    path = canvas.beginPath()
    closed = len(points) > 2 and bool((points[0] == points[-1]).all())
    first, *others = (points[:-1] if closed else points) / POINT
    path.moveTo(*first)
    for point in others:
        path.lineTo(*point)
    if closed:
        path.close()
    canvas.drawPath(path, stroke=int(not fill), fill=int(fill))


def rectangle(box: Box) -> NDArray[np.float64]:
    """The closed line around a box, (5, 2)."""
    (left, bottom), (right, top) = box
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top], [left, bottom]])


def strokes(canvas: Canvas, drawing: Drawing, *, box: Box, shift: NDArray[np.float64]) -> None:
    """The lines of a drawing within a box of its frame, then shifted by (2,) mm."""
    for stroke in drawing.strokes:
        colour, width, dashes = TOWARD if stroke.toward else LINES[stroke.layer]
        for part in clipped(stroke.points, box, closed=stroke.closed):
            line(canvas, part + shift, colour=colour, width=width, dashes=dashes)


def labels(
    canvas: Canvas, drawing: Drawing, *, box: Box, shift: NDArray[np.float64], touching: Box | None = None
) -> None:
    """The words of a drawing within a box of its frame, then shifted by (2,) mm.

    touching : box that they must reach into, by default the same
    """
    wanted = box if touching is None else touching
    with only_within(canvas, box + shift):
        for each in drawing.labels:
            low, high = label_box(each)
            if (low < wanted[1]).all() and (wanted[0] < high).all():
                label(canvas, each, shift=shift)


@contextmanager
def only_within(canvas: Canvas, box: Box) -> Iterator[None]:
    """Nothing is painted outside a box in this block."""
    canvas.saveState()
    path = canvas.beginPath()
    path.rect(*(box[0] / POINT), *((box[1] - box[0]) / POINT))
    canvas.clipPath(path, stroke=0, fill=0)
    yield
    canvas.restoreState()


def check_bar(canvas: Canvas, left: float, height: float, *, length: float, text: str) -> None:
    """A bar of this length [mm] with ticks at its ends, and what it is behind it."""
    right = left + length
    line(canvas, np.array([[left, height], [right, height]]))
    for end in (left, right):
        line(canvas, np.array([[end, height - _TICK], [end, height + _TICK]]))
    words(canvas, text, (right + 2, height - 0.9), size=SMALL)


def check_bars(canvas: Canvas, left: float, top: float, *, unit: str) -> None:
    """The bar of 100 mm, and in rigs that state inches one of 4 in below, in 7 mm below top."""
    text = f"100 mm = {sizes_told((BAR,), unit)}" if unit == "inch" else "100 mm"
    if unit == "inch":
        check_bar(canvas, left, top - 1.5, length=BAR, text=text)
        check_bar(canvas, left, top - 5.0, length=INCHES * INCH, text=f"{INCHES:g} in = {INCHES * INCH:g} mm")
    else:
        check_bar(canvas, left, top - 3.25, length=BAR, text=text)


def new_canvas(file: Any, *, title: str, subject: str) -> Canvas:
    """A canvas whose file holds no time of day: the same pages give the same bytes."""
    canvas = Canvas(file, invariant=1, pageCompression=1, lang="en")
    canvas.setTitle(one_line(title))
    canvas.setSubject(one_line(subject))
    canvas.setCreator("lightsim")
    canvas.setAuthor("")
    return canvas


def listed(names: Iterable[str]) -> str:
    """Names with commas, those that come again counted: "gore (3 times), rim"."""
    counts: dict[str, int] = {}
    for name in names:
        counts[name] = counts.get(name, 0) + 1
    return ", ".join(name if count == 1 else f"{name} ({count} times)" for name, count in counts.items())
