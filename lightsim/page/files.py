"""Every picture of the page as a file of its own."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from lightsim.light.light import Light
from lightsim.measure.report import Report
from lightsim.page.drawing import Progress, Renders
from lightsim.page.pictures import SECTIONS, pictures_of
from lightsim.picture.charts import save_figure
from lightsim.rig.files import make_folder, require_free

_LONGEST = 40  # letters of a design in the name of a file


def require_free_folder(folder: Path, *, replace: bool) -> None:
    """Raise RigError if a folder holds files under names that our pictures take, unless they may be replaced."""
    for section in SECTIONS:
        for path in sorted(folder.glob(f"{section.key}*.png")):
            if re.fullmatch(rf"{section.key}(-.*)?\.png", path.name):
                require_free(path, replace=replace)


def write_pictures(
    designs: Sequence[tuple[Light, Report]],
    folder: Path,
    *,
    replace: bool = False,
    clean: bool = False,
    progress: Progress | None = None,
    renders: Renders | None = None,
) -> tuple[Path, ...]:
    """Write all pictures into a folder, which is made if need be, and return their paths.

    designs : light and report of each, titled as they are to be called; clean : portraits without grain;
    renders : as drawn_sections
    Names are those of the sections, "portrait-alike-white-box.png". Raises RigError if a file exists already (unless
    replace), or cannot be written.
    """
    make_folder(folder)
    names = _short([report.title for _, report in designs])
    written: dict[str, list[Path]] = {}
    for section, variants in pictures_of(designs, clean=clean, progress=progress, renders=renders):
        for variant in variants:
            for picture in variant.pictures:
                name = "" if picture.design is None or len(designs) == 1 else names[picture.design]
                stem = "-".join(part for part in (section.key, variant.key, name) if part)
                path = save_figure(picture.figure, folder / f"{stem}.png", replace=replace)
                written.setdefault(section.key, []).append(path)
    return tuple(path for section in SECTIONS for path in written.get(section.key, []))


def _short(titles: Sequence[str]) -> list[str]:
    """Titles as parts of names of files, each once."""
    found: list[str] = []
    for number, title in enumerate(titles, start=1):
        name = re.sub(r"[^a-z0-9]+", "-", title.lower())[:_LONGEST].strip("-") or "design"
        while name in found:
            name = f"{name}-{number}"
        found.append(name)
    return found
