"""The beam of a head: how its light falls with the angle from the axis.

A beam is round, or wider one way than the other: across is along the width of the window, up along its height.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Annotated, Any

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, PlainValidator, PrivateAttr, model_validator

from lightsim.rig.placement import Model
from lightsim.rig.units import Number
from lightsim.sheet.lengths import plain_number

MOST_INTENSITY = 1e6  # of a beam, relative to its axis
MOST_POWER = 500.0
NARROWEST, WIDEST = 3.1, 89.0  # degrees, half-value angles of cos^500 and of all but an even half-space
EVEN = 60.0  # degrees, half-value angle of a window that glows evenly, cos^1

EachWay = float | tuple[float, float]  # the same all round, or across and up


def _each_way(least: float, most: float) -> Callable[[Any], EachWay | None]:
    """Reads one number, or [across, up]. Raises ValueError in words."""

    def one(value: Any) -> float:
        number = plain_number(value)
        if not np.isfinite(number):
            raise ValueError("this is not a number that one could measure")
        if not least <= number <= most:
            small = number < least
            raise ValueError(f"this is too {'small' if small else 'large'}. Try {least if small else most:g}")
        return number

    def read(value: Any) -> EachWay | None:
        if value is None or not isinstance(value, list | tuple):
            return None if value is None else one(value)
        if len(value) != 2:
            raise ValueError(f"this holds {len(value)} numbers. Try one number, or two: [across, up]")
        return one(value[0]), one(value[1])

    return read


@dataclass(frozen=True)
class Table:
    """Intensity by the angle from the axis and the way around it, from a photometric file.

    digest : stands for all the rest where tables are compared
    angle : (k,) degrees from the axis, rising from 0 to at most 90
    around : (n,) degrees, rising from 0 (to the right, along the window's width) by 90 (up) to 360, as seen from behind
        the head
    intensity : (n, k) over that on the axis; straight between the angles both ways, nothing beyond the last one
    """

    digest: str
    angle: NDArray[np.float64] = field(compare=False, repr=False)
    around: NDArray[np.float64] = field(compare=False, repr=False)
    intensity: NDArray[np.float64] = field(compare=False, repr=False)

    def __post_init__(self) -> None:
        for array in (self.angle, self.around, self.intensity):
            array.flags.writeable = False

    def at(self, angle: NDArray[np.float64], around: NDArray[np.float64]) -> NDArray[np.float64]:
        """Intensity over that on the axis, (m,), bilinear; angle and around (m,) in degrees, around in any turn."""
        turn = np.mod(around, 360.0)
        row = np.clip(np.searchsorted(self.around, turn, side="right") - 1, 0, len(self.around) - 2)
        column = np.clip(np.searchsorted(self.angle, angle, side="right") - 1, 0, len(self.angle) - 2)
        down = (turn - self.around[row]) / (self.around[row + 1] - self.around[row])
        along = (angle - self.angle[column]) / (self.angle[column + 1] - self.angle[column])
        first = self.intensity[row, column] * (1 - along) + self.intensity[row, column + 1] * along
        second = self.intensity[row + 1, column] * (1 - along) + self.intensity[row + 1, column + 1] * along
        return np.asarray(np.where(angle > self.angle[-1], 0.0, first * (1 - down) + second * down))


class Beam(Model):
    """Angular profile of a head: powers of the cosine, half-value angles, a table, or a photometric file."""

    cos_power: Annotated[
        EachWay | None,
        PlainValidator(_each_way(0.0, MOST_POWER)),
        Field(
            description="m of an intensity that falls as cos^m of the angle from the axis, from 0 to 500, or two of "
            "them for a beam that is no circle: [across, up], along width and height of the window"
        ),
    ] = None
    half_value_angle: Annotated[
        EachWay | None,
        PlainValidator(_each_way(NARROWEST, WIDEST)),
        Field(
            description=f"degrees from the axis at which the intensity is half of that on the axis (half of the full "
            f"angle of a data sheet), from {NARROWEST:g} to {WIDEST:g}, or two of them: [across, up]; try [39, 30]"
        ),
    ] = None
    angle: Annotated[
        tuple[Annotated[Number, Field(ge=0, le=90)], ...],
        Field(
            max_length=500,
            description="degrees from the axis, rising from 0 to at most 90, at most 500; try [0, 30, 60]",
        ),
    ] = ()
    intensity: Annotated[
        tuple[Annotated[Number, Field(ge=0, le=1e9)], ...],
        Field(
            max_length=500,
            description="intensity at each angle in any unit, each from 0 to 1e9; try [1, 0.5, 0]",
        ),
    ] = ()
    file: Annotated[
        Annotated[str, Field(min_length=1, max_length=500, pattern=r"^[^\x00-\x1f]+$")] | None,
        Field(
            description="a photometric file by ANSI/IES LM-63 (.ies), type C, its path as seen from the folder of the "
            "rig file"
        ),
    ] = None
    _table: Table | None = PrivateAttr(None)

    @model_validator(mode="after")
    def _one_way(self) -> Beam:
        ways = (self.cos_power, self.half_value_angle, self.angle or None, self.file)
        if sum(way is not None for way in ways) != 1 or (self.intensity and not self.angle):
            raise ValueError(
                "a beam needs one description. Allowed: one of cos_power, half_value_angle, file, or a table of angle "
                "and intensity. Try cos_power = 5"
            )
        if self.angle:
            steps = [after - before for before, after in zip(self.angle, self.angle[1:], strict=False)]
            if len(self.angle) != len(self.intensity) or not steps or min(steps) < 0.01 or self.angle[0] != 0:
                raise ValueError(
                    f"angle has {len(self.angle)} numbers, intensity {len(self.intensity)}. Allowed: equally many, at "
                    "least two, with angles that begin at 0 and rise by at least 0.01 degrees. "
                    "Try angle = [0, 30, 60], intensity = [1, 0.5, 0]"
                )
            if not 0 < max(self.intensity) <= MOST_INTENSITY * self.intensity[0]:
                raise ValueError(
                    f"intensity is {self.intensity[0]:g} on the axis and {max(self.intensity):g} at most. Allowed: "
                    "above 0 on the axis, where the guide number is measured, and nowhere more than a million times "
                    "that. Try intensity = [1, 0.5, 0]"
                )
        return self

    @property
    def powers(self) -> tuple[float, float] | None:
        """m of the cosine across and up; None for tables and files.

        Half-value angles a are the powers ln 0.5 / ln cos a; between the two directions the intensity is
        cos^(m_across cos^2 phi + m_up sin^2 phi). Source: M. Ashikhmin & P. Shirley, An anisotropic Phong BRDF model,
        2000, for such lobes about the halfway vector.
        """
        if self.half_value_angle is not None:
            across, up = _pair(self.half_value_angle)
            return cos_power_of(across), cos_power_of(up)
        return None if self.cos_power is None else _pair(self.cos_power)

    @property
    def round_power(self) -> float | None:
        """m of a beam that falls as cos^m all round; None for any other."""
        if isinstance(self.cos_power, float):
            return self.cos_power
        powers = self.powers
        return powers[0] if powers is not None and powers[0] == powers[1] else None

    @property
    def table(self) -> Table:
        """What stands in the photometric file.

        Raises ValueError if the file was not read: rig.photometric.with_file does so.
        """
        if self._table is None:
            raise ValueError(f"the file {self.file} of this beam was not read. Try placing the rig first")
        return self._table

    def with_table(self, table: Table) -> Beam:
        """The same beam with the content of its file."""
        beam = self.model_copy()
        beam._table = table
        return beam


def cos_power_of(angle: float) -> float:
    """m of an intensity cos^m that is half at this angle [degrees]."""
    return float(-1 / np.log2(np.cos(np.radians(angle))))


def beam_solid_angle(beam: Beam) -> float:
    """Energy over axial intensity, sr: the integral of I / I(0) over the half-space.

    2 pi / sqrt((m_across + 1) (m_up + 1)) for powers of the cosine; exact for tables that are straight between their
    angles. Derived here. Raises ValueError for a photometric file that was not read.
    """
    power, powers = beam.round_power, beam.powers
    if power is not None:
        return 2 * np.pi / (power + 1)
    if powers is not None:
        return float(2 * np.pi / np.sqrt((powers[0] + 1) * (powers[1] + 1)))
    if beam.file is not None:
        table = beam.table
        mean: NDArray[np.float64] = np.asarray(np.trapezoid(table.intensity, table.around, axis=0) / 360)
        return _solid_angle(table.angle, mean)
    return _solid_angle(np.array(beam.angle), np.array(beam.intensity) / beam.intensity[0])


def half_value_angle(beam: Beam, *, around: float = 0.0) -> float:
    """Angle at which the intensity of a beam is half of that on its axis [degrees].

    around : the way to go, in degrees from the right by up; of no account for round beams
    90, or the last angle of a table, if it never is.
    """
    powers = beam.powers
    if powers is not None:
        across, up = np.cos(np.radians(around)) ** 2, np.sin(np.radians(around)) ** 2
        power = powers[0] if powers[0] == powers[1] else float(powers[0] * across + powers[1] * up)
        return float(np.degrees(np.arccos(2.0 ** (-1 / power)))) if power > 0 else 90.0
    if beam.file is not None:
        table = beam.table
        angle, intensity = table.angle, table.at(table.angle, np.full(len(table.angle), around))
    else:
        angle, intensity = np.array(beam.angle), np.array(beam.intensity) / beam.intensity[0]
    dark = np.flatnonzero(intensity < 0.5)
    if not len(dark):
        return float(angle[-1])  # beyond the table there is no light
    after = int(dark[0])
    part = (intensity[after - 1] - 0.5) / (intensity[after - 1] - intensity[after])
    return float(angle[after - 1] + part * (angle[after] - angle[after - 1]))


def _pair(value: EachWay) -> tuple[float, float]:
    return value if isinstance(value, tuple) else (value, value)


def _solid_angle(degrees: NDArray[np.float64], intensity: NDArray[np.float64]) -> float:
    """2 pi int I sin d(angle) of an intensity that is straight between the given angles."""
    angle = np.radians(degrees)
    lower, upper = angle[:-1], angle[1:]
    slope = np.diff(intensity) / np.diff(angle)
    constant = intensity[:-1] - slope * lower
    piece = constant * (np.cos(lower) - np.cos(upper)) + slope * (
        np.sin(upper) - upper * np.cos(upper) - np.sin(lower) + lower * np.cos(lower)
    )
    return float(2 * np.pi * piece.sum())
