"""What comes out of a command: its text, every figure as JSON or CSV for other programs, and charts."""

from __future__ import annotations

import csv
import gc
import io
import json
import math
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

import lightsim
from lightsim.cli.layout import Line, say
from lightsim.cli.run import Asked, Result, names_of
from lightsim.light.estimate import Estimate
from lightsim.light.light import Light
from lightsim.measure.figure import Figure
from lightsim.measure.findings import test_frame
from lightsim.measure.ranges import Step
from lightsim.measure.report import Report, Second, Verdict
from lightsim.rig.errors import fault, file_name, given
from lightsim.rig.files import make_folder, require_free, write_safely
from lightsim.search.vary import Variation

if TYPE_CHECKING:
    from lightsim.page.drawing import Renders

STANDARD_OUTPUT = "-"
_PAGES = (".html", ".htm")
_EXAMPLES = {"--json": "figures.json", "--csv": "figures.csv", "--html": "page.html"}
_OF_DESIGN = ("design", "file", "magnification", "working_distance", "varied", "varied_value", "varied_unit")
_OF_FIGURE = (
    *("name", "label", "value", "standard_error", "half_interval", "low", "high", "moved_by", "unit", "definition"),
    *("source", "why"),
)
_OF_NUMBER = ("material", "key", "value", "low", "high", "known")


@dataclass(frozen=True)
class Outputs:
    """Where figures go beside the screen: to files, or alone to standard output (-)."""

    json: str | None
    csv: str | None
    replace: bool  # whether files that exist may be replaced
    html: Path | None = None

    def require_free(self, *others: Path) -> None:
        """Raise RigError, before anything is computed, for files that exist already, and two things for one place."""
        _require_page(self.html)
        page = None if self.html is None else str(self.html)
        wanted = {"--json": self.json, "--csv": self.csv, "--html": page}
        named = {option: name for option, name in wanted.items() if name is not None}
        taken: dict[str, str] = {}
        for option, name in named.items():
            place = name if name == STANDARD_OUTPUT else os.path.realpath(name)
            if place in taken:
                raise fault(
                    f"{taken[place]} and {option} are both to go to {file_name(name)}",
                    what="one would replace the other",
                    allowed=f"a file of its own for each{', or - for one of them' if option == '--csv' else ''}",
                    remedy=f"{_EXAMPLES[taken[place]]} and {_EXAMPLES[option]}",
                )
            taken[place] = option
        for path in (*(Path(name) for name in named.values() if name != STANDARD_OUTPUT), *others):
            require_free(path, replace=self.replace)


def _require_page(path: Path | None) -> None:
    """Raise RigError for a name that no browser would open as a page."""
    if path is not None and path.suffix.lower() not in _PAGES:
        name = "page" if str(path) == STANDARD_OUTPUT or not path.stem else path.with_suffix("").name
        raise fault(
            f"--html {given(str(path))}",
            what="a browser would not open this as a page",
            allowed=f"names that end in {' or '.join(_PAGES)}",
            remedy=file_name(f"{name}.html"),
        )


def require_portraits(clean: bool, html: Path | None, figures: Path | None) -> None:
    """Raise RigError for --clean without anything that shows portraits."""
    if clean and html is None and figures is None:
        raise fault(
            "--clean",
            what="without --html and --figures there are no portraits",
            allowed="--clean together with --html FILE or --figures DIR",
            remedy="--html page.html --clean",
        )


def deliver(
    results: Sequence[Result],
    asked: Asked,
    told: Sequence[Line],
    outputs: Outputs,
    *,
    charts: Callable[[], Sequence[Path]],
    page: Callable[[], str] | None = None,
) -> None:
    """Print what is told, or the figures alone where they go to standard output; then write the files asked for.

    charts : draws and writes them; page : makes the text of the page, where one is to be written
    Raises RigError for a file that cannot be written; what is told is printed by then.
    """
    wanted = {outputs.json: as_json, outputs.csv: as_csv}
    alone = wanted.get(STANDARD_OUTPUT)
    if alone is not None:
        typer.echo(alone(results, asked), nl=False)
    else:
        say(told)
    written = [
        write_safely(name, text_of(results, asked), replace=outputs.replace)
        for name, text_of in wanted.items()
        if name is not None and name != STANDARD_OUTPUT
    ]
    written += charts()
    if outputs.html is not None and page is not None:
        written.append(write_safely(outputs.html, page(), replace=outputs.replace))
    if written and alone is None:
        say([Line(""), *(Line(f"Wrote {path}") for path in written)])


def page(results: Sequence[Result], asked: Asked, *, clean: bool, renders: Renders) -> str:
    """The page on results whose light was kept, told on the terminal how far it is. renders : as drawn_sections"""
    from lightsim.cli.compare import footing
    from lightsim.cli.progress import progress
    from lightsim.page.page import Design, page_of

    designs = [Design(each.loaded, each.report, light, name) for each, light, name in _lit(results)]
    words = footing([each.report for each in results], asked)
    with progress("drawing") as tell, _uncollected():
        return page_of(designs, footing=words, clean=clean, progress=tell, renders=renders)


def pictures(
    results: Sequence[Result], folder: Path | None, *, replace: bool, clean: bool, renders: Renders
) -> Sequence[Path]:
    """Draw and write all pictures of a comparison, or of a rig at its magnifications; none where folder is None.

    results : with their light kept; renders : as drawn_sections
    """
    if folder is None:
        return ()
    from lightsim.cli.progress import progress
    from lightsim.page.drawing import named
    from lightsim.page.files import write_pictures

    designs = [named(light, each.report, name) for each, light, name in _lit(results)]
    with progress("drawing") as tell, _uncollected():
        return write_pictures(designs, folder, replace=replace, clean=clean, progress=tell, renders=renders)


def _lit(results: Sequence[Result]) -> list[tuple[Result, Light, str]]:
    """Results whose light was kept, with it and with what to call each."""
    named = zip(results, names_of(results), strict=True)
    return [(each, each.light, name) for each, name in named if each.light is not None]


@contextmanager
def _uncollected() -> Iterator[None]:
    """Without searches for circles of dead objects: among the many small ones of drawings they cost a tenth of all."""
    running = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if running:
            gc.enable()


def require_free_folder(folder: Path | None, *, replace: bool) -> None:
    """Raise RigError, before anything is computed, if a folder holds pictures already that may not be replaced."""
    if folder is not None and folder.is_dir():
        from lightsim.page.files import require_free_folder as require

        require(folder, replace=replace)


def variation_charts(variation: Variation, paths: Sequence[Path], *, replace: bool) -> Sequence[Path]:
    """Draw and write one chart a figure of a sweep, of the first ones if there are fewer paths."""
    if not paths:
        return ()
    from lightsim.picture.charts import save_figure, varied_chart

    key, unit, values, reports = variation.key, variation.unit, variation.values, variation.reports
    written = []
    for name, path in zip(variation.figures, paths, strict=False):
        make_folder(path.parent)
        written.append(save_figure(varied_chart(key, unit, values, reports, name), path, replace=replace))
    return written


def as_json(results: Sequence[Result], asked: Asked) -> str:
    """One object: version, seed, error, caster, designs with figures, verdicts, notes, what the numbers of the
    materials do. What is not known is null, and so is an end without bound."""
    document = {
        "version": lightsim.__version__,
        "seed": asked.seed,
        "error": asked.error,
        "caster": results[0].report.caster if results else None,
        "designs": [_design(each) for each in results],
    }
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def as_csv(results: Sequence[Result], asked: Asked) -> str:
    """One line a figure, with a first line of names; an empty field is not known. Numbers are those of the JSON.

    The last field holds what each number of the materials does to the figure, "copy paper diffuse_transmittance -0.3
    0.29; ...": with the number at its low and at its high end.
    """
    del asked
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow((*_OF_DESIGN, *_OF_FIGURE, "steps"))
    for each in results:
        report = each.report
        key, unit, value = each.varied or ("", "", None)
        design = (report.title, each.loaded.file, report.magnification, report.working_distance, key, value, unit)
        for figure in report.figures:
            fields = (*design, *_figure(figure).values(), _steps_of(report, figure.name))
            table.writerow([_field(field) for field in fields])
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
        "steps": [_step(step) for step in report.steps],
        "matters_most": heaviest.words if (heaviest := report.heaviest) else None,
        "without_range": [{"material": each.material, "key": each.key, "value": each.value} for each in report.plain],
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


def _step(step: Step) -> dict[str, Any]:
    """A number of a material with what it does to the figures that it moves, [at its low end, at its high end]."""
    shifts = {name: [_finite(each) for each in ends] for name, ends in step.shifts.items() if any(ends)}
    return {**{name: getattr(step, name) for name in _OF_NUMBER}, "words": step.words, "shifts": shifts}


def _steps_of(report: Report, name: str) -> str:
    moves = ((step, step.shifts.get(name, (0.0, 0.0))) for step in report.steps)
    return "; ".join(f"{step.material} {step.key} {low:.6g} {high:.6g}" for step, (low, high) in moves if low or high)


def _verdict(verdict: Verdict) -> dict[str, Any]:
    return {
        "limit": verdict.limit,
        "allowed": verdict.allowed,
        "name": verdict.found.name,
        "value": _finite(verdict.found.value),
        "standard_error": _finite(verdict.found.standard_error),
        "low": _finite(verdict.found.low),
        "high": _finite(verdict.found.high),
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
