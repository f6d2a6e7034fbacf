"""Parts of lines within a box."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.pattern.drawing import Drawing

Box = NDArray[np.float64]  # (2, 2) mm, lower left and upper right


def segments(drawing: Drawing) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Starts and ends of all straight lines, (n, 2) mm each."""
    starts = [stroke.points if stroke.closed else stroke.points[:-1] for stroke in drawing.strokes]
    ends = [
        np.roll(stroke.points, -1, axis=0)[: len(start)] for stroke, start in zip(drawing.strokes, starts, strict=True)
    ]
    return np.concatenate(starts), np.concatenate(ends)


def crossed(starts: NDArray[np.float64], ends: NDArray[np.float64], box: Box) -> bool:
    """Whether any of these straight lines, (n, 2) mm, has a part within a box."""
    first, last = _within(starts, ends, box)
    return bool((last > first).any())


def clipped(points: NDArray[np.float64], box: Box, *, closed: bool) -> list[NDArray[np.float64]]:
    """The parts of a line of straight pieces, (n, 2) mm, within a box; a whole closed line ends where it starts."""
    ends = np.roll(points, -1, axis=0) if closed else points[1:]
    starts = points[: len(ends)]
    first, last = _within(starts, ends, box)
    parts: list[list[NDArray[np.float64]]] = []
    joined = False  # whether the line before went on to its end
    for start, end, enter, leave in zip(starts, ends, first, last, strict=True):
        if leave <= enter:
            joined = False
            continue
        if not (joined and enter == 0):
            parts.append([start + enter * (end - start)])
        parts[-1].append(start + leave * (end - start) if leave < 1 else end)
        joined = leave == 1
    if closed and joined and len(parts) > 1 and first[0] == 0 and last[0] > 0:
        parts[0] = parts.pop() + parts[0][1:]
    return [np.array(part) for part in parts]


def _within(
    starts: NDArray[np.float64], ends: NDArray[np.float64], box: Box
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where straight lines enter and leave a box, as shares of their length, (n,) each; enter >= leave outside.

    Source: Liang and Barsky, ACM Transactions on Graphics 3, 1 (1984), from memory.
    """
    way = ends - starts
    still = way == 0
    divisor = np.where(still, 1.0, way)
    at = np.stack([(box[0] - starts) / divisor, (box[1] - starts) / divisor])
    inside = (box[0] <= starts) & (starts <= box[1])
    enter = np.where(still, np.where(inside, -np.inf, np.inf), at.min(axis=0))
    leave = np.where(still, np.where(inside, np.inf, -np.inf), at.max(axis=0))
    first, last = np.maximum(enter.max(axis=1), 0.0), np.minimum(leave.min(axis=1), 1.0)
    return first, np.where(still.all(axis=1), first, last)
