"""Text broken into lines by its true width, so that nothing is cut off: capitals are half as wide again as others."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache

from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

FAMILY = "DejaVu Sans"  # comes with matplotlib, so that pictures are the same everywhere
BODY, SMALL = 11.5, 10.5  # points, of labels, and of lists and explanations
_POINTS = 72  # in an inch


@contextmanager
def any_letters() -> Iterator[None]:
    """Letters that the font lacks are drawn as boxes, without a warning; alternative texts hold them as they are."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        yield


def fitted(text: str, inches: float, *, size: float = SMALL, bold: bool = False, indent: str = "") -> str:
    """Text in lines no wider than so many inches, at this size in points; its own line breaks stay.

    indent: before the second line and those after it. A word wider than a line is broken where it must be.
    """
    return "\n".join(_broken(line, inches, size, bold, indent) for line in text.split("\n"))


@lru_cache(maxsize=4096)
def width_of(text: str, *, size: float = SMALL, bold: bool = False) -> float:
    """Width of one line of text at this size in points [inches]."""
    font = FontProperties(family=FAMILY, size=size, weight="bold" if bold else "normal")
    with any_letters():
        return float(text_to_path.get_text_width_height_descent(text, font, False)[0]) / _POINTS


def _broken(text: str, inches: float, size: float, bold: bool, indent: str) -> str:
    space = width_of("n n", size=size, bold=bold) - width_of("nn", size=size, bold=bold)
    margin = len(indent) * space
    lines, words, used = [], "", 0.0
    for given in text.split(" "):
        word = given
        wide = width_of(word, size=size, bold=bold)
        if words and used + space + wide > inches:
            lines.append(words)
            words, used = "", margin
        while not words and used + wide > inches and len(word) > 1:
            end = max(1, int(len(word) * (inches - used) / wide))
            while end > 1 and used + width_of(word[:end], size=size, bold=bold) > inches:
                end -= 1
            lines.append((indent if lines else "") + word[:end])
            word, used = word[end:], margin
            wide = width_of(word, size=size, bold=bold)
        if words:
            words, used = f"{words} {word}", used + space + wide
        else:
            words, used = (indent if lines else "") + word, used + wide
    return "\n".join([*lines, words])
