"""lightsim measure: from readings of your own camera, or from a pack, to a material or a beam. Reads, asks, prints."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from lightsim.cli import options, pack
from lightsim.cli.failures import plainly
from lightsim.cli.usage import Commands

_READINGS = "A file of readings in place of the options, as --record writes it."
_RECORD = "Keep the readings in this new file."
_UNCERTAINTY = "Standard uncertainty of each reading, in stops; a sixth, unless you say so."

app = typer.Typer(
    name="measure",
    cls=Commands,
    help="Your sheet or flash, by camera or pack.\n\nsheet and flash take readings of your camera (docs/measure.md "
    "shows how, with drawings); paper, film and foam take what is printed on the pack (docs/materials.md).",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
)

_Readings = Annotated[Path | None, typer.Option("--readings", metavar="FILE", help=_READINGS)]
_Record = Annotated[Path | None, typer.Option("--record", metavar="FILE", help=_RECORD)]
_Uncertainty = Annotated[str | None, typer.Option(metavar="STOPS", help=_UNCERTAINTY)]


def _stops(words: str) -> Any:
    return typer.Option(metavar="STOPS", help=words)


@app.command()
@plainly
def sheet(
    name: Annotated[
        list[str] | None, typer.Argument(metavar="NAME", help='What you will call it, such as "my packing foam".')
    ] = None,
    window: Annotated[str | None, _stops("Lost over the lit window: from the hole in the sheet to the sheet.")] = None,
    white: Annotated[str | None, _stops("Sheet on white card, darker than the bare card by so much.")] = None,
    black: Annotated[str | None, _stops("Sheet on black card, darker than the bare white card by so much.")] = None,
    spot_distance: Annotated[
        str | None, typer.Option(metavar="MM", help="From the small lamp to the sheet, for the next four.")
    ] = None,
    spot_width: Annotated[
        str | None, typer.Option(metavar="MM", help="How wide the spot is where it is one stop darker.")
    ] = None,
    spot_side: Annotated[
        str | None, _stops("Beside the spot, one --spot-distance from its middle, darker by so much.")
    ] = None,
    lamp: Annotated[str | None, _stops("Lost by the lamp itself, if you see it sharply through the sheet.")] = None,
    lamp_width: Annotated[
        str | None, typer.Option(metavar="MM", help="Diameter of the lamp's hole, 6 if not said.")
    ] = None,
    camera_distance: Annotated[
        str | None, typer.Option(metavar="MM", help="From lens to sheet at the spot, 500 if not said.")
    ] = None,
    woven: Annotated[
        bool, typer.Option("--woven", help="Cloth: what passes straight goes through open pores.")
    ] = False,
    white_card: Annotated[
        str | None,
        typer.Option(metavar="SHARE", help="Reflectance of the white card, 0.86 (0.82 to 0.90) if not said."),
    ] = None,
    black_card: Annotated[
        str | None,
        typer.Option(metavar="SHARE", help="Reflectance of the black card, 0.05 (0.03 to 0.08) if not said."),
    ] = None,
    window_reflectance: Annotated[
        str | None,
        typer.Option(metavar="SHARE", help="0.79 if the sheet had no hole and lay on a window of white paper."),
    ] = None,
    about: Annotated[str, typer.Option(metavar="TEXT", help="What it is, for the file.")] = "",
    uncertainty: _Uncertainty = None,
    readings: _Readings = None,
    record: _Record = None,
    to: options.NewFile = None,
    into: options.IntoRig = None,
    replace: options.Replace = False,
) -> None:
    """From readings of a sheet to a material.

    Example: lightsim measure sheet "my packing foam" --window 0.8 --white 0.1 --black 1.0 --to foam.toml
    """
    from lightsim.cli.layout import say
    from lightsim.cli.measured import kept, require_all_free, sheet_told, written
    from lightsim.cli.typed import MILLIMETRES, PLAIN, SHARE, STOPS, name_of, numbers, one_way
    from lightsim.measure.reading_files import checked, load_readings, sheet_readings_text
    from lightsim.measure.readings import SheetReadings
    from lightsim.measure.sheet_readings import measured_sheet

    of_sheet = {
        "--window": ("window", STOPS, window),
        "--white": ("white", STOPS, white),
        "--black": ("black", STOPS, black),
        "--white-card": ("white_card", SHARE, white_card),
        "--black-card": ("black_card", SHARE, black_card),
        "--window-reflectance": ("window_reflectance", SHARE, window_reflectance),
        "--uncertainty": ("uncertainty", PLAIN, uncertainty),
    }
    of_spot = {
        "--spot-distance": ("distance", MILLIMETRES, spot_distance),
        "--spot-width": ("width", MILLIMETRES, spot_width),
        "--spot-side": ("side", STOPS, spot_side),
        "--lamp": ("lamp", STOPS, lamp),
        "--lamp-width": ("lamp_width", MILLIMETRES, lamp_width),
        "--camera-distance": ("camera", MILLIMETRES, camera_distance),
    }
    called = name_of(name, example="my packing foam")
    data, spot = numbers(of_sheet), numbers(of_spot)
    if spot or woven:
        data["spot"] = {**spot, "woven": woven}
    data |= {"about": about} if about else {}
    data |= {} if called is None else {"name": called}
    if readings is not None and one_way(readings, data):
        taken = load_readings(readings, SheetReadings)
    else:
        keys = {key: option for option, (key, *_) in (of_sheet | of_spot).items()}
        named = {"name": "NAME", "about": "--about"}
        taken = checked(data, SheetReadings, where="lightsim measure sheet", options=keys | named)
    require_all_free(to, record, replace=replace)
    found = measured_sheet(taken)
    wrote = written(found.name, found.sheet, to=to, into=into, what="A sheet measured with a camera", replace=replace)
    wrote += kept(record, sheet_readings_text(taken), replace=replace)
    say(sheet_told(found, wrote, to=to, into=into))


@app.command()
@plainly
def flash(
    name: Annotated[
        list[str] | None, typer.Argument(metavar="NAME", help='What you will call it, such as "my flash".')
    ] = None,
    wall_distance: Annotated[
        str | None, typer.Option(metavar="MM", help="From the flash to the wall, such as 1000.")
    ] = None,
    across: Annotated[
        str | None,
        typer.Option(
            metavar="MARKS",
            help='Distance from the middle in mm and stops darker, sideways: "200:0.4 400:1.5 600:2.8".',
        ),
    ] = None,
    up: Annotated[str | None, typer.Option(metavar="MARKS", help="The same, upward.")] = None,
    zoom: Annotated[
        str | None, typer.Option(metavar="TEXT", help="The zoom setting of the flash; of --readings, which.")
    ] = None,
    f_number: Annotated[str | None, typer.Option(metavar="NUMBER", help="For the guide number: the f-number.")] = None,
    iso: Annotated[str | None, typer.Option(metavar="NUMBER", help="The ISO speed, 100 if not said.")] = None,
    power: Annotated[str | None, typer.Option(metavar="SHARE", help="Power, such as 1/16; full if not said.")] = None,
    brighter: Annotated[
        str | None, _stops("Card in the middle of the wall, brighter than a metered grey by so much; 0 if not said.")
    ] = None,
    card: Annotated[
        str | None, typer.Option(metavar="SHARE", help="Reflectance of that card, 0.18 if not said.")
    ] = None,
    incident: Annotated[
        bool, typer.Option("--incident", help="The f-number is what an incident light meter shows at the wall.")
    ] = False,
    uncertainty: _Uncertainty = None,
    readings: _Readings = None,
    record: _Record = None,
    to: options.NewFile = None,
    into: Annotated[
        Path | None,
        typer.Option("--into", metavar="RIG", help="Put beam and guide number into the head of this rig file."),
    ] = None,
    head: Annotated[
        str | None, typer.Option(metavar="NAME", help="Which head of that rig, where it has several.")
    ] = None,
    replace: Annotated[
        bool, typer.Option("--replace", help="Replace files, and numbers of the head that were measured.")
    ] = False,
) -> None:
    """From a lit wall to beam and guide number.

    Example: lightsim measure flash "my flash" --wall-distance 1000 --across "200:0.3 400:0.9 600:1.8"
    """
    from lightsim.cli.layout import say
    from lightsim.cli.measured import chosen, flash_told, kept, require_all_free
    from lightsim.cli.typed import F_NUMBER, MILLIMETRES, PLAIN, SHARE, STOPS, marks, name_of, numbers, one_way
    from lightsim.measure.flash_readings import measured_flash
    from lightsim.measure.reading_files import add_flash, checked, flash_readings_text, load_readings, write_flash
    from lightsim.measure.readings import FlashReadings
    from lightsim.rig.errors import fault, given

    of_wall = {
        "--wall-distance": ("wall_distance", MILLIMETRES, wall_distance),
        "--card": ("card", SHARE, card),
        "--uncertainty": ("uncertainty", PLAIN, uncertainty),
    }
    of_light = {
        "--f-number": ("f_number", F_NUMBER, f_number),
        "--iso": ("iso", PLAIN, iso),
        "--brighter": ("brighter", STOPS, brighter),
    }
    called = name_of(name, example="my flash")
    data, of_zoom = numbers(of_wall), numbers(of_light)
    of_zoom |= {key: marks(f"--{key}", text) for key, text in (("across", across), ("up", up)) if text}
    of_zoom |= {} if power is None else {"power": power}
    data |= {"meter": "incident"} if incident else {}
    data |= {} if called is None else {"name": called}
    if head is not None and into is None:
        raise fault(f"--head {given(head)}", what="no rig is named", allowed="--head with --into", remedy="--into RIG")
    if readings is not None and one_way(readings, data | of_zoom):
        taken = load_readings(readings, FlashReadings)
    else:
        of_zoom |= {} if zoom is None else {"setting": zoom}
        keys = {key: option for option, (key, *_) in (of_wall | of_light).items()}
        named = {"name": "NAME", "across": "--across", "up": "--up", "power": "--power", "setting": "--zoom"}
        taken = checked(data | {"zoom": [of_zoom]}, FlashReadings, where="lightsim measure flash", options=keys | named)
    require_all_free(to, record, replace=replace)
    found = chosen(measured_flash(taken), zoom, into=into)
    # The rig goes first: if it cannot take the head, nothing at all is written.
    rig = add_flash(found[0], into, head=head, replace=replace) if into is not None else None
    wrote = kept(record, flash_readings_text(taken), replace=replace)
    wrote += [write_flash(taken.name, found, to, replace=replace)] if to is not None else []
    say(flash_told(taken, found, wrote, to=to, head=rig))


app.command()(pack.paper)
app.command()(pack.film)
app.command()(pack.foam)
