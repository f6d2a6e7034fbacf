"""Every figure as JSON or CSV, for other programs."""

from __future__ import annotations

import csv
import io
import json
import math
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import typer

import lightsim
from lightsim.cli.layout import Line, say
from lightsim.cli.run import Asked, Result
from lightsim.light.estimate import Estimate
from lightsim.measure.figure import Figure
from lightsim.measure.report import Second, Verdict, test_frame
from lightsim.rig.errors import RigError
from lightsim.rig.files import write_safely
from lightsim.rig.wording import file_name, paragraph

STANDARD_OUTPUT = "-"
_OF_DESIGN = ("design", "file", "magnification", "working_distance", "varied", "varied_value", "varied_unit")
_OF_FIGURE = ("name", "label", "value", "standard_error", "half_interval", "unit", "definition", "source", "why")


def must_be_free(json_file: str | None, csv_file: str | None, *others: Path | None, replace: bool) -> None:
    """Refuse, before anything is computed, files that exist already, and two things for one place.

    Raises RigError.
    """
    named = [name for name in (json_file, csv_file) if name is not None]
    if len(named) == 2 and named[0] == named[1]:
        raise RigError(
            paragraph(
                f"--json and --csv are both to go to {file_name(named[0])}. Allowed: a file of its own for each, or - "
                "for one of them. Try figures.json and figures.csv."
            )
        )
    for path in (*(Path(name) for name in named if name != STANDARD_OUTPUT), *others):
        if path is not None and not replace and os.path.lexists(path):
            raise RigError(
                paragraph(
                    f"{file_name(path)}: this file exists already and was left as it is. Allowed: a name that is not "
                    "taken. Try another name, or --replace."
                )
            )


def deliver(
    results: Sequence[Result],
    asked: Asked,
    told: Sequence[Line],
    *,
    json_file: str | None,
    csv_file: str | None,
    charts: Callable[[], list[Path]] | None,
    replace: bool,
) -> None:
    """Print what is told, or the figures alone where they go to standard output; then write the files asked for.

    charts : draws and writes them. Raises RigError for a file that cannot be written; what is told is printed by then.
    """
    wanted = {json_file: as_json, csv_file: as_csv}
    alone = wanted.get(STANDARD_OUTPUT)
    if alone is not None:
        typer.echo(alone(results, asked), nl=False)
    else:
        say(told)
    written = [
        write_safely(Path(name), text_of(results, asked), replace=replace)
        for name, text_of in wanted.items()
        if name is not None and name != STANDARD_OUTPUT
    ]
    written += charts() if charts is not None else []
    if written and alone is None:
        say([Line(""), *(Line(f"Wrote {path}") for path in written)])


def as_json(results: Sequence[Result], asked: Asked) -> str:
    """One object: version, seed, error, caster, designs with figures, verdicts, notes. What is not known is null."""
    document = {
        "version": lightsim.__version__,
        "seed": asked.seed,
        "error": asked.error,
        "caster": results[0].report.caster if results else None,
        "designs": [_design(each) for each in results],
    }
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def as_csv(results: Sequence[Result], asked: Asked) -> str:
    """One line a figure, with a first line of names; an empty field is not known. Numbers are those of the JSON."""
    del asked
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow((*_OF_DESIGN, *_OF_FIGURE))
    for each in results:
        report = each.report
        key, unit, value = each.varied or ("", "", None)
        design = (report.title, each.loaded.file, report.magnification, report.working_distance, key, value, unit)
        for figure in report.figures:
            table.writerow((*map(_field, design), *(_field(field) for field in _figure(figure).values())))
    return text.getvalue()


def _design(each: Result) -> dict[str, Any]:
    report = each.report
    design: dict[str, Any] = {
        "title": report.title,
        "file": each.loaded.file,
        "magnification": report.magnification,
        "working_distance": report.working_distance,
        "paths": report.paths,
        "figures": [_figure(figure) for figure in report.figures],
        "verdicts": [_verdict(verdict) for verdict in report.verdicts],
        "second_estimator": _second(report.second) if report.second else None,
        "test_frame": test_frame(report),
        "notes": list(report.notes),
        "sources": dict(each.loaded.sources),
    }
    if each.varied is not None:
        key, unit, value = each.varied
        design["varied"] = {"key": key, "unit": unit, "value": value}
    return design


def _figure(figure: Figure) -> dict[str, Any]:
    return {name: _finite(getattr(figure, name)) for name in _OF_FIGURE}


def _verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        "limit": verdict.limit,
        "allowed": verdict.allowed,
        "name": verdict.found.name,
        "value": _finite(verdict.found.value),
        "standard_error": _finite(verdict.found.standard_error),
        "unit": verdict.found.unit,
        "kept": verdict.kept,
        "word": verdict.word,
    }


def _second(second: Second) -> dict[str, Any]:
    return {
        "forward": _estimate(second.forward),
        "backward": _estimate(second.backward),
        "difference_in_joint_standard_errors": _finite(second.joint_errors),
        "unit": "1/mm^2 per lm s",
    }


def _estimate(estimate: Estimate) -> dict[str, Any]:
    return {"value": _finite(estimate.value), "standard_error": _finite(estimate.standard_error)}


def _finite(value: Any) -> Any:
    """A plain number, never a numpy one; None where it is not finite."""
    if isinstance(value, str) or value is None:
        return value
    number = float(value)
    return number if math.isfinite(number) else None


def _field(value: Any) -> Any:
    return "" if value is None else repr(value) if isinstance(value, float) else value
