"""Every block of code and every command of README, DEVELOPERS and docs does what its page says.

What other tests run already is left to them: RUN_BY, PRINTED_BY, PYTHON_BY, TOML_BY. Pages are found, not listed.
"""

from __future__ import annotations

import copy
import doctest
import functools
import itertools
import re
import shlex
import tomllib
from importlib.metadata import metadata
from pathlib import Path
from typing import Any

import pytest
from blocks import PAGES, ROOT, Block, Command, blocks, commands, is_printed, name_of
from typer.main import get_command
from typer.testing import CliRunner

from lightsim.cli import app
from lightsim.rig.library import design_files, folder_of_designs
from lightsim.rig.load import load_data, loads

# The commands of these pages run there, in order; the pattern is what that test picks.
RUN_BY = {
    "README.md": (r".*", "test_readme.py"),
    # On a smaller design: of the box it is a minute, and nothing of it is shown.
    "docs/building.md": (r"lightsim tolerances .+", "test_readme.py"),
    "docs/materials.md": (r"lightsim measure .+", "test_pack.py"),
    "docs/measure.md": (r"lightsim .+", "test_readings.py"),
}
# Shown output that is compared there, by how it begins.
PRINTED_BY = {
    ("README.md", "What each design"): "test_readme.py",
    ("docs/materials.md", "my copy paper"): "test_pack.py",
    ("docs/measure.md", "my packing foam"): "test_readings.py",
}
PYTHON_BY = {"README.md": "test_readme.py", "docs/materials.md": "test_readme.py"}
TOML_BY = {
    ("docs/rig-file.md", "rig"): "test_docs.py",
    ("docs/rig-file.md", "fragment"): "test_docs.py",
    ("docs/materials.md", "gap"): "test_pack.py",
    ("docs/measure.md", "readings"): "test_readings.py",
    ("docs/measure.md", "flash"): "test_readings.py",
}
# Text that no command prints says so behind the word text.
NOT_PRINTED = {"drawing", "formula", "form"}
DIRECTIVES = {
    "{eval-rst}",
    "{include}",
    "{literalinclude}",
    "{toctree}",
    "{math}",
    "{figure}",
    "{image}",
    "{list-table}",
}
DIRECTIVES |= {"{note}", "{tip}", "{warning}", "{caution}", "{important}", "{admonition}", "{dropdown}", "{contents}"}
# Setting up, checking and serving: what the continuous build does with every change, and what starts a browser.
SETTING_UP = r"(python3?|py) -m (venv|build)\b|source |cd |pip install\b|git clone\b|npm pack\b"
CHECKING = r"pytest\b|ruff (check|format)\b|mypy\b"
SERVING = r"python3? -m http\.server\b|jupyter (lab|notebook)\b|jupytext\b|git \w+"
# A file between two commands: what makes it different each time is run each time.
FILES = r"--(to|into|html|figures|json|csv|pdf|svg|dxf|card|record|readings)\b|\.toml\b"

BLOCKS = {name_of(page): blocks(page.read_text(encoding="utf-8")) for page in PAGES}
COMMANDS = [(page, command) for page, found in BLOCKS.items() for block in found for command in commands(block)]
LIGHTSIM = get_command(app)
TEXTS = {name_of(page): page.read_text(encoding="utf-8") for page in PAGES}


def pages(*kinds: str) -> list[str]:
    """Pages with a block of one of these kinds."""
    return [page for page, found in BLOCKS.items() if any(block.kind in kinds for block in found)]


def elsewhere(page: str, command: Command, block: Block) -> bool:
    """Whether another test runs this command."""
    pattern, _ = RUN_BY.get(page, ("", ""))
    return (block.kind == "console" and bool(re.fullmatch(pattern, command.words))) or (
        page == "README.md" and command.words == "lightsim compare"
    )


def run(words: str, *, rough: bool) -> str:
    """What a lightsim command prints, run in the present folder, on a terminal as wide as the pages show.

    rough : where no output is shown, the least accuracy will do: the same code with fewer rays
    """
    _, name, *_ = words.split()
    if rough and name in LIGHTSIM.commands and "--error" in known_options(name) and "--error" not in words:
        words += " --error 10%"
    return once(words) if not re.search(FILES, words) else anew(words)


def anew(words: str) -> str:
    done = CliRunner().invoke(app, shlex.split(words)[1:], env={"COLUMNS": "100"})
    assert done.exit_code == 0, f"{words}\n{done.output}"
    return str(done.stdout)


once = functools.cache(anew)


@functools.cache
def known_options(*path: str) -> frozenset[str]:
    """Options of a command of lightsim, and of all commands inside it."""
    here = LIGHTSIM
    for name in path:
        here = here.commands[name]
    inside = [known_options(*path, name) for name in getattr(here, "commands", {})]
    return frozenset(option for param in here.params for option in (*param.opts, *param.secondary_opts)).union(*inside)


def read_toml(block: Block) -> None:
    """A TOML block is taken by lightsim: a whole rig, tables for one, or lines for the [[head]] of a ready design."""
    if block.more == "head":
        before, table, after = design_files()["flat-paper"].read_text(encoding="utf-8").partition("[[head]]")
        for key in tomllib.loads(block.text):
            after = re.sub(rf"^{key} = .*\n", "", after, count=1, flags=re.MULTILINE)
        loads(f"{before}{table}\n{block.text}\n{after}")
        return
    data = tomllib.loads(block.text)
    if block.more != "rig" and not {"camera", "lens", "head"} <= set(data):
        smallest = next(b for b in BLOCKS["docs/rig-file.md"] if (b.kind, b.more) == ("toml", "rig"))
        data = merged(tomllib.loads(smallest.text), data)
    load_data(data, folder=folder_of_designs())


def merged(base: dict[str, Any], more: dict[str, Any]) -> dict[str, Any]:
    result = copy.deepcopy(base)
    for key, value in more.items():
        both = isinstance(value, dict) and isinstance(result.get(key), dict)
        result[key] = merged(result[key], value) if both else value
    return result


@pytest.mark.parametrize("page", BLOCKS)
def test_every_block_says_what_it_is(page):
    for block in BLOCKS[page]:
        known = {"console", "bash", "sh", "python", "pycon", "toml", "text", "indented", "json", *DIRECTIVES}
        assert block.kind in known, f"{page}, line {block.line}: ```{block.kind}: say one of {sorted(known)}"
        if block.kind == "toml":
            kinds = {"", "rig", "fragment", "head"}
            ours = block.more in kinds or (page, block.more) in TOML_BY
            assert ours, f"{page}, line {block.line}: ```toml {block.more}: say one of {sorted(kinds)}"
        if block.kind == "text":
            said = block.more in {"", *NOT_PRINTED}
            assert said, (
                f"{page}, line {block.line}: ```text {block.more}: say one of {sorted(NOT_PRINTED)}, or nothing"
            )


def test_the_pages_are_there():
    assert {"README.md", "DEVELOPERS.md", "docs/shot.md", "docs/building.md", "docs/theory.md"} <= set(BLOCKS)
    assert len(COMMANDS) >= 50
    run_by = {page: test for page, (_, test) in RUN_BY.items() if page != "docs/building.md"}
    for page, test in (*run_by.items(), *PYTHON_BY.items()):
        assert Path(page).name in (ROOT / "tests" / test).read_text(encoding="utf-8"), f"{test} does not read {page}"
    for (page, kind), test in {**PRINTED_BY, **TOML_BY}.items():
        assert page in BLOCKS
        text = (ROOT / "tests" / test).read_text(encoding="utf-8")
        assert kind in text, f"{test} does not look for {kind} of {page}"


@pytest.mark.parametrize("page", pages("console", "bash", "sh", "indented", "text", "json"))
def test_commands_run_and_print_what_the_page_shows(page, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    printed: list[str] = []  # by the commands of the block last seen
    for block, after in itertools.pairwise([*BLOCKS[page], None]):
        found = [command for command in commands(block) if command.words.startswith("lightsim ")]
        compared = after is not None and is_output(page, after)
        printed = [] if found else printed
        for command in found:
            if elsewhere(page, command, block) and not command.shown and not compared:
                continue
            printed.append(run(command.words, rough=not command.shown and not compared))
            shown_is_true(page, command.line, command.shown, printed[-1:])
        if is_output(page, block):
            shown_is_true(page, block.line, block.text, printed)


def is_output(page: str, block: Block) -> bool:
    """Whether a block shows what the commands before it print, and no other test holds it against them."""
    taken = any(page == other and block.text.startswith(begins) for other, begins in PRINTED_BY)
    return block.kind in ("text", "json") and block.more not in NOT_PRINTED and not taken


def shown_is_true(page: str, line: int, shown: str, printed: list[str]) -> None:
    if not any(is_printed(shown, one) for one in printed):
        whole = "\n\n".join(printed)
        raise AssertionError(f"{page}, line {line}: none of its commands before prints\n{shown}\n\nThey print\n{whole}")


@pytest.mark.parametrize("page", [page for page in pages("python", "pycon") if page not in PYTHON_BY])
def test_python_of_the_page_runs(page, tmp_path, monkeypatch):
    import matplotlib

    matplotlib.use("Agg")
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {"__name__": "__page__"}
    for block in BLOCKS[page]:
        if block.kind not in ("python", "pycon"):
            continue
        if ">>> " not in block.text:
            exec(compile(block.text, f"{page}, line {block.line}", "exec"), names)
            continue
        test = doctest.DocTestParser().get_doctest(f"{block.text}\n", names, page, page, block.line)
        told: list[str] = []
        runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE)
        runner.run(test, out=told.append, clear_globs=False)
        assert runner.summarize(verbose=False).failed == 0, "".join(told)
        names = test.globs


@pytest.mark.parametrize("page", pages("toml", "indented"))
def test_toml_of_the_page_is_taken(page):
    for block in BLOCKS[page]:
        indented = block.kind == "indented" and block.text.startswith("[")
        if indented or (block.kind == "toml" and (page, block.more) not in TOML_BY):
            read_toml(block)


def test_other_commands_are_known():
    extras = set(metadata("lightsim").get_all("Provides-Extra") or ())
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras |= set(project["optional-dependencies"])
    for page, command in COMMANDS:
        words, place = command.words, f"{page}, line {command.line}"
        for names in re.findall(r"(?<!\w)\.\[([\w, ]+)\]", words):
            assert set(re.split(r", ?", names)) <= extras, f"{place}: {words}: there is no such extra"
        if words.startswith("lightsim ") or re.match(f"{SETTING_UP}|{CHECKING}|{SERVING}", words):
            continue
        script = re.match(r"python3? ((?:docs|tests|notebooks)/\S+\.py)\b", words)
        if script:
            assert (ROOT / script[1]).exists(), f"{place}: there is no {script[1]}"
            continue
        assert words.startswith("sphinx-build "), (
            f"{place}: which test runs {words}? Name it in tests/test_docs_run.py."
        )
        assert (ROOT / "tests" / "test_site.py").exists(), f"{place}: no test builds the site"


# Options of other programs that the pages name alone.
OTHERS = {"--quiet", "--editable", "--help", "--import-mode", "--check", "--strict", "--benchmark-json", "--version"}


@pytest.mark.parametrize("page", BLOCKS)
def test_commands_and_options_in_the_text_exist(page):
    fenced = re.sub(r"^( *)(```+).*?^\1\2 *$", "", TEXTS[page], flags=re.MULTILINE | re.DOTALL)
    for code in re.findall(r"`([^`\n]+)`", fenced):
        if code.startswith("lightsim "):
            # Examples in running text may leave out quotes.
            _, *words = re.sub("[\"']", "", code).split()
            here, path = LIGHTSIM, []
            while words and words[0] in getattr(here, "commands", {}):
                path.append(words.pop(0))
                here = here.commands[path[-1]]
            assert path or words[:1] == ["--help"], f"{page}: `{code}`: there is no such command"
            options = {word.partition("=")[0] for word in words if word.startswith("--")}
            assert options <= known_options(*path) | {"--help"}, f"{page}: `{code}`: there is no such option"
        elif re.match(r"--[a-z]", code):
            option = re.match(r"--[a-z-]+", code)[0]
            assert option in known_options() | OTHERS, f"{page}: `{code}`: there is no such option"


# Tests of the comparison itself: what it must not let pass.


@pytest.mark.parametrize(
    ("shown", "printed", "same"),
    [
        ("size 63.6 ±0.1 deg", "the size 63.5 ±0.1 deg here", True),
        ("size 63.6 ±0.1 deg", "size 63.1 ±0.1 deg", False),
        ("size 63.6 ±0.1 deg", "size 63.6 ±0.4 deg", False),
        ("lost 1.95 stops", "lost 1.80 stops", True),
        ("lost 1.95 stops", "lost 1.70 stops", False),
        ("lost 1.95 stops", "gains 1.95 stops", False),
        ("one\n...\nfour", "one two three four", True),
        ("four\n...\none", "one two three four", False),
        ("1/16 + 2/3", "1/32 + 2/3", False),
        ("two words", "two\n   words", True),
    ],
)
def test_output_is_compared(shown, printed, same):
    # By the rule: words exactly, numbers within the sum of both error bars, or a tenth, or the last digit.
    assert is_printed(shown, printed) is same


def test_a_page_is_read_block_by_block():
    # CommonMark 0.31, 4.4 and 4.5: four spaces after a blank line, fences of any length that the same sign closes.
    page = "a\n\n    pip install x && lightsim compare\n\n- item\n\n      not code\n\n"
    page += "````text\n```\n````\n```sh\n$HOME\n```\n"
    found = blocks(page)
    assert [(block.kind, block.line) for block in found] == [("indented", 3), ("text", 9), ("sh", 12)]
    assert found[1].text == "```"
    assert [command.words for command in commands(found[0])] == ["pip install x", "lightsim compare"]
    (block,) = blocks("```console\n$ lightsim check a \\\n  --x  # why\nfits\n$ lightsim designs\n```")
    assert [(command.words, command.shown) for command in commands(block)] == [
        ("lightsim check a --x", "fits"),
        ("lightsim designs", ""),
    ]
    with pytest.raises(AssertionError, match="line 2 is not closed"):
        blocks("a\n```python\n1")
