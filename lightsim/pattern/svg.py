"""A sheet with its pieces as SVG in millimetres, for cutting machines and drawing programs."""

from __future__ import annotations

import drawsvg
import numpy as np
from numpy.typing import NDArray

from lightsim.pattern.circles import circle_of
from lightsim.pattern.drawing import Stroke
from lightsim.pattern.lettering import angle, font_size, line_middle
from lightsim.pattern.pack import SHEET_EDGE, CutSheet, sheet_drawing
from lightsim.pattern.piece import Label, Layer
from lightsim.rig.errors import one_line

_DIGITS = 4  # after the point, of coordinates in mm
# Machines tell what to do by colour (common practice, no source), other eyes and black printers by the dashes.
_STYLE = {
    Layer.CUT: {"stroke": "#ff0000"},
    Layer.SCORE: {"stroke": "#0000ff", "stroke_dasharray": "3 1.5"},
    Layer.MARK: {"stroke": "#008000", "stroke_dasharray": "0.6 0.6"},
}
_WIDTH = 0.2  # mm, of lines


def svg_text(sheet: CutSheet, *, title: str) -> str:
    """An SVG document of a sheet, one unit a millimetre, y down, a group for each of the layers cut, score and mark.

    The page is the sheet, so that its edge is not drawn. Fine regular rings are circles (circles.circle_of).
    """
    drawing = sheet_drawing(sheet)
    picture = drawsvg.Drawing(_plain(sheet.width), _plain(sheet.height))
    picture.svg_args |= {"width": f"{_plain(sheet.width)}mm", "height": f"{_plain(sheet.height)}mm"}
    picture.append_title(one_line(title))
    for layer in Layer:
        group = drawsvg.Group(id=layer.value, fill="none", stroke_width=_WIDTH, **_STYLE[layer])
        for stroke in drawing.strokes:
            if stroke.layer == layer and stroke.text != SHEET_EDGE:
                group.append(_line(stroke, sheet.height))
        if layer == Layer.MARK:
            group.extend(_words(label, sheet.height) for label in drawing.labels)
        picture.append(group)
    return str(picture.as_svg()) + "\n"


def _line(stroke: Stroke, height: float) -> drawsvg.DrawingBasicElement:
    circle = circle_of(stroke.points) if stroke.closed else None
    if circle is not None:
        return drawsvg.Circle(*_down(circle.centre, height), _plain(circle.radius))
    return drawsvg.Lines(*(number for point in stroke.points for number in _down(point, height)), close=stroke.closed)


def _words(label: Label, height: float) -> drawsvg.Text:
    # Programs disagree on what the middle of a line is: the line that letters stand on is placed instead.
    across, down = _down(line_middle(label), height)
    return drawsvg.Text(
        one_line(label.text),
        _plain(font_size(label)),
        across,
        down,
        transform=f"rotate({_plain(-np.degrees(angle(label)))} {across} {down})",
        text_anchor="middle",
        font_family="sans-serif",
        fill=_STYLE[Layer.MARK]["stroke"],
        stroke="none",
    )


def _down(point: NDArray[np.float64], height: float) -> tuple[float | int, float | int]:
    return _plain(point[0]), _plain(height - point[1])


def _plain(number: float) -> float | int:
    """A number with few digits: 500 for 500.0, and no -0."""
    rounded = round(float(number), _DIGITS) + 0.0
    return int(rounded) if rounded.is_integer() else rounded
