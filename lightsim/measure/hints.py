"""What to change on a design, as far as its own figures say: few, and none that an error bar might take back."""

from __future__ import annotations

from typing import NamedTuple

from lightsim.measure.figure import Figure
from lightsim.measure.figure_words import degrees
from lightsim.measure.groups import find, value_in
from lightsim.measure.report import Report, Verdict
from lightsim.measure.rounding import length, shown
from lightsim.rig.place import Part, PlacedRig

PRACTICE = "common practice"
_UNEVEN = 0.5  # stops of the hot spot from which evening out shows
_SMALL = 40.0  # degrees: a light that looks smaller throws harder edges than most diffusers here
_MOUNTED = 0.3  # stops lost by the mount that are worth a move
_SWALLOWED, _MISSED, _ELSEWHERE = 0.25, 0.15, 0.2  # of the light emitted
_CLEAR = 0.02  # share that passes straight
_LESS_LIGHT, _SIZE, _CLEARANCE = "most_stops", "least_angle", "least_clearance"


class Hint(NamedTuple):
    """A change worth trying, and whether the figures alone say that it helps or photographers' practice as well."""

    text: str
    basis: str  # "" where it follows from geometry and the figures


def hints(report: Report, placed: PlacedRig) -> tuple[Hint, ...]:
    """Changes worth trying, the user's broken limits first, then what the figures show most clearly."""
    broken = {verdict.limit: verdict for verdict in report.verdicts if verdict.kept is False}
    first = [_larger(report, placed, broken.get(_SIZE)), _less_bright(report), _more_even(report, placed)]
    losses = _less_lost(report, placed)
    ordered = [*losses, *first] if _LESS_LIGHT in broken else [*first, *losses]
    return tuple(hint for hint in (_farther(broken.get(_CLEARANCE)), *ordered) if hint is not None)


def _larger(report: Report, placed: PlacedRig, broken: Verdict | None) -> Hint | None:
    size, near = report["size.cone_angle"], find(report, "clearance")
    if size.value is None or not (broken or _surely_below(size, _SMALL)):
        return None
    wide = f"The light looks only as large as a cone of {degrees(size)}"
    wide += f", and your limit asks for {length(broken.allowed)}" if broken else ""
    if not _parts(placed):
        return Hint(
            f"{wide}: put a white sheet between the head and the subject. How large it looks from the subject, not "
            "how large it is, makes shadows soft.",
            "",
        )
    if any(part.sheet.straight + part.sheet.pores >= _CLEAR for part in _parts(placed)):
        return Hint(f"{wide}: the head shows through the sheet, so use one that scatters all of it.", "")
    if any(verdict.limit == _CLEARANCE and verdict.kept is not True for verdict in report.verdicts):
        return Hint(f"{wide}: make the diffuser larger.", "")
    stands = f", whose nearest part now stands {near.value:.0f} mm away" if near and near.value else ""
    return Hint(f"{wide}: make the diffuser larger, or bring it nearer to the subject{stands}.", "")


def _less_bright(report: Report) -> Hint | None:
    white = report["highlight.stops_above_white"]
    if white.value is None or not _surely_above(white, 0.0):
        return None
    text = (
        "The highlight is brighter than a white card and will burn out: light that looks larger makes it less bright."
    )
    return Hint(text, "")


def _more_even(report: Report, placed: PlacedRig) -> Hint | None:
    spot = report["size.hot_spot"]
    if spot.value is None or not _parts(placed) or not _surely_above(spot, _UNEVEN):
        return None
    sheet = "a second sheet between it and the subject" if len(_parts(placed)) == 1 else "one more sheet"
    text = (
        f"The brightest spot is {spot.value:.1f} stops above the mean of the light: put more air between the head and "
        f"the first sheet, or {sheet}."
    )
    return Hint(text, PRACTICE)


def _less_lost(report: Report, placed: PlacedRig) -> list[Hint]:
    found = []
    mounted = find(report, "loss.as mounted")
    if mounted is not None and mounted.value is not None and _surely_above(mounted, _MOUNTED):
        found.append(
            Hint(
                f"{mounted.value:.1f} stops are lost by the tilt of the head or by the lens in its way: aim it more at "
                "the subject, or move it away from the lens.",
                "",
            )
        )
    parts = _parts(placed)
    missed = sum(value_in(report, f"budget.escaped past {head.name}") for head in placed.heads)
    if parts and missed >= _MISSED:
        text = (
            f"{_percent(missed)} of the light leaves the head and meets nothing: a larger sheet in the same place, or "
            "white walls between head and sheet, would catch part of it. A sheet nearer to the head catches more as "
            "well, but looks smaller from the subject, which is harder."
        )
        found.append(Hint(text, ""))
    swallowed = [(value_in(report, f"budget.absorbed by {part.name}"), part) for part in parts]
    most, part = max(swallowed, key=lambda item: item[0], default=(0.0, None))
    if part is not None and most >= _SWALLOWED:
        found.append(
            Hint(
                f"{_percent(most)} of the light ends in {part.name} ({part.material}): a material that absorbs "
                "less, or fewer bounces on the way to the front, saves some of it.",
                PRACTICE,
            )
        )
    elsewhere = sum(value_in(report, f"budget.escaped past {part.name}") for part in parts)
    if elsewhere >= _ELSEWHERE and not found:
        found.append(
            Hint(
                f"{_percent(elsewhere)} of the light goes elsewhere after it met the diffuser: white walls between the "
                "head and the front send part of it on.",
                PRACTICE,
            )
        )
    return found


def _farther(broken: Verdict | None) -> Hint | None:
    if broken is None:
        return None
    near = shown(broken.found).value
    return Hint(
        f"The diffuser comes as near as {near} mm, and your limit asks for {length(broken.allowed)} mm: move it away.",
        "",
    )


def _parts(placed: PlacedRig) -> list[Part]:
    return [part for part in placed.parts if part.role == "diffuser"]


def _surely_above(figure: Figure, least: float) -> bool:
    return (figure.value or 0.0) - figure.reach(up=False) > least


def _surely_below(figure: Figure, most: float) -> bool:
    return (figure.value or 0.0) + figure.reach(up=True) < most


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
