"""Focus: depth of field, diffraction, and the chance that a swaying camera catches it."""

from __future__ import annotations

from dataclasses import dataclass

from lightsim.rig.place import PlacedRig
from lightsim.sheet.given import number
from lightsim.shot.rocking import chance_of_one, frames_for

WAVELENGTH = 550e-6  # mm, where the eye sees best (common practice)
AIRY = 1.21967  # radius of the first dark ring in wavelengths times f-number: first zero of J1 over pi


@dataclass(frozen=True)
class Focus:
    """What is sharp at one magnification, and how often. Lengths in mm; on the sensor unless said otherwise."""

    working_f_number: float
    blur_circle: float  # that counts as sharp
    depth: float  # depth of field by rays, at the subject: what stays within the blur circle
    wave_depth: float  # over which diffraction hides a wrong focus, at the subject; sharp it is by depth alone
    airy: float  # diameter of the spot that diffraction makes of a point
    pixel: float  # width
    sway: float  # standard deviation of the plane of focus, at the subject
    chance: float  # that one frame lands within the depth of field
    frames_half: int | None  # to take for an even chance that one lands; None: more than 1000
    frames_most: int | None  # to take for a chance of nine in ten

    @property
    def softened(self) -> bool:
        """Whether diffraction alone spreads a point wider than what counts as sharp, however well it is focused."""
        return self.airy > self.blur_circle


def depth_of_field(*, working_f_number: float, magnification: float, blur_circle: float) -> float:
    """Depth of field at the subject by rays, before and behind the plane of focus together [mm].

    working_f_number : effective f-number, of the light at the sensor; blur_circle : diameter that counts as sharp [mm]
    Raises ValueError in words for numbers that are not above 0.
    Source: 2 N_w c / m^2, which is 2 N c (1 + m / P) / m^2 (close-up handbooks, from memory), good where
    the depth is small against the distance. Derived here too: the blur on the sensor is m^2 times the error of focus
    over N_w.
    """
    circle = number("blur_circle", blur_circle, least=1e-6, most=1000, unit="mm", example=0.03)
    return 2 * _f_number(working_f_number) * circle / _magnification(magnification) ** 2


def wave_depth(*, working_f_number: float, magnification: float) -> float:
    """Depth at the subject over which diffraction hides a wrong focus [mm], at 550 nm.

    It grows as the lens is stopped down, and all that lies in it is alike, not sharp: see Focus.softened.
    Raises ValueError in words for numbers that are not above 0.
    Source: wavelength / NA^2 with NA = m / (2 N_w) (microscopy textbooks, from memory; the constant differs between
    authors). Plus and minus half of it is a quarter of a wave at the edge of the pupil: Rayleigh's limit.
    """
    aperture = _magnification(magnification) / (2 * _f_number(working_f_number))
    return WAVELENGTH / aperture**2


def airy_diameter(*, working_f_number: float) -> float:
    """Diameter of the first dark ring about the image of a point in focus, on the sensor [mm], at 550 nm.

    Raises ValueError in words for an f-number that is not above 0.
    Source: Airy's pattern of a round aperture, 2 x 1.21967 wavelength N_w (optics textbooks, from memory).
    """
    return 2 * AIRY * WAVELENGTH * _f_number(working_f_number)


def focus_of(placed: PlacedRig) -> Focus:
    """Depth of field, diffraction and rocking through focus of a placed rig, with the sway its file states."""
    camera, shot, magnification = placed.rig.camera, placed.rig.shot, placed.magnification
    f_number = placed.working_f_number
    depth = depth_of_field(working_f_number=f_number, magnification=magnification, blur_circle=camera.sharp)
    half, most = (
        frames_for(
            chance,
            depth=depth,
            sway=shot.sway,
            sway_time=shot.sway_time,
            frame_time=shot.frame_time,
        )
        for chance in (0.5, 0.9)
    )
    return Focus(
        working_f_number=f_number,
        blur_circle=camera.sharp,
        depth=depth,
        wave_depth=wave_depth(working_f_number=f_number, magnification=magnification),
        airy=airy_diameter(working_f_number=f_number),
        pixel=camera.sensor[0] / camera.pixels[0],
        sway=shot.sway,
        chance=chance_of_one(depth=depth, sway=shot.sway),
        frames_half=half,
        frames_most=most,
    )


def _f_number(value: float) -> float:
    return number("working_f_number", value, least=0.01, most=1e6, example=16)


def _magnification(value: float) -> float:
    return number("magnification", value, least=1e-6, most=1000, example=1)
