"""From the light at the subject to the exposure on the sensor: what a setting asks for, and whether the flash has it.

Meters do not agree what a right exposure is. One that reads light sent back takes a luminance L for mid-grey if
N^2 / t = L S / K, one that reads light that falls in takes an illuminance E if N^2 / t = E S / C (ISO 2720 as quoted by
Conrad). With K = 12.5 and a card of 18 % that is 0.2 stops less light than with C = 250, and 0.6 less than with
C = 330. Guide numbers mean C = 250, so figures do; the others make a range. docs/theory.md, The shot.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from lightsim.light.estimate import Estimate
from lightsim.light.light import SUBJECT, Light
from lightsim.measure.falloff import FACING_LENS
from lightsim.measure.illuminance import plane_samples
from lightsim.measure.ratio import ratio_in_stops
from lightsim.rig.beam import beam_solid_angle
from lightsim.rig.camera import USUAL_TRANSMITTANCE, Lens
from lightsim.rig.head import C
from lightsim.rig.place import PlacedRig

K = 12.5  # cd s/m2 at ISO 1: exposure constant of reflected light (ISO 2720 as quoted by Conrad: 10.6 to 13.4)
C_DOME = 330.0  # lx s at ISO 1: incident light, as meters with a dome often have it (common practice, no source)
GREY = 0.18  # reflectance of mid-grey (common practice, no source)
Q = 0.65  # exposure of the sensor over L t / N^2, a lens of USUAL_TRANSMITTANCE in it: ISO 12232 (from memory)
PER_SQUARE_METRE = 1e6  # from 1/mm2


class Calibration(NamedTuple):
    """One way to say which light makes mid-grey."""

    name: str
    constant: float  # lx s at ISO 1 on the subject, for mid-grey at f/1


CALIBRATIONS = (
    Calibration(f"reflected light, K = {K:g}, a card of {100 * GREY:g} %", np.pi * K / GREY),
    Calibration(f"incident light, C = {C:g}, as guide numbers have it", C),
    Calibration(f"incident light, C = {C_DOME:g}", C_DOME),
)
NOMINAL = CALIBRATIONS[1]


def luminous_energy(placed: PlacedRig) -> float:
    """Luminous energy of all heads at full power by their guide numbers [lm s], C = 250.

    Axial intensity C GN^2 / S times the beam's solid angle. Source: ISO 1230 and ISO 2720 (from memory).
    """
    return sum(head.axial_intensity * beam_solid_angle(head.beam) for head in placed.heads)


def exposure_needed(
    *,
    working_f_number: float,
    iso: float,
    placement: float = 0.0,
    reflectance: float = GREY,
    transmittance: float = USUAL_TRANSMITTANCE,
    calibration: Calibration = NOMINAL,
) -> float:
    """Luminous exposure on the subject, facing the lens, that brings it out as wished [lx s].

    placement : stops brighter than mid-grey; reflectance : of the subject, as of a matt surface
    transmittance : of the lens; the constants hold for USUAL_TRANSMITTANCE
    Source: N^2 = H S / C, or N^2 = L S / K with L = reflectance H / pi (ISO 2720 as quoted by Conrad).
    """
    wished = 2.0**placement * GREY / reflectance * USUAL_TRANSMITTANCE / transmittance
    return float(calibration.constant * working_f_number**2 / iso * wished)


def sensor_exposure(
    *, exposure: float, reflectance: float, working_f_number: float, transmittance: float = USUAL_TRANSMITTANCE
) -> float:
    """Luminous exposure of the sensor [lx s] by a matt subject that gets so much [lx s].

    Source: H = q L t / N^2, q = 0.65 with a lens of USUAL_TRANSMITTANCE (ISO 12232, from memory). 10 / S of it is
    mid-grey by standard output sensitivity.
    """
    luminance = reflectance * exposure / np.pi  # times the time
    return float(Q * transmittance / USUAL_TRANSMITTANCE * luminance / working_f_number**2)


def needed_of(placed: PlacedRig, *, calibration: Calibration = NOMINAL) -> float:
    """What the settings of a rig ask for at the subject [lx s], the light of the day included."""
    rig = placed.rig
    return exposure_needed(
        working_f_number=placed.working_f_number,
        iso=rig.shot.iso,
        placement=rig.shot.placement,
        reflectance=rig.subject.reflectance,
        transmittance=rig.lens.transmittance,
        calibration=calibration,
    )


def headroom(light: Light) -> Estimate | None:
    """Stops from what the settings ask for up to full power of the flash alone; negative: it is too weak.

    None where no light arrives.
    """
    full = plane_samples(light.at(SUBJECT), FACING_LENS) * (PER_SQUARE_METRE * luminous_energy(light.placed))
    return ratio_in_stops(full, np.full(len(full), needed_of(light.placed)))


def lens_stops(lens: Lens, *, working_f_number: float) -> float:
    """Stops that the picture loses against the marked f-number and a lens of USUAL_TRANSMITTANCE; may be negative.

    2 log2 of the effective f-number over the marked one, and log2 of the transmittances. Derived here.
    """
    lost = 2 * np.log2(working_f_number / lens.f_number)
    return float(lost + np.log2(USUAL_TRANSMITTANCE / lens.transmittance))
