"""The shape of the project itself: layers, module size, what is installed."""

import ast
import sys
import sysconfig
from importlib import resources
from pathlib import Path

import pytest

import lightsim

PACKAGE = Path(lightsim.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))
_BELOW = {
    "sheet": set(),
    "rig": {"sheet"},
    "light": {"sheet", "rig"},
    "fit": {"sheet", "rig", "light"},
    "measure": {"sheet", "rig", "light", "fit"},
    "shot": {"sheet", "rig", "light", "fit", "measure"},
    "search": {"sheet", "rig", "light", "fit", "measure"},
    "pattern": {"sheet", "rig"},
    "picture": {"sheet", "rig", "light", "fit", "measure", "shot", "pattern"},
    "page": {"sheet", "rig", "light", "fit", "measure", "shot", "search", "picture", "pattern"},
    "cli": {"sheet", "rig", "light", "fit", "measure", "shot", "search", "picture", "pattern", "page"},
}


def layers_imported(file: Path) -> set[str]:
    """Layers that a module imports anywhere, deferred imports included."""
    found = set()
    for node in ast.walk(ast.parse(file.read_text())):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{file}: relative import"
            names = [node.module, *(f"{node.module}.{alias.name}" for alias in node.names)]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        for name in names:
            parts = name.split(".")
            if parts[0] == "lightsim" and len(parts) > 1 and parts[1] in _BELOW:
                found.add(parts[1])
    return found


@pytest.mark.parametrize("file", MODULES, ids=lambda file: str(file.relative_to(PACKAGE)))
def test_imports_run_one_way(file: Path) -> None:
    layer = file.relative_to(PACKAGE).parts[0]
    if layer in _BELOW:
        assert layers_imported(file) <= _BELOW[layer] | {layer}


def test_the_layers_are_all_there() -> None:
    assert {file.relative_to(PACKAGE).parts[0] for file in MODULES} >= set(_BELOW)


def test_modules_fit_in_a_head() -> None:
    lines = {str(file.relative_to(PACKAGE)): len(file.read_text().splitlines()) for file in MODULES}
    assert max(lines.values()) <= 400, {name: count for name, count in lines.items() if count > 400}


def test_we_test_the_installed_wheel() -> None:
    assert PACKAGE.is_relative_to(sysconfig.get_path("purelib")), f"tests run against {PACKAGE}, not the wheel"
    assert (resources.files("lightsim") / "py.typed").is_file()
    assert (resources.files("lightsim") / "shapes" / "white-box.toml").is_file()
    assert (resources.files("lightsim") / "page" / "page.html.jinja").is_file()
    assert (resources.files("lightsim") / "page" / "page.css").is_file()


def test_importing_lightsim_loads_nothing_heavy() -> None:
    import subprocess

    code = "import lightsim, sys; print(sorted(m for m in sys.modules if m in ('numpy', 'pydantic', 'scipy')))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
