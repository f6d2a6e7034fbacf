"""Colour of flash and daylight together, and the light in a watt of such radiation.

Colour temperatures are mixed in mired, a million over kelvin: equal steps in mired look about alike (Priest 1933, from
memory), and mixtures of two lights lie near the mean of their mireds, weighted by their light. docs/theory.md, The
shot.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from lightsim.rig.errors import fault
from lightsim.rig.place import PlacedRig

MIRED = 1e6  # mired times kelvin
SEEN = 10.0  # mired: a cast that most people see side by side (common practice, no source)
_BALANCE_STEP = 100.0  # K, as cameras set it
_MOST_LUMENS = 683.002  # lm/W, at the eye's best wavelength (CIE S 017:2020 from the SI, from memory)
_SECOND_RADIATION_CONSTANT = 1.438776877e7  # nm K (CODATA 2018, from memory)
# Spectral luminous efficiency for photopic vision, 380 to 780 nm in steps of 10 nm (CIE 1924, ISO 23539, from memory).
_STEP = 10.0  # nm
_EYE = (
    3.9e-5, 0.00012, 0.000396, 0.00121, 0.004, 0.0116, 0.023, 0.038, 0.06, 0.09098, 0.13902, 0.20802, 0.323, 0.503,
    0.71, 0.862, 0.954, 0.99495, 0.995, 0.952, 0.87, 0.757, 0.631, 0.503, 0.381, 0.265, 0.175, 0.107, 0.061, 0.032,
    0.017, 0.00821, 0.004102, 0.002091, 0.001047, 0.00052, 0.000249, 0.00012, 6e-5, 3e-5, 1.5e-5,
)  # fmt: skip


@dataclass(frozen=True)
class Colour:
    """Colour of the light on the subject."""

    flash_kelvin: float  # of all heads together
    ambient_kelvin: float
    ambient_share: float  # of the light on the subject, 0 to 1
    mixed_kelvin: float  # of flash and day together on the subject
    shift: float  # mired, of the mixture against the flash alone: negative is bluer
    behind: float  # mired, of what the day alone lights against the mixture: negative is bluer
    white_balance: float  # K, to set and keep, in steps of 100 K


def mired(kelvin: float) -> float:
    """Reciprocal colour temperature [1/MK]. Raises ValueError below or at 0 K."""
    if not kelvin > 0:
        raise fault(
            "colour temperature", f"{kelvin:g} K", what="no light has this colour", allowed="above 0 K", remedy="5500 K"
        )
    return MIRED / kelvin


def mixed(*, kelvin: float, other_kelvin: float, other_share: float) -> float:
    """Colour temperature of two lights together [K], by their shares of the luminous exposure, in mired.

    First order: exact for equal colours. Flash of 5500 K with daylight of 6500 K in any shares is right to 0.3 mired,
    with shade of 9000 K to 1.5 mired, against mixtures of the radiation of black bodies (tests/test_colour.py).
    Raises ValueError for a share outside 0 to 1.
    """
    if not 0 <= other_share <= 1:
        raise fault(
            "share of the light",
            f"{other_share:g}",
            what="a share lies between nothing and all",
            allowed="0 to 1",
            remedy=f"{other_share / 100:g} if it was a percentage",
        )
    return MIRED / ((1 - other_share) * mired(kelvin) + other_share * mired(other_kelvin))


def flash_kelvin(placed: PlacedRig) -> float:
    """Colour temperature of all heads together [K]: mean in mired, weighted by the light that each sends out.

    What arrives from each at the subject may divide otherwise; heads of one colour are exact.
    """
    pairs = zip(placed.heads, placed.rig.head, strict=True)
    return MIRED / sum(head.share * mired(spec.kelvin) for head, spec in pairs)


def colour_of(placed: PlacedRig, *, flash_exposure: float, ambient_exposure: float) -> Colour:
    """Colour of the light on the subject, from the luminous exposures by flash and by the day [lx s].

    The white balance is to be set by hand and kept: then no frame differs from the next, whatever colour the subject
    and the leaves around it have. It is the flash's own while the day shifts the subject by less than SEEN, so that it
    stays the same at all magnifications, and the mixture's beyond. Common practice, no source.
    Raises ValueError for exposures below 0, and where both are 0.
    """
    total = flash_exposure + ambient_exposure
    if min(flash_exposure, ambient_exposure) < 0 or not 0 < total < np.inf:
        raise fault(
            "light on the subject",
            f"{flash_exposure:g} lx s by flash, {ambient_exposure:g} lx s by the day",
            what="no colour follows from these",
            allowed="0 or more each, and some light in all",
            remedy="the exposures that the plan works with",
        )
    flash, ambient = flash_kelvin(placed), placed.rig.shot.ambient_kelvin
    share = ambient_exposure / total
    both = mixed(kelvin=flash, other_kelvin=ambient, other_share=share)
    shift = mired(both) - mired(flash)
    kept = flash if abs(shift) < SEEN else both
    return Colour(
        flash_kelvin=flash,
        ambient_kelvin=ambient,
        ambient_share=share,
        mixed_kelvin=both,
        shift=shift,
        behind=mired(ambient) - mired(both),
        white_balance=_BALANCE_STEP * round(kept / _BALANCE_STEP),
    )


@lru_cache(maxsize=64)
def luminous_efficacy(kelvin: float) -> float:
    """Luminous efficacy of the radiation of a black body over all wavelengths, infrared in it [lm/W].

    About 90 lm/W at 5500 K. Planck's law weighted by the eye over the Stefan-Boltzmann law; derived here.
    """
    mired(kelvin)  # refuses what is no temperature
    wavelength = 380 + _STEP * np.arange(len(_EYE))  # nm
    x = _SECOND_RADIATION_CONSTANT / (wavelength * kelvin)
    # The integral of x^3 / (e^x - 1) over all x is pi^4 / 15; dx = x / wavelength d(wavelength).
    share = (np.array(_EYE) * x**4 / np.expm1(x) / wavelength).sum() * _STEP * 15 / np.pi**4
    return float(_MOST_LUMENS * share)
