"""lightsim measure paper, film and foam: from what is printed on a pack to a material. They read, ask and print."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from lightsim.cli import options
from lightsim.cli.failures import plainly

if TYPE_CHECKING:
    from lightsim.sheet.pack import Pack

_TRANSMITTANCE = "Total: all that it lets through, straight and scattered, such as 87%."
_Name = Annotated[list[str], typer.Argument(metavar="NAME", help='What you will call it, such as "my copy paper".')]
_About = Annotated[str, typer.Option(metavar="TEXT", help="What it is, for the file.")]


def _figure(unit: str, words: str) -> Any:
    return typer.Option(metavar=unit, help=words)


@plainly
def paper(
    name: _Name,
    grammage: Annotated[str | None, _figure("G/M2", "Of the paper with this opacity, such as 80.")] = None,
    opacity: Annotated[str | None, _figure("PERCENT", "As printed (ISO 2471), such as 91%.")] = None,
    reflectivity: Annotated[
        str | None,
        _figure(
            "PERCENT",
            "Whiteness: what a thick pile sends back, as the eye weighs it (luminous R-infinity, or Y); "
            "82..92% is assumed if not said.",
        ),
    ] = None,
    lightness: Annotated[str | None, _figure("NUMBER", "The same as L* (CIELAB), such as 94.")] = None,
    wanted_grammage: Annotated[
        str | None, _figure("G/M2", "Of the paper you will use, if it is another weight of the same kind.")
    ] = None,
    brightened: Annotated[
        bool, typer.Option("--brightened", help="It glows under ultraviolet light, as most white office paper does.")
    ] = False,
    iso_brightness: Annotated[
        str | None, _figure("PERCENT", "Refused, with the reason: it is no whiteness as the eye sees it.")
    ] = None,
    about: _About = "",
    to: options.NewFile = None,
    into: options.IntoRig = None,
    replace: options.Replace = False,
) -> None:
    """From the pack of a paper to a material.

    With a % sign a figure is a percentage; without, above 1 it is one too, below 1 it is a share. A range: 90..92%.

    Example: lightsim measure paper "my copy paper" --grammage 80 --opacity 91% --to paper.toml
    """
    from lightsim.cli import printed
    from lightsim.sheet.pack import paper_pack

    where = "lightsim measure paper"
    tested = printed.grammage("--grammage", printed.needed("--grammage", grammage, what="g/m2", remedy="80"))
    opaque = printed.share("--opacity", printed.needed("--opacity", opacity, what="opacity, in percent", remedy="91%"))
    pile = None if reflectivity is None else printed.share("--reflectivity", reflectivity, whiteness=True)
    light = None if lightness is None else printed.amount("--lightness", lightness, units=(), remedy="94")
    wanted = None if wanted_grammage is None else printed.grammage("--wanted-grammage", wanted_grammage)
    if iso_brightness is not None:
        raise printed.no_whiteness("--iso-brightness", iso_brightness)
    names = {
        "reflectivity_of_lightness": "--lightness",
        "wanted_grammage": "--wanted-grammage",
        "grammage": "--grammage",
        "opacity": "--opacity",
        "reflectivity": "--reflectivity",
        "lightness": "--lightness",
    }
    with printed.refusals(where, names, {"--opacity": opacity, "--reflectivity": reflectivity}):
        found = paper_pack(
            opacity=opaque,
            grammage=tested,
            reflectivity=pile,
            lightness=light,
            wanted_grammage=wanted,
            brightened=brightened,
        )
    read_as = [printed.told("opacity", opaque, "%"), printed.told("grammage", tested, "g/m2")]
    read_as += [] if pile is None else [printed.told("luminous R-infinity", pile, "%")]
    read_as += [] if light is None else [printed.told("L*", light, "")]
    read_as += [] if wanted is None else [printed.told("wanted grammage", wanted, "g/m2")]
    _deliver(where, name, about, found, read_as, to, into, replace)


@plainly
def film(
    name: _Name,
    transmittance: Annotated[str | None, _figure("PERCENT", _TRANSMITTANCE)] = None,
    haze: Annotated[str | None, _figure("PERCENT", "As printed (ASTM D1003, ISO 14782), such as 80%.")] = None,
    half_value_angle: Annotated[
        str | None,
        _figure(
            "DEGREES",
            "How far off straight on the scattered light falls to half its intensity; 5..60 is left open if not said.",
        ),
    ] = None,
    luminance_half_value_angle: Annotated[
        str | None, _figure("DEGREES", "The same, but where the film looks half as bright (CIE), in its place.")
    ] = None,
    glossy_reflectance: Annotated[
        str | None, _figure("PERCENT", "Of a shiny surface, about 4% for plastic; none if not said.")
    ] = None,
    about: _About = "",
    to: options.NewFile = None,
    into: options.IntoRig = None,
    replace: options.Replace = False,
) -> None:
    """From the pack of a film to a material.

    With a % sign a figure is a percentage; without, above 1 it is one too, below 1 it is a share. A range: 75..85%.

    Example: lightsim measure film "my film" --transmittance 87% --haze 80% --half-value-angle 12 --to film.toml
    """
    from lightsim.cli import printed
    from lightsim.sheet.pack import film_pack

    where, degrees = "lightsim measure film", ("degrees", "degree", "deg", "°")
    passed = printed.share(
        "--transmittance",
        printed.needed("--transmittance", transmittance, what="total transmittance, in percent", remedy="87%"),
    )
    hazy = printed.share("--haze", printed.needed("--haze", haze, what="haze, in percent", remedy="80%"))
    angle, looked = (
        None if text is None else printed.amount(option, text, units=degrees, remedy="12")
        for option, text in (
            ("--half-value-angle", half_value_angle),
            ("--luminance-half-value-angle", luminance_half_value_angle),
        )
    )
    shine = 0.0 if glossy_reflectance is None else printed.share("--glossy-reflectance", glossy_reflectance)
    names = {
        "total_transmittance": "--transmittance",
        "glossy_reflectance": "--glossy-reflectance",
        "half_value_angle": "--half-value-angle",
        "luminance_angle": "--luminance-half-value-angle",
        "haze": "--haze",
    }
    shares = {"--transmittance": transmittance, "--haze": haze, "--glossy-reflectance": glossy_reflectance}
    with printed.refusals(where, names, shares):
        found = film_pack(
            total_transmittance=passed,
            haze=hazy,
            half_value_angle=angle,
            luminance_angle=looked,
            glossy_reflectance=shine[1] if isinstance(shine, tuple) else shine,
        )
    read_as = [printed.told("transmittance", passed, "%"), printed.told("haze", hazy, "%")]
    read_as += [] if angle is None else [printed.told("half-value angle", angle, "degrees")]
    read_as += [] if looked is None else [printed.told("half-value angle of luminance", looked, "degrees")]
    read_as += [] if not shine else [printed.told("glossy reflectance", shine, "%")]
    _deliver(where, name, about, found, read_as, to, into, replace)


@plainly
def foam(
    name: _Name,
    transmittance: Annotated[str | None, _figure("PERCENT", _TRANSMITTANCE)] = None,
    thickness: Annotated[str | None, _figure("MM", "Of the sheet with this transmittance, such as 2.")] = None,
    wanted_thickness: Annotated[
        str | None, _figure("MM", "Of the sheet you will use, if it is another one of the same kind.")
    ] = None,
    absorption: Annotated[
        str | None, _figure("1/MM", "Share that the stuff swallows per mm; none if not said, as in white foam.")
    ] = None,
    opal: Annotated[bool, typer.Option("--opal", help="Opal plastic with shiny faces, such as acrylic.")] = False,
    about: _About = "",
    to: options.NewFile = None,
    into: options.IntoRig = None,
    replace: options.Replace = False,
) -> None:
    """From the pack of a foam or opal sheet.

    With a % sign a figure is a percentage; without, above 1 it is one too, below 1 it is a share. A range: 50..60%.

    Example: lightsim measure foam "my foam" --transmittance 55% --thickness 2 --wanted-thickness 3 --to foam.toml
    """
    from lightsim.cli import printed
    from lightsim.sheet.pack import foam_pack

    where, lengths = "lightsim measure foam", ("mm",)
    passed = printed.share(
        "--transmittance",
        printed.needed("--transmittance", transmittance, what="total transmittance, in percent", remedy="55%"),
    )
    thick = printed.needed("--thickness", thickness, what="mm, of the sheet with this transmittance", remedy="2")
    stated = printed.single("--thickness", thick, units=lengths, remedy="2; an inch is 25.4 mm")
    wanted = (
        None
        if wanted_thickness is None
        else printed.single("--wanted-thickness", wanted_thickness, units=lengths, remedy="3; an inch is 25.4 mm")
    )
    lost = 0.0 if absorption is None else printed.amount("--absorption", absorption, units=("1/mm",), remedy="0.001")
    names = {
        "measured_thickness": "--thickness",
        "thickness": "--thickness" if wanted is None else "--wanted-thickness",
        "absorption": "--absorption",
        "transmittance": "--transmittance",
        "refractive_index": "refractive index",
    }
    with printed.refusals(where, names, {"--transmittance": transmittance}):
        found = foam_pack(transmittance=passed, thickness=stated, wanted_thickness=wanted, absorption=lost, opal=opal)
    read_as = [printed.told("transmittance", passed, "%"), printed.told("thickness", stated, "mm")]
    read_as += [] if wanted is None else [printed.told("wanted thickness", wanted, "mm")]
    read_as += [] if absorption is None else [printed.told("absorption", lost, "per mm")]
    _deliver(where, name, about, found, read_as, to, into, replace)


def _deliver(
    where: str,
    name: list[str],
    about: str,
    found: Pack,
    read_as: list[str],
    to: Path | None,
    into: Path | None,
    replace: bool,
) -> None:
    """Write the material if asked, and print it."""
    from lightsim.cli.layout import say
    from lightsim.cli.measured import pack_told, require_all_free, written
    from lightsim.cli.typed import name_of
    from lightsim.measure.reading_files import checked
    from lightsim.measure.readings import NamedSheet

    given = {"name": name_of(name, example="my copy paper"), "about": about or found.sheet.about}
    called = checked(given, NamedSheet, where=where, options={"name": "NAME", "about": "--about"})
    sheet = found.sheet.model_copy(update={"about": called.about})
    require_all_free(to, replace=replace)
    what = "A sheet from what is printed on its pack"
    wrote = written(called.name, sheet, to=to, into=into, what=what, replace=replace)
    say(pack_told(called.name, sheet, read_as, found.notes, wrote, to=to, into=into))
