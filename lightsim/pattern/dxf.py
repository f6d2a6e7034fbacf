"""A sheet with its pieces as DXF (R2010) in millimetres, for cutting machines and drawing programs."""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager
from io import StringIO

import numpy as np

from lightsim.pattern.circles import circle_of
from lightsim.pattern.drawing import Stroke
from lightsim.pattern.lettering import ABOVE, angle, font_size, line_middle
from lightsim.pattern.pack import SHEET_EDGE, CutSheet, sheet_drawing
from lightsim.pattern.piece import Label, Layer
from lightsim.rig.errors import one_line

# On import ezdxf lists the fonts of the machine in the user's cache, for other uses than ours, and complains aloud
# where that cannot be written.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())

import ezdxf  # noqa: E402
from ezdxf.document import Drawing as Document  # noqa: E402
from ezdxf.enums import TextEntityAlignment  # noqa: E402
from ezdxf.layouts.layout import Modelspace  # noqa: E402

SHEET_LAYER = "sheet"  # the edge of the sheet, switched off for output: no machine should follow it
_MILLIMETRES, _METRIC = 4, 1  # $INSUNITS, $MEASUREMENT
_DASHES = {"dashed": [4.5, 3.0, -1.5], "dotted": [1.2, 0.6, -0.6]}  # mm: the whole, line, gap
# Colours by their number: 1 red, 3 green, 5 blue, 8 grey.
_LAYERS = {Layer.CUT: (1, "Continuous"), Layer.SCORE: (5, "dashed"), Layer.MARK: (3, "dotted")}


def dxf_text(sheet: CutSheet, *, title: str) -> str:
    """A DXF document of a sheet in mm, for a file in UTF-8: layers cut, score, mark, and the sheet's edge in one that
    is not output.

    Rings are closed polylines, fine regular ones circles (circles.circle_of), folds lines, words text. It holds no
    time and no random number: the same sheet gives the same text.
    """
    with _without_time():
        document = ezdxf.new("R2010")
        _set_up(document, sheet, title)
        space = document.modelspace()
        drawing = sheet_drawing(sheet)
        for stroke in drawing.strokes:
            _add_line(space, stroke)
        for label in drawing.labels:
            _add_words(space, label)
        _sort_classes(document)
        stream = StringIO()
        document.write(stream)
    return stream.getvalue()


@contextmanager
def _without_time() -> Iterator[None]:
    """ezdxf writes fixed times and identifiers in this block; its setting is put back afterwards."""
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before


def _set_up(document: Document, sheet: CutSheet, title: str) -> None:
    document.header["$INSUNITS"] = _MILLIMETRES
    document.header["$MEASUREMENT"] = _METRIC
    document.header["$EXTMIN"], document.header["$EXTMAX"] = (0.0, 0.0, 0.0), (sheet.width, sheet.height, 0.0)
    document.header["$LIMMIN"], document.header["$LIMMAX"] = (0.0, 0.0), (sheet.width, sheet.height)
    document.header.custom_vars.append("Title", one_line(title))
    document.set_modelspace_vport(1.05 * max(sheet.width, sheet.height), (sheet.width / 2, sheet.height / 2))
    for name, pattern in _DASHES.items():
        document.linetypes.add(name, pattern)
    for layer, (colour, linetype) in _LAYERS.items():
        document.layers.add(layer.value, color=colour, linetype=linetype)
    document.layers.add(SHEET_LAYER, color=8, plot=False)


def _sort_classes(document: Document) -> None:
    """ezdxf writes the classes that every DXF has in the order of a set, which differs from process to process."""
    document.classes.add_required_classes(document.dxfversion)
    ordered = sorted(document.classes.classes.items())
    document.classes.classes.clear()
    document.classes.classes.update(ordered)


def _add_line(space: Modelspace, stroke: Stroke) -> None:
    where = {"layer": SHEET_LAYER if stroke.text == SHEET_EDGE else stroke.layer.value}
    circle = circle_of(stroke.points) if stroke.closed else None
    if circle is not None:
        space.add_circle(circle.centre.tolist(), circle.radius, dxfattribs=where)
    elif stroke.closed or len(stroke.points) > 2:
        space.add_lwpolyline(stroke.points.tolist(), close=stroke.closed, dxfattribs=where)
    else:
        start, end = stroke.points.tolist()
        space.add_line(start, end, dxfattribs=where)


def _add_words(space: Modelspace, label: Label) -> None:
    words = space.add_text(
        _escaped(label.text),
        height=font_size(label) * ABOVE,  # DXF's height is that of capitals
        rotation=float(np.degrees(angle(label))),
        dxfattribs={"layer": Layer.MARK.value},
    )
    words.set_placement(line_middle(label).tolist(), align=TextEntityAlignment.CENTER)


def _escaped(text: str) -> str:
    """A text in which DXF sees no codes: two percent signs, a caret and a backslash with U+ or M+ begin one."""
    plain = re.sub(r"%(?=%)|\\(?=[UM]\+)", r"\g<0> ", one_line(text))
    return plain.replace("^", "^ ")
