"""From what was typed to reports."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import lightsim
from lightsim.cli.progress import progress
from lightsim.light.light import Light
from lightsim.measure.report import Report
from lightsim.rig.errors import fault, naming
from lightsim.rig.load import LoadedRig
from lightsim.shot.plan import Plan, has_plan, plan_of


@dataclass(frozen=True)
class Asked:
    """How exactly, with which random numbers, with the second estimator or not, with the light kept or not."""

    error: float
    seed: int
    backward: bool
    keep_light: bool = False
    plan: bool = False  # whether the settings of the shot are wanted


@dataclass(frozen=True)
class Result:
    """A rig at one magnification and what came out."""

    loaded: LoadedRig
    report: Report
    light: Light | None  # kept for charts only: it may hold 200 MB
    varied: tuple[str, str, float] | None = None  # key, unit and value of a number that was varied
    plan: Plan | None = None  # where it was asked for and light falls on the side that faces the lens


def result(loaded: LoadedRig, index: int, asked: Asked) -> Result:
    """The report of a rig at its index-th magnification. Raises RigError if it cannot be placed or lit."""
    with naming(loaded.file):
        light = lightsim.trace(loaded, magnification=index, error=asked.error, seed=asked.seed)
    report = lightsim.report(light, check_backward=asked.backward)
    plan = plan_of(light, report) if asked.plan and has_plan(report) else None
    return Result(loaded, report, light if asked.keep_light else None, plan=plan)


def traced(chosen: Sequence[tuple[LoadedRig, int]], asked: Asked) -> list[Result]:
    """Reports of rigs, each at the magnification of its index, with a bar on the terminal where that takes long.

    Raises RigError if one cannot be placed or lit.
    """
    found = []
    with progress() as whole:
        for number, (loaded, index) in enumerate(chosen):
            whole.part(number, len(chosen), f"{number + 1} of {len(chosen)}: {loaded.rig.title}")
            found.append(result(loaded, index, asked))
    return found


def index_of(loaded: LoadedRig, magnification: float | None) -> int:
    """Which of the rig's magnifications is meant, the first if none is named. Raises RigError if it has none such."""
    if magnification is None:
        return 0
    known = loaded.rig.camera.magnification
    for index, value in enumerate(known):
        if abs(value - magnification) <= 1e-6 * value:
            return index
    nearest = min(known, key=lambda value: abs(value - magnification))
    allowed = ", ".join(f"{value:g}" for value in known)
    raise fault(
        loaded.file,
        f"--magnification {magnification:g}",
        what="the rig has no such magnification",
        allowed=f"{allowed} (camera.magnification in the file)",
        remedy=f"{nearest:g}",
    )


def names_of(results: Sequence[Result]) -> list[str]:
    """What to call each result: its title, with magnification and file where titles alone do not tell them apart."""
    several = len({each.report.magnification for each in results}) > 1
    sizes = [f", {each.report.magnification:g}x" if several else "" for each in results]
    titles = [each.report.title for each in results]
    files = [f"{each.report.title} ({each.loaded.file})" for each in results]
    names = [title + size for title, size in zip(titles, sizes, strict=True)]
    if len(set(names)) == len(names):
        return names
    return [name + size for name, size in zip(files, sizes, strict=True)]
