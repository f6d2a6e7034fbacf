"""The table of a sweep: figures against the varied number, and what it means."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from lightsim.cli.compare import cell_of, footing, seconds
from lightsim.cli.layout import Line, Row, sentence, table
from lightsim.cli.notes import swept as noted
from lightsim.cli.run import Asked, Result
from lightsim.measure.findings import varied
from lightsim.measure.left_open import SHORT
from lightsim.measure.rounding import brief, shown
from lightsim.rig.errors import fault
from lightsim.rig.load import LoadedRig
from lightsim.search.vary import VARIED_FIGURES, Variation

_SHORT = {
    **SHORT,
    "shadow.edge_x": "shadow edge across",
    "shadow.edge_y": "shadow edge up and down",
    "clearance": "clearance",
}


def swept(variation: Variation, asked: Asked) -> list[Line]:
    """Table, sentences, and how far to trust them."""
    reports, first = variation.reports, variation.reports[0]
    unit = f" {variation.unit}" if variation.unit else ""
    labels = [f"{brief(value)}{unit}" for value in variation.values]
    heads = []
    for name in variation.figures:
        words = next((shown(report[name]).unit for report in reports if report[name].value is not None), "")
        of = " of the ball" if name == "highlight.diameter_share" else ""
        heads.append(f"{_SHORT.get(name, first[name].label)}{f', {words}{of}' if words else ''}")
    rows = [
        Row(label, tuple(cell_of(report[name], digits=3) for name in variation.figures))
        for label, report in zip(labels, reports, strict=True)
    ]
    start = f"{first.title} at {first.magnification:g}x, {variation.key} from {labels[0]} to {labels[-1]}."
    lines = [*sentence(start), Line(""), *table(variation.key.rpartition(".")[2], heads, rows), Line("")]
    notes = noted([report.notes for report in reports], labels)
    lines.extend([*notes, Line("")] if notes else [])
    spoken = varied(variation.values, reports, key=variation.key, unit=variation.unit, figures=variation.figures)
    for text in spoken:
        lines.extend(sentence(text))
    lines.extend([Line("")] if spoken else [])
    lines.extend(seconds(reports, labels))
    return [*lines, *sentence(footing(reports, asked))]


def values_between(start: float, end: float, steps: int) -> list[float]:
    """Evenly spaced values, both ends among them. Raises RigError if the ends are equal or not finite."""
    if not (math.isfinite(start) and math.isfinite(end)) or start == end:
        raise fault(
            f"FROM = {start:g}, TO = {end:g}",
            what="there is nothing to vary between them",
            allowed="two different numbers",
            remedy="half and twice the value in the file",
        )
    # Rounded, so that 0.1 to 0.7 does not come out as 0.30000000000000004.
    return [float(f"{start + (end - start) * step / (steps - 1):.10g}") for step in range(steps)]


def chart_paths(folder: Path | None, chart: Path | None, names: Sequence[str] | None) -> list[Path]:
    """Where the charts of a sweep go, one for each figure shown: a folder, or one file for the first of them."""
    if folder is None:
        return [] if chart is None else [chart]
    if chart is not None:
        raise fault("--figures, --chart", what="both are given", allowed="a folder or a file", remedy="--figures alone")
    return [folder / f"{name.replace('.', '-').replace('/', '-')}.png" for name in names or VARIED_FIGURES]


def results_of(variation: Variation, loaded: LoadedRig) -> list[Result]:
    """A sweep as results, for JSON and CSV."""
    return [
        Result(loaded, report, None, varied=(variation.key, variation.unit, value))
        for value, report in zip(variation.values, variation.reports, strict=True)
    ]
