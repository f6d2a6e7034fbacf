"""Numbers as a rig file states them: lengths in its own unit become millimetres, everything else stays as it is."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field

from lightsim.sheet.lengths import INCH as INCH
from lightsim.sheet.lengths import millimetres, plain_number

SMALLEST = 0.1  # mm
LARGEST = 10_000.0  # mm
SIZE_RANGE = "from 0.1 mm to 10 m"


def _none_or_enough(value: float) -> float:
    if 0 < value < SMALLEST:
        raise ValueError(f"a size is either 0 or at least {SMALLEST} mm. Try 0 or {SMALLEST} mm")
    return value


# A length or a distance either way, mm. Read from a file in inches with context={"scale": INCH}; the limits hold in
# mm, after the conversion. Validating what is already in mm once more must go without that context.
Length = Annotated[float, BeforeValidator(millimetres), Field(ge=-LARGEST, le=LARGEST, allow_inf_nan=False)]
Size = Annotated[Length, Field(ge=SMALLEST)]
SizeOrNone = Annotated[Length, Field(ge=0), AfterValidator(_none_or_enough)]
# A plain number: text, true and false are none.
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
# An angle as files state it, degrees.
Angle = Annotated[float, BeforeValidator(plain_number), Field(ge=-360, le=360, allow_inf_nan=False)]
