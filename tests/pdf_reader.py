"""What a PDF paints, read by pypdf and a small interpreter of its operators: lines and words in mm, page by page.

Operators and their meaning: ISO 32000-1, annex A. A point is 25.4 / 72 mm there.
"""

import io
import re
from dataclasses import dataclass, field, replace

import numpy as np
import pypdf

POINT = 25.4 / 72
_EVERYWHERE = (-np.inf, -np.inf, np.inf, np.inf)


@dataclass(frozen=True, eq=False)
class Line:
    points: np.ndarray  # (n, 2) mm; where closed, the first point comes again
    width: float  # mm
    dashes: tuple[float, ...]  # mm
    colour: tuple[float, ...]
    filled: bool
    clip: tuple[float, float, float, float]  # left, bottom, right, top, mm

    @property
    def closed(self):
        return len(self.points) > 2 and np.array_equal(self.points[0], self.points[-1])

    @property
    def length(self):
        return float(np.hypot(*np.diff(self.points, axis=0).T).sum())


@dataclass(frozen=True, eq=False)
class Word:
    text: str
    start: np.ndarray  # (2,) mm, where the first letter stands
    corners: np.ndarray  # (4, 2) mm, about the letters
    size: float  # points
    angle: float  # degrees
    clip: tuple[float, float, float, float]


@dataclass(eq=False)
class Sheet:
    width: float
    height: float
    lines: list[Line] = field(default_factory=list)
    words: list[Word] = field(default_factory=list)

    @property
    def text(self):
        return "\n".join(word.text for word in self.words)


@dataclass(frozen=True)
class _State:
    matrix: np.ndarray = field(default_factory=lambda: np.eye(3))
    width: float = 1.0
    dashes: tuple[float, ...] = ()
    stroke: tuple[float, ...] = (0, 0, 0)
    fill: tuple[float, ...] = (0, 0, 0)
    clip: tuple[float, float, float, float] = _EVERYWHERE
    font: str = ""
    size: float = 0.0
    leading: float = 0.0


def sheets(data: bytes) -> list[Sheet]:
    return [_painted(page) for page in pypdf.PdfReader(io.BytesIO(data)).pages]


def _affine(a, b, c, d, e, f):
    return np.array([[a, b, 0], [c, d, 0], [e, f, 1]], dtype=float)


def _at(points, matrix):
    points = np.atleast_2d(np.asarray(points, dtype=float))
    return (np.column_stack([points, np.ones(len(points))]) @ matrix)[:, :2] * POINT


def _painted(page) -> Sheet:
    box = page.mediabox
    assert (box.left, box.bottom) == (0, 0)
    sheet = Sheet(float(box.width) * POINT, float(box.height) * POINT)
    fonts = {name: _font(entry.get_object()) for name, entry in page["/Resources"]["/Font"].items()}
    state, stack, paths, clipping = _State(), [], [], False
    place = line = np.eye(3)
    for operands, name in page.get_contents().operations:
        name = name.decode()
        numbers = [float(each) for each in operands if not isinstance(each, str | bytes | list)]
        if name == "q":
            stack.append(state)
        elif name == "Q":
            state = stack.pop()
        elif name == "cm":
            state = replace(state, matrix=_affine(*numbers) @ state.matrix)
        elif name == "w":
            state = replace(state, width=numbers[0])
        elif name == "d":
            state = replace(state, dashes=tuple(float(each) * POINT for each in operands[0]))
        elif name in ("RG", "G"):
            state = replace(state, stroke=tuple(numbers))
        elif name in ("rg", "g"):
            state = replace(state, fill=tuple(numbers))
        elif name == "m":
            paths.append([numbers])
        elif name == "l":
            paths[-1].append(numbers)
        elif name == "h":
            paths[-1].append(paths[-1][0])
        elif name == "re":
            x, y, w, h = numbers
            paths.append([[x, y], [x + w, y], [x + w, y + h], [x, y + h], [x, y]])
        elif name in ("W", "W*"):
            clipping = True
        elif name in ("S", "f", "f*", "n"):
            done = [_at(path, state.matrix) for path in paths]
            if clipping:
                (path,) = done
                assert len(path) == 5
                low, high = np.maximum(path.min(0), state.clip[:2]), np.minimum(path.max(0), state.clip[2:])
                state = replace(state, clip=(*low, *high))
            if name != "n":
                filled = name != "S"
                scale = np.sqrt(abs(np.linalg.det(state.matrix)))
                colour, width = (state.fill, 0.0) if filled else (state.stroke, state.width * scale * POINT)
                sheet.lines += [Line(path, width, state.dashes, colour, filled, state.clip) for path in done]
            paths, clipping = [], False
        elif name == "BT":
            place = line = np.eye(3)
        elif name == "Tf":
            state = replace(state, font=str(operands[0]), size=float(operands[1]))
        elif name == "TL":
            state = replace(state, leading=numbers[0])
        elif name == "Tm":
            place = line = _affine(*numbers)
        elif name == "T*":
            place = line = _affine(1, 0, 0, 1, 0, -state.leading) @ line
        elif name == "Tj":
            place = _shown(sheet, state, fonts[state.font], operands[0], place)
        else:
            assert name in ("ET", "gs"), f"{name} is not known here"
    return sheet


def _shown(sheet, state, font, given, place):
    letters, widths = font
    raw = given if isinstance(given, bytes) else given.original_bytes
    text = "".join(letters[code] for code in raw)
    wide = sum(widths[code] for code in raw) / 1000 * state.size
    matrix = place @ state.matrix
    up, down = 0.76 * state.size, -0.24 * state.size
    start = _at([0, 0], matrix)[0]
    corners = _at([[0, down], [wide, down], [wide, up], [0, up]], matrix)
    along = corners[1] - corners[0]
    scale = np.hypot(*matrix[0, :2])
    angle = float(np.degrees(np.arctan2(along[1], along[0])))
    before = sheet.words[-1] if sheet.words else None
    if before is not None and np.allclose(before.corners[1], corners[0], atol=1e-3) and before.angle == angle:
        # A string of letters from several parts of a font.
        corners = np.array([before.corners[0], corners[1], corners[2], before.corners[3]])
        sheet.words[-1] = replace(before, text=before.text + text, corners=corners)
    else:
        sheet.words.append(Word(text, start, corners, state.size * scale, angle, state.clip))
    return _affine(1, 0, 0, 1, wide, 0) @ place


def _font(font):
    """Letters and widths of a font by code; embedded with its own table of letters, or none that is written with."""
    if "/ToUnicode" not in font:
        return {}, {}
    table = font["/ToUnicode"].get_object().get_data().decode("latin-1")
    (body,) = re.findall(r"beginbfchar(.*?)endbfchar", table, flags=re.S)
    letters = {
        int(code, 16): bytes.fromhex(to).decode("utf-16-be")
        for code, to in re.findall(r"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>", body)
    }
    assert "/FontFile2" in font["/FontDescriptor"].get_object()
    return letters, {font["/FirstChar"] + n: float(width) for n, width in enumerate(font["/Widths"])}
