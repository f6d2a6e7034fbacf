"""A smooth clear coat over a matt body: what it mirrors, lets in and lets out again."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from lightsim.light.cast import Floats
from lightsim.sheet.fresnel import fresnel

_STEPS = 4096  # of the cosine


@dataclass(frozen=True, eq=False)
class Coat:
    """A coat of one refractive index; 1 is none.

    Light that gets in is scattered by the body, thrown back by the inside of the coat and scattered again, to the end:
    a share (1 - F in) rho / (n^2 (1 - rho inside)) (1 - F out) / pi of the illuminance leaves as luminance. Source:
    Saunderson, J. Opt. Soc. Am. 32 (1942) 727, in the form for a body that scatters evenly, from memory.
    """

    index: float
    table: NDArray[np.float32]  # share let in by cosine
    mean: float  # of it over evenly spread light
    inside: float  # share of evenly spread light that the coat throws back into the body

    def lets_in(self, cosine: Floats) -> NDArray[np.float32]:
        """Share of light that enters by its cosine, 0 to 1, of any shape; light leaves by the same share."""
        return self.table[(cosine * np.float32(_STEPS) + np.float32(0.5)).astype(np.int32)]

    def body(self, reflectance: Floats) -> Floats:
        """What the body sends out over what it is sent, for what was let in and before it is let out; any shape."""
        return np.asarray(reflectance / (self.index**2 * (1 - self.inside * reflectance)))


@cache
def coat_of(index: float) -> Coat:
    """The coat of this refractive index, 1 or more."""
    cosine = np.linspace(0, 1, _STEPS + 1)
    let_in = 1 - fresnel(refractive_index=index, cosine=cosine) if index > 1 else np.ones(_STEPS + 1)
    mean = float(np.sum((let_in * cosine)[1:] + (let_in * cosine)[:-1])) / _STEPS
    # What leaves a dense body is 1 / n^2 of what a coat lets in: from reciprocity (Duntley 1942, from memory).
    return Coat(index, let_in.astype(np.float32), mean, 1 - mean / index**2)
