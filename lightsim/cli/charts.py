"""Charts beside the tables; the drawing library is loaded only when one is drawn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace as changed
from pathlib import Path

from lightsim.cli.run import Result, names_of
from lightsim.light.light import Light
from lightsim.rig.errors import RigError
from lightsim.rig.wording import file_name, paragraph
from lightsim.search.vary import Variation

Writer = Callable[[], list[Path]]


def chart_writer(results: Sequence[Result], folder: Path | None, *, replace: bool) -> Writer | None:
    """What draws the charts of a comparison, or of a rig at its magnifications; None if none are asked for.

    results: with their light kept
    """
    if folder is None:
        return None

    def draw() -> list[Path]:
        from lightsim.picture.charts import charts_of

        names = names_of(results)
        lights = [_named(each.light, name) for each, name in zip(results, names, strict=True) if each.light is not None]
        reports = [changed(each.report, title=name) for each, name in zip(results, names, strict=True)]
        return list(charts_of(lights, reports, folder, replace=replace))

    return draw


def variation_chart_writer(variation: Variation, paths: Sequence[Path], *, replace: bool) -> Writer | None:
    """What draws one chart a figure of a sweep, the first ones if there are fewer paths; None if there is no path."""
    if not paths:
        return None

    def draw() -> list[Path]:
        from lightsim.picture.charts import save_figure, varied_chart

        key, unit, values, reports = variation.key, variation.unit, variation.values, variation.reports
        written = []
        for name, path in zip(variation.figures, paths, strict=False):
            _make_folder(path.parent)
            written.append(save_figure(varied_chart(key, unit, values, reports, name), path, replace=replace))
        return written

    return draw


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise RigError(
            paragraph(
                f"{file_name(folder)}: this folder cannot be made ({error.strerror}). Allowed: a folder in which you "
                "may write. Try another one."
            )
        ) from None


def _named(light: Light, name: str) -> Light:
    """The same light under another title: charts name their curves by it."""
    rig = light.placed.rig.model_copy(update={"title": name})
    return changed(light, placed=changed(light.placed, rig=rig))
