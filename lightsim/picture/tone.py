"""From linear light to what a screen takes."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def srgb(light: ArrayLike) -> NDArray[np.float64]:
    """Linear light, 1 being white, as sRGB values from 0 to 1; what is brighter than white burns out.

    Source: IEC 61966-2-1 (from memory).
    """
    held = np.clip(np.asarray(light, float), 0.0, 1.0)
    return np.asarray(np.where(held <= 0.0031308, 12.92 * held, 1.055 * held ** (1 / 2.4) - 0.055))
