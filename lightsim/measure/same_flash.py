"""How bright designs come out beside each other at one setting of flash and aperture."""

from __future__ import annotations

from collections.abc import Sequence
from math import log2

from lightsim.measure.report import Report

_LIGHT = "exposure.full_power"


def stops_darker(reports: Sequence[Report]) -> tuple[float | None, ...]:
    """Stops of each picture against the brightest of them, at most 0; None where no light arrives.

    The same flash setting, marked f-number and ISO; heads by their guide numbers. What each picture loses by the
    effective f-number and the glass of its lens is in it (exposure.lens_stops).
    """
    seen = [
        None if not light else log2(light) - report.lens_stops for report in reports for light in [report[_LIGHT].value]
    ]
    most = max((stops for stops in seen if stops is not None), default=0.0)
    return tuple(None if stops is None else stops - most for stops in seen)
