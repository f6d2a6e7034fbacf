"""lightsim: what a home-made flash diffuser will do to the light on a small shiny subject, before you cut it.

rig = lightsim.load("white-box")     # a ready design, or the path of a rig file
light = lightsim.trace(rig)          # light paths, until the illuminance is known to 0.5 %
arrivals = light.at((0, 0, 0))       # numpy arrays: where light at the subject comes from, and how much
report = lightsim.report(light)      # all figures with error bars, verdict, what a test frame should show
plan = lightsim.plan(light, report)  # settings to start from, power left, and what limits the picture
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from lightsim.light.light import Light
    from lightsim.measure.report import Report
    from lightsim.rig.load import LoadedRig
    from lightsim.shot.plan import Plan

__version__ = "0.1.0"
__all__ = ["load", "plan", "report", "trace"]


def load(path_or_name: str | Path) -> LoadedRig:
    """Read and validate a rig: the path of a rig file, or the name of a ready design.

    Raises lightsim.rig.errors.RigError, one paragraph, for whatever is wrong with it.
    """
    from lightsim.rig.load import load as read

    return read(path_or_name)


def trace(rig: LoadedRig, *, magnification: int = 0, error: float = 0.005, seed: int = 1) -> Light:
    """Trace a rig until the illuminance facing the lens is known to a relative standard error.

    magnification: which of the rig's magnifications, counted from 0; error: 0.005 is half a per cent; seed: of the
    random numbers. Raises RigError if the rig cannot be placed or no light reaches the subject.
    """
    from lightsim.light.light import light_of
    from lightsim.rig.load import placed

    return light_of(placed(rig, magnification), error=error, seed=seed)


def report(light: Light, *, check_backward: bool = False) -> Report:
    """All figures of a traced rig with their error bars and the ranges that their materials give them.

    check_backward runs the second estimator beside the first.
    """
    from lightsim.measure.report import report as make
    from lightsim.measure.report import with_ranges

    return with_ranges(make(light, check_backward=check_backward), light)


def plan(light: Light, report: Report) -> Plan:
    """The plan of a shot from a traced rig and its report: settings to start from, power left, what limits the picture.

    Raises RigError where no light falls on the side of the subject that faces the lens.
    """
    from lightsim.shot.plan import plan_of

    return plan_of(light, report)
