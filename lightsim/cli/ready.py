"""Ready designs on the command line: the list, and a rig file of one's own from one of them."""

from __future__ import annotations

from pathlib import Path

from lightsim.cli.layout import Line, sentence
from lightsim.rig.errors import file_name
from lightsim.rig.library import designs, new_file


def listed() -> list[Line]:
    """Every ready design with a line or two."""
    known = designs()
    wide = max(len(design.name) for design in known)
    lines = []
    for design in known:
        first = design.about.partition(". ")[0].rstrip(".")
        lines.extend(sentence(f"{design.name:<{wide}}  {design.title}. {first}.", indent=" " * (wide + 2)))
    start = "To see one: lightsim report NAME. To make it yours: lightsim new NAME, which writes a commented file."
    return [*lines, Line(""), *sentence(start)]


def begun(name: str, to: Path | None, *, replace: bool) -> list[Line]:
    """Write the file of a new rig and say what to do with it. Raises RigError if it cannot be written."""
    written = new_file(name, Path(f"{name}.toml") if to is None else to, replace=replace)
    file = file_name(written[0])
    lines = [Line(f"Wrote {file_name(path)}") for path in written]
    return [*lines, *sentence(f"Change a number in {file}, then ask: lightsim report {file}")]
