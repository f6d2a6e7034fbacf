"""The commands of lightsim: each reads what was typed, asks the package, and prints. They compute nothing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from lightsim.cli import options
from lightsim.cli.failures import LIMIT_BROKEN, plainly
from lightsim.cli.measure import app as measure
from lightsim.cli.usage import Commands

DEFAULT_DESIGNS = ("bare-flash", "flat-paper", "foam-arc", "white-box")
_ERROR = "0.5%"

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
    error: options.Error = _ERROR,
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
    error: options.Error = _ERROR,
    backward: options.Backward = False,
    json: options.Json = None,
    csv: options.Csv = None,
    html: options.Html = None,
    clean: options.Clean = False,
    figures: options.Pictures = None,
    replace: options.Replace = False,
) -> None:
    """Report on a rig at all its magnifications.

    With the range that the numbers of the materials give each figure, and a verdict against your limits, if the file
    states any.
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
    asked = Asked(share, number, backward, keep_light=figures is not None or html is not None)
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


@app.command()
@plainly
def check(rig: options.Rig) -> None:
    """Check whether a rig fits.

    And say what its file holds. Traces no light. Ends with exit code 1 if something is in the way: in the view of the
    lens, on the barrel or its focus ring, at the subject or the leaf, or if a head does not fit its hole.
    """
    import lightsim as package
    from lightsim.cli.fits import fit_of
    from lightsim.cli.holds import contents
    from lightsim.cli.layout import say

    loaded = package.load(rig)
    fit = fit_of(loaded)
    say(contents(loaded, fit))
    if fit.in_the_way:
        raise typer.Exit(LIMIT_BROKEN)


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
    error: options.Error = _ERROR,
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


@app.command()
@plainly
def tolerances(
    rig: options.Rig,
    figure: Annotated[
        list[str] | None,
        typer.Option("--figure", metavar="NAME", help="A figure to show, such as loss.total; repeat it."),
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="All numbers, not only the ten that matter most.")] = False,
    magnification: options.Magnification = None,
    seed: options.Seed = "1",
    error: options.Error = _ERROR,
    json: options.Json = None,
    csv: options.Csv = None,
    replace: options.Replace = False,
) -> None:
    """Say where to be careful when building.

    What 1 mm in cutting, 2 degrees in bending and 3 mm in placing change, number by number.
    """
    share, number, wanted = options.relative_error(error), options.seed(seed), options.magnification(magnification)
    import lightsim as package
    from lightsim.cli.export import Outputs
    from lightsim.cli.progress import progress
    from lightsim.cli.run import Asked, index_of
    from lightsim.cli.tolerances import deliver, told
    from lightsim.search.tolerances import tolerances as reckoned

    loaded = package.load(rig)
    index = index_of(loaded, wanted)
    outputs = Outputs(json, csv, replace)
    outputs.require_free()
    asked = Asked(share, number, backward=False)
    with progress(f"errors in building {loaded.rig.title}") as whole:
        found = reckoned(loaded, magnification=index, error=share, seed=number, figures=figure or None, progress=whole)
    lines = told(found, loaded, index, asked, figures=figure, everything=everything)
    deliver(found, loaded, index, asked, lines, outputs)


@app.command()
@plainly
def pattern(
    rig: options.Rig,
    part: Annotated[
        list[str] | None,
        typer.Option("--part", metavar="NAME", help="Only this part; repeat it for several. By default all."),
    ] = None,
    pdf: Annotated[
        Path | None, typer.Option("--pdf", metavar="FILE", help="Write pages to print at 100 % and join.")
    ] = None,
    paper: Annotated[
        str, typer.Option(metavar="NAME", help="Pages of the PDF: A4, Letter, or sheet for one page a sheet.")
    ] = "A4",
    svg: Annotated[
        Path | None, typer.Option("--svg", metavar="FILE", help="Write a drawing in mm, one file for each sheet.")
    ] = None,
    dxf: Annotated[
        Path | None,
        typer.Option("--dxf", metavar="FILE", help="Write layers cut, score, mark, one file for each sheet."),
    ] = None,
    sheet: Annotated[
        list[str] | None,
        typer.Option(
            "--sheet",
            metavar="SIZE",
            help="What is cut from: 500x700, A3, or for one material 'white card=A3'. In the unit of the file.",
        ),
    ] = None,
    price: Annotated[
        list[str] | None,
        typer.Option("--price", metavar="MATERIAL=NUMBER", help="Price of a sheet, such as 'white card=1.20'."),
    ] = None,
    tab: Annotated[
        str | None,
        typer.Option(metavar="WIDTH", help="Of glue tabs, in the unit of the file; 0 for none. By default 10 mm."),
    ] = None,
    gores: Annotated[
        str | None,
        typer.Option(metavar="NUMBER", help="Gores of a dome, from 3 to 60. By default as many as it takes."),
    ] = None,
    json: Annotated[Path | None, typer.Option("--json", metavar="FILE", help="Write the cutting list as JSON.")] = None,
    replace: options.Replace = False,
) -> None:
    """Make full-size patterns of a diffuser.

    Outlines, holes, folds and glue tabs of every part that lies flat, with a cutting list: sheets, area,
    weight, size for the bag.
    """
    import lightsim as package
    from lightsim.cli.layout import Line, say
    from lightsim.cli.pattern import Wanted, cut, paper_named, require_files, told, written
    from lightsim.rig.units import INCH

    loaded = package.load(rig)
    scale = INCH if loaded.rig.unit == "inch" else 1.0
    wanted = Wanted(
        parts=tuple(part or ()),
        sheets=tuple(sheet or ()),
        prices=tuple(price or ()),
        tab=None if tab is None else options.width("--tab", tab, most=100 / scale) * scale,
        gores=None if gores is None else options.whole_number("--gores", gores, least=3, most=60, usual=12),
        paper=paper_named(paper),
        pdf=pdf,
        svg=svg,
        dxf=dxf,
        json=json,
        replace=replace,
    )
    require_files(wanted)
    found = cut(loaded, wanted)
    say([*told(found), Line(""), *written(found, wanted)])
