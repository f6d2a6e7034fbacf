"""Patterns on the command line: what is to be cut, in words, and the files to cut it by."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from lightsim.cli.holds import where
from lightsim.cli.layout import Cell, Line, Row, sentence, table
from lightsim.pattern.cutting_list import CuttingList, MaterialLine, PieceLine, cutting_list, rest_of, summary
from lightsim.pattern.pack import CutSheet, packed
from lightsim.pattern.pattern import USUAL_SHEET, pattern_of_placed
from lightsim.pattern.piece import Pattern, Piece
from lightsim.pattern.sizes import PAPERS, sheet_size
from lightsim.rig.errors import fault, file_name, given, naming, quoted
from lightsim.rig.files import require_free, write_safely
from lightsim.rig.load import LoadedRig, placed
from lightsim.rig.shells import Dome
from lightsim.rig.units import INCH

WHOLE = "sheet"  # in place of a paper: a page for each sheet of material
_ENDINGS = {"--pdf": ".pdf", "--svg": ".svg", "--dxf": ".dxf", "--json": ".json"}
_PRICE = re.compile(r"(.+)=\s*([0-9]+(?:[.,][0-9]+)?)\s*$")


@dataclass(frozen=True)
class Wanted:
    """What is asked for: parts, sheets, joints and files."""

    parts: tuple[str, ...] = ()
    sheets: tuple[str, ...] = ()  # "500x700", "white card=A3"
    prices: tuple[str, ...] = ()  # "white card=1.20"
    tab: float | None = None  # mm
    gores: int | None = None
    paper: str = "A4"
    pdf: Path | None = None
    svg: Path | None = None
    dxf: Path | None = None
    json: Path | None = None
    replace: bool = False

    @property
    def files(self) -> dict[str, Path]:
        """The files asked for, by option."""
        named = {"--pdf": self.pdf, "--svg": self.svg, "--dxf": self.dxf, "--json": self.json}
        return {option: path for option, path in named.items() if path is not None}


@dataclass(frozen=True)
class Cut:
    """A pattern laid out on sheets, with its cutting list."""

    pattern: Pattern
    sheets: tuple[CutSheet, ...]
    listed: CuttingList
    places: tuple[str, ...]  # where each part goes, a sentence each


def cut(loaded: LoadedRig, wanted: Wanted) -> Cut:
    """Pattern, sheets and cutting list of a rig. Raises RigError for what cannot be cut as asked."""
    unit = loaded.rig.unit
    materials = {spec.material for spec in (*loaded.rig.diffuser, *loaded.rig.surroundings)}
    sizes, usual = _sheets(wanted.sheets, materials, unit)
    prices = _prices(wanted.prices, materials)
    world = placed(loaded)
    with naming(loaded.file):
        pattern = pattern_of_placed(
            world, parts=wanted.parts, tab=wanted.tab, gores=wanted.gores, sheets=sizes, usual=usual or USUAL_SHEET
        )
    if wanted.gores is not None and not any(isinstance(spec.shape, Dome) for spec in loaded.rig.diffuser):
        raise fault(
            f"--gores {wanted.gores}",
            what="this rig has no dome",
            allowed="rigs with a part of shape dome",
            remedy="leaving it out",
        )
    sheets = packed(pattern.pieces, sizes=sizes, usual=usual or USUAL_SHEET, unit=unit)
    listed = cutting_list(pattern, sheets, placed=world, prices=prices)
    cut_parts = {piece.part for piece in pattern.pieces}
    parts = (*loaded.rig.diffuser, *loaded.rig.surroundings)
    places = tuple(f"Place of {part.name}: {where(part.place)}." for part in parts if part.name in cut_parts)
    return Cut(pattern, sheets, listed, places)


def paper_named(text: str) -> str:
    """The paper, or WHOLE, that --paper names. Raises RigError for any other."""
    known = {name.casefold(): name for name in (*PAPERS, WHOLE)}
    found = known.get(text.strip().casefold())
    if found is None:
        raise fault(
            f"--paper {given(text)}",
            what="pages of this size are not made",
            allowed=f"{', '.join(PAPERS)}, or {WHOLE} for one page for each sheet of material",
            remedy="A4",
        )
    return found


def require_files(wanted: Wanted) -> None:
    """Raise RigError, before anything is done, for names that exist, lack their ending or stand for two things."""
    taken: dict[str, str] = {}
    for option, path in wanted.files.items():
        ending = _ENDINGS[option]
        if path.suffix.lower() != ending:
            raise fault(
                f"{option} {given(str(path))}",
                what="other programs would not know this as what it is",
                allowed=f"names that end in {ending}",
                remedy=file_name(f"{path.with_suffix('').name or 'pattern'}{ending}"),
            )
        taken[os.path.realpath(path)] = option
        require_free(path, replace=wanted.replace)


def told(found: Cut) -> list[Line]:
    """The cutting list and how the pieces go together."""
    pattern, listed = found.pattern, found.listed
    lines = sentence(f"Pattern of {pattern.title}: {_counted(listed)}.", bold=True)
    if pattern.pieces:
        lines += [Line(""), *_piece_table(listed), Line(""), *_sheet_table(listed), Line("")]
        for words in rest_of(listed):
            lines += sentence(f"{words}.", indent="  ")
        lines += [Line(""), Line("How it goes together", bold=True)]
        for piece in pattern.pieces:
            lines += _together(piece)
        for words in found.places:
            lines += sentence(words, indent="  ")
    for refused in pattern.refused:
        lines += [Line(""), *sentence(f'No pattern for "{refused.part}": {refused.reason}.', indent="  ", bold=True)]
    return lines


def written(found: Cut, wanted: Wanted) -> list[Line]:
    """Write the files asked for, and say what each is. Raises RigError if one cannot be written."""
    makers: dict[str, Callable[[Path], list[tuple[Path, str | bytes]]]] = {
        "--pdf": lambda path: [(path, _pdf(found, wanted))],
        "--svg": lambda path: _each_sheet(found, path, _svg),
        "--dxf": lambda path: _each_sheet(found, path, _dxf),
        "--json": lambda path: [(path, json.dumps(_data(found), indent=2, ensure_ascii=False) + "\n")],
    }
    lines: list[Line] = []
    if not found.pattern.pieces and set(wanted.files) - {"--json"}:
        raise fault(
            ", ".join(wanted.files),
            what="nothing was written, as no part of this rig can be cut flat",
            allowed="rigs with sheets, bent sheets, boxes, funnels, cones or domes",
            remedy="lightsim designs, which lists others",
        )
    if found.pattern.pieces or "--json" in wanted.files:
        made = [each for option, path in wanted.files.items() for each in makers[option](path)]
        for path, _ in made:
            require_free(path, replace=wanted.replace)
        for path, content in made:
            write_safely(path, content, replace=wanted.replace)
            lines.append(Line(f"Wrote {file_name(path)}"))
    if wanted.pdf is not None and lines:
        lines += sentence(
            "Print at 100 % (actual size, not fitted to the page), and measure the 100 mm bar before you cut. Cut on a "
            "mat, the blade away from your fingers."
        )
    elif found.pattern.pieces and not lines:
        lines += sentence("To print it: add --pdf FILE. For a cutting machine: --svg FILE or --dxf FILE.")
    return lines


def _counted(listed: CuttingList) -> str:
    pieces = sum(line.copies for line in listed.pieces)
    sheets = sum(line.sheets for line in listed.materials)
    return f"{pieces} piece{_s(pieces)} from {sheets} sheet{_s(sheets)}" if pieces else "nothing that can be cut flat"


def _s(number: int) -> str:
    return "" if number == 1 else "s"


def _piece_table(listed: CuttingList) -> list[Line]:
    unit = listed.unit
    rows = [
        Row(
            line.name,
            (
                Cell("", line.material),
                Cell(str(line.copies)),
                Cell(_size(line, unit)),
                Cell(f"{line.area / (INCH**2 if unit == 'inch' else 100):.1f}"),
                Cell("" if line.weight is None else f"{line.weight:.2f}"),
            ),
        )
        for line in listed.pieces
    ]
    surface = "sq in" if unit == "inch" else "cm2"
    return table("piece", ("of", "how many", f"size, {unit}", f"area, {surface}", "weight, g"), rows)


def _sheet_table(listed: CuttingList) -> list[Line]:
    priced = any(line.cost is not None for line in listed.materials)
    rows = [
        Row(
            line.material,
            (
                Cell(str(line.sheets)),
                Cell(_size(line, listed.unit)),
                Cell(f"{100 * line.share:.0f}"),
                *([Cell("" if line.cost is None else f"{line.cost:.2f}")] if priced else []),
            ),
        )
        for line in listed.materials
    ]
    return table("material", ("sheets", f"of, {listed.unit}", "used, %", *(["cost"] if priced else [])), rows)


def _size(line: PieceLine | MaterialLine, unit: str) -> str:
    scale, digits = (INCH, 2) if unit == "inch" else (1.0, 1)
    return f"{round(line.width / scale, digits):g} x {round(line.height / scale, digits):g}"


def _together(piece: Piece) -> list[Line]:
    words = " ".join(piece.notes) or "Cut it out."
    return sentence(f"{piece.name}: {words}", indent="  ")


def _pdf(found: Cut, wanted: Wanted) -> bytes:
    from lightsim.pattern.pdf import tiled_pdf, whole_pdf

    words = (*summary(found.listed), *found.places)
    if wanted.paper == WHOLE:
        return whole_pdf(found.pattern, found.sheets, summary=words)
    return tiled_pdf(found.pattern, paper=wanted.paper, summary=words)


def _svg(sheet: CutSheet, title: str) -> str:
    from lightsim.pattern.svg import svg_text

    return svg_text(sheet, title=title)


def _dxf(sheet: CutSheet, title: str) -> str:
    from lightsim.pattern.dxf import dxf_text

    return dxf_text(sheet, title=title)


def _each_sheet(found: Cut, path: Path, text: Callable[[CutSheet, str], str]) -> list[tuple[Path, str | bytes]]:
    """A file for each sheet of material, numbered where there are several."""
    title = found.pattern.title
    if len(found.sheets) == 1:
        return [(path, text(found.sheets[0], title))]
    return [
        (path.with_name(f"{path.stem}-{number}{path.suffix}"), text(sheet, f"{title}, {sheet.material}"))
        for number, sheet in enumerate(found.sheets, 1)
    ]


def _data(found: Cut) -> dict[str, Any]:
    listed = asdict(found.listed)
    refused = [asdict(each) for each in found.pattern.refused]
    return {"title": found.pattern.title, "lengths": "mm", "areas": "mm2", "weights": "g", **listed, "refused": refused}


def _sheets(
    texts: Sequence[str], materials: set[str], unit: str
) -> tuple[dict[str, tuple[float, float]], tuple[float, float] | None]:
    """Sizes by material, and that of all others."""
    sizes: dict[str, tuple[float, float]] = {}
    usual = None
    for text in texts:
        name, sign, size = text.rpartition("=")
        if sign:
            sizes[_material(name, materials, f"--sheet {given(text)}")] = sheet_size(size, unit=unit)
        else:
            usual = sheet_size(text, unit=unit)
    return sizes, usual


def _prices(texts: Sequence[str], materials: set[str]) -> dict[str, float]:
    prices = {}
    for text in texts:
        found = _PRICE.match(text)
        if found is None:
            example = f"{min(materials, default='white card')}=1.20"
            raise fault(
                f"--price {given(text)}",
                what="this is no price of a sheet",
                allowed="a material, =, and a number without currency",
                remedy=quoted(example),
            )
        prices[_material(found[1], materials, f"--price {given(text)}")] = float(found[2].replace(",", "."))
    return prices


def _material(name: str, materials: set[str], where: str) -> str:
    from lightsim.rig.errors import alternatives, closest

    name = name.strip()
    if name not in materials:
        near = closest(name, materials) or min(materials, default="")
        raise fault(
            where,
            what="no part of the rig is of this material",
            allowed=alternatives(sorted(materials), 12) or "nothing: the rig has no parts",
            remedy=quoted(near),
        )
    return name
