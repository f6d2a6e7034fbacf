"""Sizes of paper and card, and how they are written."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from lightsim.rig.errors import fault, given
from lightsim.rig.units import INCH

# ISO 216; Letter and Tabloid: ANSI/ASME Y14.1 (from memory), in inches.
PAPERS: dict[str, tuple[float, float]] = {
    "A4": (210.0, 297.0),
    "Letter": (8.5 * INCH, 11 * INCH),
}
SIZES: dict[str, tuple[float, float]] = {
    **PAPERS,
    "A3": (297.0, 420.0),
    "A2": (420.0, 594.0),
    "A1": (594.0, 841.0),
    "Tabloid": (11 * INCH, 17 * INCH),
}
LEAST, MOST = 20.0, 5000.0  # mm
EDGE = 5.0  # mm, free along the edges of a sheet


def told(length: float, unit: str) -> str:
    """A length [mm] in words, to a tenth of a millimetre or a hundredth of an inch; finer where that would say 0."""
    value, digits, name = (length / INCH, 2, "in") if unit == "inch" else (length, 1, "mm")
    if 0 < abs(value) < 10**-digits:
        digits += 1
    return f"{value:.{digits}f} {name}"


def sizes_told(lengths: Sequence[float], unit: str, *, by: str = " x ") -> str:
    """Lengths [mm] beside each other in words, with by between them: "170.8 x 110.8 mm", "6.72 x 4.36 in"."""
    numbers = [f"{length / INCH:.2f}" if unit == "inch" else f"{round(length, 1):g}" for length in lengths]
    return f"{by.join(numbers)} {'in' if unit == 'inch' else 'mm'}"


def has_room(extent: NDArray[np.float64], sheet: tuple[float, float]) -> bool:
    """Whether a box (2,) mm lies on a sheet (width, height) with EDGE free all round, either way."""
    return bool((np.sort(extent) <= np.sort(sheet) - 2 * EDGE).all())


def sheet_size(text: str, *, unit: str = "mm") -> tuple[float, float]:
    """Width and height [mm] of a sheet such as "A3" or "500x700", the latter in unit ("mm" or "inch").

    Raises RigError for anything else.
    """
    name = {each.casefold(): each for each in SIZES}.get(text.strip().casefold())
    if name is not None:
        return SIZES[name]
    scale = INCH if unit == "inch" else 1.0
    sides = text.casefold().replace("×", "x").removesuffix("mm" if unit == "mm" else "in").split("x")
    try:
        width, height = (float(side) * scale for side in sides)
    except ValueError:
        width = height = 0.0
    if not (LEAST <= width <= MOST and LEAST <= height <= MOST):
        names = ", ".join(SIZES)
        raise fault(
            f"--sheet {given(text)}",
            what="this is no size of a sheet",
            allowed=f"{names}, or width x height from {LEAST / scale:.3g} to {MOST / scale:.4g} {unit} each",
            remedy="500x700" if unit == "mm" else "20x28",
        )
    return width, height
