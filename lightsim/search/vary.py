"""One number of a rig swept over several values, everything else kept, the random numbers too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from lightsim.light.light import light_of
from lightsim.measure.report import Report
from lightsim.measure.report import report as report_of
from lightsim.rig.errors import RigError
from lightsim.rig.known import Path, child, is_length, look
from lightsim.rig.load import LoadedRig, load_data, placed, value_at, with_value
from lightsim.rig.place import PlacedRig
from lightsim.rig.wording import alternatives, closest, file_name, given, paragraph, quoted

KEY_FIGURES = (
    "size.cone_angle",
    "size.hot_spot",
    "loss.total",
    "highlight.diameter_share",
    "highlight.stops_above_white",
    "shadow.edge_x",
    "clearance",
)
_BY_MAGNIFICATION = ("lens.working_distance", "camera.magnification")  # one entry for each magnification
_MARK = 2.718281828  # a value that no file holds, to see where with_value puts it


@dataclass(frozen=True)
class Variation:
    """A sweep: one report for each value of a key."""

    key: str
    unit: str  # of the key: "mm", "inch", "deg", or "" where it has none
    values: tuple[float, ...]
    figures: tuple[str, ...]  # names of those asked for
    reports: tuple[Report, ...]


def vary(
    loaded: LoadedRig,
    key: str,
    values: Sequence[float],
    *,
    magnification: int = 0,
    error: float = 0.005,
    seed: int = 1,
    figures: Sequence[str] | None = None,
    check_backward: bool = False,
) -> Variation:
    """Reports of a rig with one number changed to each of the values, which are in the unit of the file.

    key : such as "diffuser.front.width"; of lists with one entry a magnification that of the chosen one is meant
    magnification : which of the rig's, counted from 0; error, seed, check_backward : as for a report
    figures : names of the figures asked for, by default KEY_FIGURES; the reports hold all of them
    The seed is the same for every value, so that curves are smooth.
    Raises RigError for a key that is no number of the rig, a value that is not allowed (before anything is traced),
    and a figure that the reports do not hold.
    """
    key = number_key(loaded, key, magnification)
    rigs = [_placed_with(loaded, key, value, magnification) for value in values]
    names = KEY_FIGURES if figures is None else tuple(figures)
    reports: list[Report] = []
    for value, rig in zip(values, rigs, strict=True):
        try:
            light = light_of(rig, error=error, seed=seed)
        except RigError as fault:
            raise _at_value(loaded, key, value, fault) from None
        reports.append(report_of(light, check_backward=check_backward))
        if len(reports) == 1:
            check_figures(reports[0], names)
    return Variation(key, unit_of(loaded, key), tuple(values), names, tuple(reports))


def number_key(loaded: LoadedRig, key: str, magnification: int = 0) -> str:
    """The key of one number: as given, or with the place of the magnification where a list holds one for each.

    Raises RigError if the key does not exist or holds no number.
    """
    key = key.strip()
    changed = with_value(loaded.data, f"{key}[{magnification + 1}]" if key in _BY_MAGNIFICATION else key, _MARK)
    if key in _BY_MAGNIFICATION:
        return f"{key}[{magnification + 1}]"
    now = _now(changed, loaded, key)
    if isinstance(now, str | bool | dict):
        raise RigError(
            paragraph(
                f"{file_name(loaded.file)}: {key} = {given(now)}: this is not a number. "
                "Allowed: keys that hold a number. "
                "Try lightsim check, which lists what the rig holds."
            )
        )
    return key


def unit_of(loaded: LoadedRig, key: str) -> str:
    """Unit of a key as its file states it: "mm" or "inch" for lengths, "deg" for angles, "" for anything else."""
    field = look(_marked(with_value(loaded.data, key, _MARK)) or (), loaded.data).field
    if field is None:
        return ""
    if is_length(field):
        return loaded.rig.unit
    return "deg" if "degrees" in (field.description or "") else ""


def check_figures(report: Report, names: Sequence[str]) -> None:
    """Raises RigError, with the nearest names, for a name that is no figure of the report."""
    known = [figure.name for figure in report.figures]
    for name in names:
        if name not in known:
            near = closest(name, known)
            alike = [each for each in known if each.split(".")[0] == name.split(".")[0]] or known
            raise RigError(
                paragraph(
                    f"{quoted(name)}: there is no figure of this name. Allowed: {alternatives(alike, 16)}. "
                    f"Try {quoted(near or alike[0])}."
                )
            )


def _placed_with(loaded: LoadedRig, key: str, value: float, magnification: int) -> PlacedRig:
    # Whole numbers go in as such: counts, and pixels, take no others.
    number = int(value) if float(value).is_integer() else float(value)
    try:
        changed = load_data(
            with_value(loaded.data, key, number), file=loaded.file, folder=loaded.folder, sources=loaded.sources
        )
        return placed(changed, magnification)
    except RigError as fault:
        raise _at_value(loaded, key, value, fault) from None


def _at_value(loaded: LoadedRig, key: str, value: float, fault: RigError) -> RigError:
    message = str(fault).removeprefix(f"{file_name(loaded.file)}: ")
    return RigError(paragraph(f"{file_name(loaded.file)}: with {key} = {given(value)}: {message}"))


def _now(changed: dict[str, Any], loaded: LoadedRig, key: str) -> Any:
    """What the file holds under a key, or the models where it leaves it out; None if there is nothing."""
    here: Any = loaded.data
    for part in _marked(changed) or ():
        here = child(here, part)
    if here is not None:
        return here
    try:
        return value_at(loaded.data, key)
    except RigError:
        return None


def _marked(data: Any) -> Path | None:
    """Where with_value has put the mark: the path of the key as the models know it."""
    if isinstance(data, float) and data == _MARK:
        return ()
    keys = data if isinstance(data, dict) else range(len(data)) if isinstance(data, list) else ()
    for key in keys:
        rest = _marked(data[key])
        if rest is not None:
            return (key, *rest)
    return None
