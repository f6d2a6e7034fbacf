"""Write docs/notebooks.md and its pictures from the notebooks: python docs/make_notebooks.py

Runs each script of notebooks/ as a notebook (jupytext, nbclient) and keeps one picture and the answer of each. Takes
two or three minutes. `python docs/make_notebooks.py --text` writes the page alone, for changes of words.
"""

from __future__ import annotations

import base64
import re
import sys
from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

from PIL import Image

HERE = Path(__file__).parent
NOTEBOOKS = HERE.parent / "notebooks"
FOLDER = "notebooks"
TITLE = "# Notebooks"
INTRODUCTION = """\
Each takes ten minutes and goes from an empty page to one insight. You need no optics. Each asks a question, computes
the answer, checks its main number against a formula that does not need a computer, and ends with questions for you.

No photograph was taken for them: all pictures are computed. The natural-history group in them, and its survey of
beetles, leafhoppers and froghoppers, is invented.

To run them yourself, offline, with a copy of this project and Python 3.11 or newer:

    pip install '.[notebooks]'
    python notebooks/1-bigger-looks-softer.py

That prints the numbers. With pictures, and with sliders in the first two, open them in any editor that shows notebooks
and reads Python scripts with cells; [notebooks/README.md](../notebooks/README.md) says how. Below stands the answer of
each with one of its pictures.

*Made from the notebooks by `python docs/make_notebooks.py`.*"""
LARGEST = 60_000  # bytes of a picture
_WIDEST = 760  # pixels
_WAYS: tuple[tuple[str, str, dict[str, int]], ...] = (
    ("png", "PNG", {}),
    *(("jpg", "JPEG", {"quality": quality}) for quality in (90, 85, 80, 75, 70, 60)),
)
# Which picture of a notebook the page shows, counted from 0; the last one where nothing is said.
CHOSEN = {"6-highlights-and-the-mirror-ball": 1}


class Picture(NamedTuple):
    """One picture of a notebook that has run."""

    png: bytes
    words: str  # its alternative text


def scripts() -> list[Path]:
    """The notebooks, in their order."""
    return sorted(NOTEBOOKS.glob("[0-9]-*.py"))


def cells(script: Path) -> list[tuple[str, str]]:
    """Kind ("code" or "markdown") and text of each cell of a script."""
    import jupytext

    return [(cell.cell_type, cell.source) for cell in jupytext.read(script).cells]


def run(script: Path, *, first: str = "", seconds: int = 120) -> Any:
    """The notebook of a script, run from start to end in the script's own folder.

    first: code of a cell put before all others; seconds: the most that a cell may take
    Raises nbclient.exceptions.CellExecutionError where a cell fails.
    """
    import jupytext
    import nbformat.v4
    from nbclient import NotebookClient

    notebook = jupytext.read(script)
    if first:
        notebook.cells.insert(0, nbformat.v4.new_code_cell(first))
    where = {"metadata": {"path": str(script.parent)}}
    NotebookClient(notebook, timeout=seconds, kernel_name="python3", resources=where).execute()
    return notebook


def pictures(notebook: Any) -> list[Picture]:
    """All pictures of a notebook that has run, in their order."""
    found = []
    for cell in notebook.cells:
        for output in cell.get("outputs", ()):
            if image := output.get("data", {}).get("image/png"):
                words = output.get("metadata", {}).get("image/png", {}).get("alt", "")
                found.append(Picture(base64.b64decode(image), words))
    return found


def small(png: bytes) -> tuple[bytes, str]:
    """A picture for the page, and the ending of its name: a PNG, or a JPEG where that is too large."""
    image = Image.open(BytesIO(png)).convert("RGB")
    if image.width > _WIDEST:
        image = image.resize((_WIDEST, round(image.height * _WIDEST / image.width)), Image.Resampling.LANCZOS)
    for ending, kind, how in _WAYS:
        file = BytesIO()
        image.save(file, kind, optimize=True, **how)
        if file.tell() <= LARGEST:
            return file.getvalue(), ending
    raise ValueError(f"a picture of {image.width} x {image.height} does not fit into {LARGEST} bytes")


def heading(script: Path) -> str:
    """The title of a notebook, with its number."""
    texts = "\n".join(text for kind, text in cells(script) if kind == "markdown")
    found = re.search(r"^# (\d\. .+)$", texts, flags=re.MULTILINE)
    if found is None:
        raise ValueError(f"{script.name}: no title such as '# 1. Why ...'")
    return found[1]


def answer(script: Path) -> str:
    """What a notebook says under "The answer", up to the next heading."""
    texts = "\n\n".join(text for kind, text in cells(script) if kind == "markdown")
    found = re.search(r"^## The answer\n(.+?)(?=^## )", texts, flags=re.MULTILINE | re.DOTALL)
    if found is None:
        raise ValueError(f"{script.name}: no part '## The answer' with another part after it")
    return found[1].strip()


def page(entries: Sequence[tuple[Path, str, str]]) -> str:
    """The text of the page. entries: script, name of the picture, and its alternative text."""
    lines = [TITLE, "", INTRODUCTION]
    for script, file, words in entries:
        lines += ["", f"## {heading(script)}", "", f"![{words}]({FOLDER}/{file})", "", answer(script)]
        lines += ["", f"[The notebook](../notebooks/{script.name})"]
    return "\n".join(lines) + "\n"


def shown(text: str) -> dict[str, tuple[str, str]]:
    """Name and alternative text of the pictures of a page, by the names of the notebooks without their ending."""
    found = re.findall(rf"^!\[(.*)\]\({FOLDER}/((.+)\.\w+)\)$", text, flags=re.MULTILINE)
    return {stem: (file, words) for words, file, stem in found}


def main(*, text_only: bool = False) -> None:
    """Write all of it."""
    target, folder = HERE / "notebooks.md", HERE / FOLDER
    old = shown(target.read_text(encoding="utf-8")) if text_only else {}
    if not text_only:
        folder.mkdir(exist_ok=True)
        for file in folder.iterdir():
            file.unlink()
    entries = []
    for script in scripts():
        if text_only:
            entries.append((script, *old[script.stem]))
            continue
        picture = pictures(run(script))[CHOSEN.get(script.stem, -1)]
        data, ending = small(picture.png)
        name = f"{script.stem}.{ending}"
        (folder / name).write_bytes(data)
        entries.append((script, name, " ".join(picture.words.split())))
        print(f"{name}: {len(data) // 1000} kB", file=sys.stderr)
    target.write_text(page(entries), encoding="utf-8")


if __name__ == "__main__":
    main(text_only="--text" in sys.argv[1:])
