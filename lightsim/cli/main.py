"""The commands of lightsim: each reads what was typed, asks the package, and prints. They compute nothing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from lightsim.cli import bench, options
from lightsim.cli.failures import LIMIT_BROKEN, plainly
from lightsim.cli.measure import app as measure
from lightsim.cli.usage import Commands

DEFAULT_DESIGNS = ("bare-flash", "flat-paper", "foam-arc", "white-box")
app = typer.Typer(
    name="lightsim",
    cls=Commands,
    help="What a home-made flash diffuser will do to the light on a small shiny subject, before you cut it.",
    epilog="Exit codes: 0 fine; 1 a limit of yours is broken (report --strict), or something is in the way (check); "
    "2 something was wrong with the input.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,  # plain help starts sooner, and reads the same in a pipe
    pretty_exceptions_enable=False,
)
app.add_typer(measure)


def _version(asked: bool) -> None:
    if asked:
        import lightsim

        typer.echo(f"lightsim {lightsim.__version__}")
        raise typer.Exit


@app.callback()
def lightsim(
    version: Annotated[bool, typer.Option("--version", callback=_version, is_eager=True, help="Print it.")] = False,
) -> None:
    """What a home-made flash diffuser will do to the light on a small shiny subject, before you cut it."""


@app.command()
@plainly
def compare(
    rigs: Annotated[
        list[str] | None,
        typer.Argument(metavar="RIG", help=f"Rig files or ready designs; by default {', '.join(DEFAULT_DESIGNS)}."),
    ] = None,
    magnification: options.Magnification = None,
    seed: options.Seed = "1",
    error: options.Error = options.ERROR,
    backward: options.Backward = False,
    json: options.Json = None,
    csv: options.Csv = None,
    html: options.Html = None,
    clean: options.Clean = False,
    figures: options.Pictures = None,
    replace: options.Replace = False,
) -> None:
    """Compare designs in one table.

    Each at its first magnification, unless one is named. With each figure stands how far the numbers of
    the materials may move it, and below the table what is too close to call.
    """
    share, number, wanted = options.relative_error(error), options.seed(seed), options.magnification(magnification)
    import lightsim as package
    from lightsim.cli import export
    from lightsim.cli.compare import comparison
    from lightsim.cli.run import Asked, index_of, traced

    export.require_portraits(clean, html, figures)
    outputs = export.Outputs(json, csv, replace, html)
    outputs.require_free()
    export.require_free_folder(figures, replace=replace)
    asked = Asked(share, number, backward, keep_light=figures is not None or html is not None)
    loaded = [package.load(rig) for rig in rigs or DEFAULT_DESIGNS]
    chosen = [(each, index_of(each, wanted)) for each in loaded]
    results = traced(chosen, asked)
    renders: dict[tuple[str, int], Any] = {}  # pictures and page show the same
    export.deliver(
        results,
        asked,
        comparison(results, asked),
        outputs,
        charts=lambda: export.pictures(results, figures, replace=replace, clean=clean, renders=renders),
        page=lambda: export.page(results, asked, clean=clean, renders=renders),
    )


@app.command()
@plainly
def report(
    rig: options.Rig,
    magnification: options.Magnification = None,
    everything: Annotated[bool, typer.Option("--all", help="All figures: every plane, every place of loss.")] = False,
    explain: Annotated[
        bool, typer.Option("--explain", help="Say how figures and ranges are defined, and by whom.")
    ] = False,
    strict: Annotated[
        bool, typer.Option("--strict", help="End with exit code 1 if a limit of yours is broken.")
    ] = False,
    seed: options.Seed = "1",
    error: options.Error = options.ERROR,
    backward: options.Backward = False,
    json: options.Json = None,
    csv: options.Csv = None,
    html: options.Html = None,
    clean: options.Clean = False,
    figures: options.Pictures = None,
    replace: options.Replace = False,
) -> None:
    """Report on a rig at all its magnifications.

    With the range that the numbers of the materials give each figure, a verdict against your limits, if the file
    states any, and settings to start from.
    """
    share, number, wanted = options.relative_error(error), options.seed(seed), options.magnification(magnification)
    import lightsim as package
    from lightsim.cli import export
    from lightsim.cli.run import Asked, index_of, traced
    from lightsim.cli.tell import broken, told

    export.require_portraits(clean, html, figures)
    outputs = export.Outputs(json, csv, replace, html)
    outputs.require_free()
    export.require_free_folder(figures, replace=replace)
    asked = Asked(share, number, backward, keep_light=figures is not None or html is not None, plan=True)
    loaded = package.load(rig)
    every = range(len(loaded.rig.camera.magnification))
    indices = every if wanted is None else [index_of(loaded, wanted)]
    results = traced([(loaded, index) for index in indices], asked)
    renders: dict[tuple[str, int], Any] = {}  # pictures and page show the same
    export.deliver(
        results,
        asked,
        told(results, asked, everything=everything, explain=explain),
        outputs,
        charts=lambda: export.pictures(results, figures, replace=replace, clean=clean, renders=renders),
        page=lambda: export.page(results, asked, clean=clean, renders=renders),
    )
    if strict and broken([each.report for each in results]):
        raise typer.Exit(LIMIT_BROKEN)


@app.command()
@plainly
def designs() -> None:
    """List the ready designs."""
    from lightsim.cli.layout import say
    from lightsim.cli.ready import listed

    say(listed())


@app.command()
@plainly
def materials(
    name: Annotated[
        list[str] | None,
        typer.Argument(metavar="NAME", help="One of them, such as copy paper: every number, its range and source."),
    ] = None,
    json: options.Json = None,
    replace: options.Replace = False,
) -> None:
    """List the ready materials, each in a line.

    How much light they pass and send back, how far that may be off, how it is known; with a name every number of one.
    """
    from lightsim.cli.materials import delivered

    delivered(" ".join(name or []), json, replace=replace)


@app.command()
@plainly
def new(
    name: Annotated[str, typer.Argument(metavar="NAME", help="A ready design; lightsim designs lists them.")],
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FILE", help="Where to write; by default NAME.toml in this folder.")
    ] = None,
    replace: options.Replace = False,
) -> None:
    """Write a rig file from a ready design.

    With comments; change a number in it and ask again.
    """
    from lightsim.cli.layout import say
    from lightsim.cli.ready import begun

    say(begun(name, to, replace=replace))


app.command()(bench.check)


@app.command(context_settings={"ignore_unknown_options": True})  # so that FROM and TO may be negative
@plainly
def vary(
    rig: options.Rig,
    key: Annotated[str, typer.Argument(metavar="KEY", help="A number of the rig, such as diffuser.front.width.")],
    start: Annotated[str, typer.Argument(metavar="FROM", help="First value, a number in the unit of the file.")],
    end: Annotated[str, typer.Argument(metavar="TO", help="Last value.")],
    steps: Annotated[
        str, typer.Option(metavar="NUMBER", help="How many values, both ends counted, from 2 to 200.")
    ] = "7",
    figure: Annotated[
        list[str] | None,
        typer.Option("--figure", metavar="NAME", help="A figure to show, such as loss.total; repeat it."),
    ] = None,
    magnification: options.Magnification = None,
    seed: options.Seed = "1",
    error: options.Error = options.ERROR,
    backward: options.Backward = False,
    json: options.Json = None,
    csv: options.Csv = None,
    figures: options.Charts = None,
    chart: Annotated[
        Path | None,
        typer.Option("--chart", metavar="FILE", help="Write one chart, of the first figure, as png, svg or pdf."),
    ] = None,
    replace: options.Replace = False,
) -> None:
    """Vary one number of a rig.

    From FROM to TO in even steps, to see what changes.
    """
    share, number, wanted = options.relative_error(error), options.seed(seed), options.magnification(magnification)
    import lightsim as package
    from lightsim.cli import export
    from lightsim.cli.progress import progress
    from lightsim.cli.run import Asked, index_of
    from lightsim.cli.sweep import chart_paths, results_of, swept, values_between
    from lightsim.search.vary import vary as swept_over

    loaded = package.load(rig)
    index = index_of(loaded, wanted)
    first, last = (
        options.number(name, text, allowed="a number, in the unit of the file", remedy=remedy)
        for name, text, remedy in (("FROM", start, "60"), ("TO", end, "120"))
    )
    count = options.whole_number("--steps", steps, least=2, most=200, usual=7)
    values = values_between(first, last, count)
    paths = chart_paths(figures, chart, figure)
    outputs = export.Outputs(json, csv, replace)
    outputs.require_free(*paths)
    asked = Asked(share, number, backward)
    with progress(f"{key} of {loaded.rig.title}") as whole:
        found = swept_over(
            loaded,
            key,
            values,
            magnification=index,
            error=share,
            seed=number,
            figures=figure or None,
            check_backward=backward,
            progress=whole,
        )
    export.deliver(
        results_of(found, loaded),
        asked,
        swept(found, asked),
        outputs,
        charts=lambda: export.variation_charts(found, paths, replace=replace),
    )


for command in (bench.tolerances, bench.pattern, bench.shot):
    app.command()(command)
