"""Where the words of a label stand, for files whose programs set the letters themselves."""

from __future__ import annotations

import numpy as np

from lightsim.pattern.piece import Label, Place

# Of a sans-serif letter, in parts of the font's size: capitals above the line and what hangs below it (from memory;
# fonts differ by some hundredths).
ABOVE, BELOW = 0.72, 0.21
_STEEPEST = np.radians(80)  # down which words are read


def font_size(label: Label) -> float:
    """Size of a sans-serif font whose capitals, and what hangs below them, are as high as the label, mm."""
    return label.height / (ABOVE + BELOW)


def angle(label: Label) -> float:
    """Angle [rad] at which a label reads from left to right or from below upward, wherever its piece was turned.

    Words a little beyond upright still read upward, as those beside them do.
    """
    return float((label.angle + _STEEPEST) % np.pi - _STEEPEST)


def line_middle(label: Label) -> Place:
    """Middle of the line on which the letters stand, (2,) mm."""
    turn = angle(label)
    down = np.array([np.sin(turn), -np.cos(turn)])
    return np.asarray(label.place + down * font_size(label) * (ABOVE - BELOW) / 2)
