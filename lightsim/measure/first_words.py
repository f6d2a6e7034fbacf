"""What a photographer wants to know first, in plain sentences and a handful of figures: pure functions of reports."""

from __future__ import annotations

from collections.abc import Sequence
from math import comb

from lightsim.measure.figure_words import PAID, against_card, costs, degrees, spent, stops, sure
from lightsim.measure.groups import against_limit, limit_in_words
from lightsim.measure.left_open import SHORT, by_its_materials, listed
from lightsim.measure.nearness import close_calls, close_pairs
from lightsim.measure.ranges import KEY_FIGURES
from lightsim.measure.report import Report, Verdict
from lightsim.measure.rounding import blank, length, shown

_SIZE, _LOST, _WIDTH, _WHITE = "size.cone_angle", "loss.total", "highlight.width", "highlight.stops_above_white"
HIGHLIGHT = "The highlight "  # how the sentence on it begins
FEW = 6  # designs whose close calls are named one by one
COMPARED = {
    name: "stops per doubling" if name == PAID else SHORT[name]
    for key in KEY_FIGURES
    for name in ((key, PAID) if key == _LOST else (key,))
}  # what designs may be too close to call in, each as it is called


def first_words(report: Report, *, ball: float) -> tuple[str, ...]:
    """One rig at one magnification: how large its light looks, what that costs, what the highlight will be.

    ball: diameter [mm] of the rig's glossy ball. Of what is hardly known nothing is said.
    """
    size, lost, paid, width = (report[name] for name in (_SIZE, _LOST, PAID, _WIDTH))
    if size.value is None and lost.value is None:
        return ("No light of a head or the diffuser reaches the subject, or too little to tell anything.",)
    found = []
    if sure(size):
        found.append(
            f"Seen from the subject the light is as large as a cone of {degrees(size)}{by_its_materials(size)}."
        )
    else:
        found.append("Too little light comes from a head or the diffuser to tell how large it looks.")
    if lost.value is None:
        found.append("None of it falls on the side that faces the lens.")
    elif sure(lost):
        losing = by_its_materials(lost) if spent(lost) and lost.value > 0 else ""
        more = (
            f"; light that looks twice as large in area would cost about {stops(paid)} more, at the price paid so far"
            if sure(paid) and spent(paid)
            else ""
        )
        found.append(f"It {costs(lost, report)}{losing}{more}.")
    if sure(width) and sure(report[_WHITE]):
        found.append(_highlight(report, ball))
    return tuple(found)


def _highlight(report: Report, ball: float) -> str:
    wide = f"{shown(report[_WIDTH]).value} mm{by_its_materials(report[_WIDTH])}"
    count = round(report["highlight.count"].value or 1.0)
    white = report[_WHITE]
    card = f"{against_card(white)}{by_its_materials(white)}"
    if abs(white.value or 0.0) < white.reach(up=(white.value or 0.0) < 0):
        card = f"about as bright as a white card{by_its_materials(white)}"
    where = f"{HIGHLIGHT}on a {length(ball)} mm eye, or another glossy ball, will be"
    if count > 1:
        return f"{where} in {count} pieces, {wide} wide together and {card}."
    return f"{where} {wide} wide and {card}."


def limits_in_words(reports: Sequence[Report], names: Sequence[str]) -> tuple[str, ...]:
    """The verdict against the user's limits: which are broken, which too close to call, how many are kept.

    names: what to call each report, empty where there is one. Nothing is said where there are no limits.
    """
    pairs = [(verdict, name) for report, name in zip(reports, names, strict=True) for verdict in report.verdicts]
    broken = [_told(verdict, name) for verdict, name in pairs if verdict.kept is False]
    unclear = [(verdict, name) for verdict, name in pairs if verdict.kept is None]
    close = [_told(verdict, name) for verdict, name in unclear if blank(verdict.found) is None]
    untold = [
        f"{limit_in_words(verdict)}{f' ({name})' if name else ''}"
        for verdict, name in unclear
        if blank(verdict.found) is not None
    ]
    found = []
    if broken:
        found.append(f"Breaks your limits: {'; '.join(broken)}.")
    if close:
        found.append(f"Too close to call against your limits: {'; '.join(close)}.")
    if untold:
        found.append(f"Cannot be told: {'; '.join(untold)}.")
    kept = sum(verdict.kept is True for verdict, _ in pairs)
    if kept and kept == len(pairs):
        limits = len({verdict.limit for verdict, _ in pairs})
        where = f" at {listed(names)}" if len(reports) > 1 else ""
        found.append(f"Keeps your limit{where}." if limits == 1 else f"Keeps all {limits} of your limits{where}.")
    elif kept:
        found.append(f"Keeps the other{'' if kept == 1 else f' {kept}'}.")
    return tuple(found)


def _told(verdict: Verdict, name: str) -> str:
    words = against_limit(verdict)
    return f"{name} ({words})" if name else words


def too_close(reports: Sequence[Report], names: Sequence[str]) -> dict[str, str]:
    """Which designs are too close to call, by what in: {"light lost": "Foam arc and White box"}; names: of the reports.

    "all" where no two of three or more differ. Of many designs the pairs are counted.
    """
    if len(reports) > FEW:
        counts = {what: len(close_pairs(reports, name)) for name, what in COMPARED.items()}
        return {what: f"{count} of {comb(len(reports), 2)} pairs" for what, count in counts.items() if count}
    found = {}
    for name, what in COMPARED.items():
        groups = close_calls(reports, name)
        if groups:
            words = "; ".join(listed([names[number] for number in group]) for group in groups)
            found[what] = "all" if len(groups[0]) == len(reports) > 2 else words
    return found


def verdict_sign(verdict: Verdict) -> str:
    """A sign that says the verdict without colour."""
    return {True: "✓", False: "✗", None: "≈"}[verdict.kept]
