"""The commands for whoever cuts, builds and goes out with it: check, tolerances, pattern, shot."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lightsim.cli import options
from lightsim.cli.failures import LIMIT_BROKEN, plainly


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
    error: options.Error = options.ERROR,
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


@plainly
def shot(
    rig: options.Rig,
    magnification: options.Magnification = None,
    iso: Annotated[str | None, typer.Option(metavar="NUMBER", help="In place of shot.iso of the file.")] = None,
    f_number: Annotated[str | None, typer.Option(metavar="NUMBER", help="In place of lens.f_number.")] = None,
    shutter: Annotated[str | None, typer.Option(metavar="TIME", help="In place of shot.shutter: 1/200.")] = None,
    power: Annotated[str | None, typer.Option(metavar="POWER", help="A power to try, such as 1/16.")] = None,
    ambient: Annotated[
        str | None, typer.Option(metavar="LUX", help="The light of the day, in place of shot.ambient.")
    ] = None,
    card: Annotated[
        Path | None, typer.Option("--card", metavar="FILE", help="Write a card for the bag, a PDF to print.")
    ] = None,
    paper: Annotated[str, typer.Option(metavar="NAME", help="Paper of the card: A4 or Letter.")] = "A4",
    seed: options.Seed = "1",
    error: options.Error = options.ERROR,
    json: options.Json = None,
    replace: options.Replace = False,
) -> None:
    """Plan the shot.

    Settings to start from, power left, pulse, sharpness, movement, background, colour, heat; what to change
    and its price in stops.
    """
    share, number, wanted = options.relative_error(error), options.seed(seed), options.magnification(magnification)
    import lightsim as package
    from lightsim.cli.export import Outputs
    from lightsim.cli.run import Asked, index_of
    from lightsim.cli.shot import card_paper, deliver, in_the_way, planned, require_card, with_settings

    size = card_paper(paper)
    require_card(card)
    outputs = Outputs(json, None, replace)
    outputs.require_free(*([card] if card else []))
    typed = {"iso": iso, "f_number": f_number, "shutter": shutter, "power": power, "ambient": ambient}
    loaded = with_settings(package.load(rig), typed)
    every = range(len(loaded.rig.camera.magnification))
    asked = Asked(share, number, backward=False)
    plans = planned(loaded, every if wanted is None else [index_of(loaded, wanted)], asked)
    deliver(plans, asked, outputs, notes=in_the_way(loaded), card=card, paper=size)
