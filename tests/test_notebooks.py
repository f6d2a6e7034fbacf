"""The notebooks run from start to end, offline; each asserts something and names a source; the page has its answer."""

import ast
import importlib.util
import os
import re
import shutil
import subprocess
import sys
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / "notebooks"
SCRIPTS = sorted(FOLDER.glob("[1-8]-*.py"))
NAMES = [script.stem for script in SCRIPTS]
LONGEST = 60.0  # seconds, of a notebook
# Put before a notebook's own cells: whatever asks for a network fails.
OFFLINE = """
import socket
def _refused(*args, **kwargs):
    raise OSError("a notebook asked for a network")
socket.socket.connect = socket.getaddrinfo = _refused
"""
SOURCE = re.compile(
    r"textbook|handbook|derived|from memory|any optics|\bISO\b|\bCIE\b|\bIES\b|\(1[89]\d\d\)|\(20\d\d\)|law of|Fresnel"
)


def maker():
    """docs/make_notebooks.py, which makes the page."""
    spec = importlib.util.spec_from_file_location("make_notebooks", ROOT / "docs" / "make_notebooks.py")
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    return script


MAKER = maker()


@pytest.fixture
def copied(tmp_path, monkeypatch):
    """A copy of the folder of notebooks, with nothing of a person's own settings."""
    monkeypatch.setenv("IPYTHONDIR", str(tmp_path / "ipython"))
    monkeypatch.setenv("JUPYTER_RUNTIME_DIR", str(tmp_path / "runtime"))
    monkeypatch.setenv("JUPYTER_CONFIG_DIR", str(tmp_path / "config"))
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    ignored = shutil.ignore_patterns("__pycache__", "*.ipynb")
    return Path(shutil.copytree(FOLDER, tmp_path / "notebooks", ignore=ignored))


def code(script):
    """The Python of a script, and its lines."""
    text = script.read_text(encoding="utf-8")
    return ast.parse(text), text.splitlines()


def test_there_are_eight():
    assert [script.name[0] for script in SCRIPTS] == list("12345678")


@pytest.mark.parametrize("script", SCRIPTS, ids=NAMES)
def test_runs_from_start_to_end(script, copied):
    # The time of the processor, which does not depend on what else the machine does.
    last = "import time; print('took', time.process_time())"
    path = copied / script.name
    with path.open("a", encoding="utf-8") as file:
        file.write(f"\n# %%\n{last}\n")
    notebook = MAKER.run(path, first=OFFLINE)
    (text,) = (output["text"] for output in notebook.cells[-1].outputs if output.output_type == "stream")
    assert 0 < float(text.split()[1]) < LONGEST
    warned = [
        output["text"]
        for cell in notebook.cells
        for output in cell.get("outputs", ())
        if output.get("name") == "stderr"
    ]
    assert not warned
    pictures = MAKER.pictures(notebook)
    assert 2 <= len(pictures) <= 8
    for picture in pictures:
        assert len(picture.words) > 20, f"{script.name}: a picture without words for those who cannot see it"
        assert Image.open(BytesIO(picture.png)).convert("L").getextrema()[0] < 128, "an empty picture"


@pytest.mark.parametrize("script", SCRIPTS, ids=NAMES)
def test_main_number_is_held_against_a_source(script):
    tree, lines = code(script)
    asserts = [node for node in ast.walk(tree) if isinstance(node, ast.Assert)]
    # One that compares something computed, allows its own error bar, and stands below the name of its source.
    held = [
        node
        for node in asserts
        if any(isinstance(part, ast.Compare) for part in ast.walk(node.test))
        and any(isinstance(part, ast.Name) for part in ast.walk(node.test))
    ]
    assert held
    assert "error" in " ".join(ast.unparse(node) for node in held)
    near = [" ".join(lines[max(0, node.lineno - 16) : node.lineno]) for node in held]
    assert any(SOURCE.search(text) for text in near), f"{script.name}: no source named above an assert"


@pytest.mark.parametrize("script", SCRIPTS, ids=NAMES)
def test_question_answer_and_things_to_try(script):
    text = "\n".join(text for kind, text in MAKER.cells(script) if kind == "markdown")
    assert "question" in text[:1500].lower()
    assert re.search(r"\d", MAKER.answer(script)), "an answer with a number"
    assert text.index("## The answer") < text.index("## Try it")
    assert "<details>" in text.partition("## Try it")[2], "answers are folded"
    words = " ".join(text.split()).lower()
    assert "photograph" in words, "says that nothing was photographed"


def test_no_outputs_are_kept():
    kept = [file.name for file in FOLDER.rglob("*") if file.is_file() and file.suffix in (".ipynb", ".png", ".jpg")]
    assert not kept
    for script in SCRIPTS:
        assert "data:image" not in script.read_text(encoding="utf-8")
        assert script.stat().st_size < 40_000, "small enough to be read"


def test_slider_falls_back_where_widgets_are_missing(copied):
    blocked = "import sys; sys.modules['ipywidgets'] = None; import runpy; "
    blocked += "sys.path.insert(0, '.'); runpy.run_path('2-nearer-or-larger.py', run_name='__main__')"
    done = subprocess.run(
        [sys.executable, "-c", blocked],
        cwd=copied,
        env={**os.environ, "MPLBACKEND": "Agg"},
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.count("[picture: ") >= 2
    assert "pictures a second" not in done.stdout


def test_slider_keeps_up_with_a_hand(copied):
    (copied / "slider.py").write_text(
        "# %%\n"
        "import table\n"
        "from lightsim.picture.style import bare_canvas\n"
        "figures = [bare_canvas((5.2, 4.0))[0] for _ in range(12)]\n"
        "rate = table.slider(label='knob', choices=[str(n) for n in range(12)], draw=figures.__getitem__)\n"
        "print('rate', rate)\n",
        encoding="utf-8",
    )
    notebook = MAKER.run(copied / "slider.py")
    outputs = notebook.cells[0].outputs
    assert any("application/vnd.jupyter.widget-view+json" in output.get("data", {}) for output in outputs)
    (text,) = (output["text"] for output in outputs if output.output_type == "stream" and output.name == "stdout")
    assert float(text.split()[1]) > 15  # updates a second: what a hand on a slider takes for smooth


def test_readme_lists_every_notebook():
    text = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert sorted(re.findall(r"\]\((\d-.+\.py)\)", text)) == [script.name for script in SCRIPTS]


def test_page_shows_every_answer():
    remake = "docs/notebooks.md is not what the notebooks say now. Remake it: python docs/make_notebooks.py"
    text = (ROOT / "docs" / "notebooks.md").read_text(encoding="utf-8")
    shown = MAKER.shown(text)
    assert sorted(shown) == NAMES, remake
    assert text == MAKER.page([(script, *shown[script.stem]) for script in SCRIPTS]), remake
    files = {path.name: path for path in (ROOT / "docs" / "notebooks").iterdir()}
    assert set(files) == {file for file, _ in shown.values()}, remake
    for path in files.values():
        assert path.stat().st_size <= 60_000
        with Image.open(path) as image:
            assert image.width <= 800
