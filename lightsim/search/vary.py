"""One number of a rig swept over several values, everything else kept, the random numbers too."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from lightsim.light.light import light_of, points_needed
from lightsim.measure.ranges import KEY_FIGURES
from lightsim.measure.report import Report
from lightsim.measure.report import report as report_of
from lightsim.rig.errors import alternatives, closest, fault, given, naming, quoted
from lightsim.rig.keys import find, with_value
from lightsim.rig.known import is_length, look
from lightsim.rig.load import LoadedRig, load_data, placed

VARIED_FIGURES = (*KEY_FIGURES, "clearance")
_BY_MAGNIFICATION = ("lens.working_distance", "camera.magnification")  # one entry for each magnification


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
    progress: Callable[[float], None] | None = None,
) -> Variation:
    """Reports of a rig with one number changed to each of the values, which are in the unit of the file.

    key : such as "diffuser.front.width"; of lists with one entry a magnification that of the chosen one is meant
    magnification : which of the rig's, counted from 0; error, seed, check_backward : as for a report
    figures : names of the figures asked for, by default VARIED_FIGURES; the reports hold all of them
    progress : called with the share of the values that is done, from 0 to 1, after each
    The seed and the number of light paths are the same for every value, so that curves are smooth: the largest
    number that the first, the middle or the last value needs for the asked error.
    Raises RigError for a key that is no number of the rig, a value that is not allowed (before anything is traced),
    and a figure that the reports do not hold.
    """
    key = number_key(loaded, key, magnification)
    rigs = []
    for value in values:
        with naming(loaded.file, f"with {key} = {given(value)}"):
            # Whole numbers go in as such: counts, and pixels, take no others.
            data = with_value(loaded.data, key, int(value) if float(value).is_integer() else float(value))
            changed = load_data(data, file=loaded.file, folder=loaded.folder, sources=loaded.sources)
            rigs.append(placed(changed, magnification))
    names = VARIED_FIGURES if figures is None else tuple(figures)
    points = 0
    for place in sorted({0, len(values) // 2, len(values) - 1} if values else ()):
        with naming(loaded.file, f"with {key} = {given(values[place])}"):
            points = max(points, points_needed(rigs[place], error=error, seed=seed))
    reports: list[Report] = []
    for value, rig in zip(values, rigs, strict=True):
        with naming(loaded.file, f"with {key} = {given(value)}"):
            light = light_of(rig, error=error, seed=seed, points=points)
        reports.append(report_of(light, check_backward=check_backward))
        if len(reports) == 1:
            check_figures(reports[0], names)
        if progress is not None:
            progress(len(reports) / len(values))
    return Variation(key, unit_of(loaded, key), tuple(values), names, tuple(reports))


def number_key(loaded: LoadedRig, key: str, magnification: int = 0) -> str:
    """The key of one number: as given, or with the place of the magnification where a list holds one for each.

    Raises RigError if the key does not exist or holds no number.
    """
    key = key.strip()
    table, _, name = key.partition(".")
    if key in _BY_MAGNIFICATION and isinstance(loaded.data[table][name], list):
        key = f"{key}[{magnification + 1}]"
    with naming(loaded.file):
        _, now = find(loaded.data, key)
        if isinstance(now, str | bool):
            raise fault(
                loaded.file,
                f"{key} = {given(now)}",
                what="this is not a number",
                allowed="keys that hold a number",
                remedy="lightsim check, which lists what the rig holds",
            )
    return key


def unit_of(loaded: LoadedRig, key: str) -> str:
    """Unit of a key as its file states it: "mm" or "inch" for lengths, "deg" for angles, "" for anything else."""
    field = look(find(loaded.data, key)[0], loaded.data).field
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
            raise fault(
                quoted(name),
                what="there is no figure of this name",
                allowed=alternatives(alike, 16),
                remedy=quoted(near or alike[0]),
            )
