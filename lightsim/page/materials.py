"""The materials that designs use, as the page tells them: every number with its range, how it is known, its source."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from lightsim.page.tables import Cell, Row, Table
from lightsim.rig.library import library_materials
from lightsim.rig.load import LoadedRig, material
from lightsim.sheet import Sheet
from lightsim.sheet.stated import as_text, by_source, divisions, numbers, summary

_HEADS = ("value", "low", "high", "known")


class Material(NamedTuple):
    """A sheet with what is known of it."""

    name: str
    whose: str  # "library", or the file it stands in
    used: str  # in which designs and parts
    about: str
    summary: str
    layers: str  # empty for a sheet of its own
    numbers: Table
    divisions: tuple[str, ...]
    sources: tuple[str, ...]


def materials_of(rigs: Sequence[tuple[LoadedRig, str]]) -> tuple[Material, ...]:
    """Each material that the parts of these rigs are of, once, and the layers that it is made of.

    rigs: with what to call each, empty where there is one
    """
    found: dict[tuple[str, str], tuple[Sheet, Sheet | None, list[str]]] = {}
    for loaded, title in rigs:
        for part in (*loaded.rig.diffuser, *loaded.rig.surroundings):
            where = f"{title}: {part.name}" if title else part.name
            _add(found, loaded, part.material, where)
    return tuple(_told(name, whose, *entry) for (name, whose), entry in found.items())


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}." if text and text[-1] not in ".!?" else text


def _add(
    found: dict[tuple[str, str], tuple[Sheet, Sheet | None, list[str]]], loaded: LoadedRig, name: str, where: str
) -> None:
    own = loaded.rig.material.get(name)
    whose = loaded.file if own else "library"
    stated = own or library_materials().get(name)
    _, _, places = found.setdefault((name, whose), (material(loaded, name), stated, []))
    if where not in places:
        places.append(where)
    for layer in stated.layers if stated else ():
        _add(found, loaded, layer, f"a layer of {name}")


def _told(name: str, whose: str, sheet: Sheet, stated: Sheet | None, places: list[str]) -> Material:
    known = numbers(sheet)
    rows = tuple(
        Row(each.label, (*(Cell(as_text(value)) for value in (each.value, each.low, each.high)), Cell(each.known)))
        for each in known
    )
    sources = [f"{', '.join(keys)}: {source}" for source, keys in by_source(known).items()]
    if sheet.source:
        sources.insert(0, sheet.source)
    return Material(
        name=name,
        whose="of the library" if whose == "library" else f"of {whose}",
        used="; ".join(places),
        about=_sentence(" ".join(sheet.about.split())),
        summary=summary(sheet),
        layers=" on ".join(stated.layers) if stated else "",
        numbers=Table(f"Numbers of {name}", "number", _HEADS, rows),
        divisions=tuple(divisions(known)),
        sources=tuple(sources),
    )
