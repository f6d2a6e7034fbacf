"""The site builds without a warning, its links lead somewhere, and every page is reached from the first."""

import re
import subprocess
import sys
import zlib
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote

import pytest

import lightsim

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"
PAGES = sorted(path.relative_to(DOCS).with_suffix("").as_posix() for path in DOCS.rglob("*.md"))
MADE_BY_SPHINX = {"genindex", "py-modindex", "search"}
SOURCES = [ROOT / "README.md", *sorted(DOCS.rglob("*.md")), *sorted((ROOT / "notebooks").glob("*.py"))]


class Links(HTMLParser):
    """What a page links to or shows, and the names by which parts of it can be linked to."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.targets: list[str] = []
        self.outside: list[str] = []  # what a browser would fetch from a network to show the page
        self.names: set[str] = set()
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.names |= {given[key] for key in ("id", "name") if given.get(key)}
        target = given.get("src") or given.get("href")
        if target and not re.match(r"[a-z]+:|//", target):
            self.targets.append(target)
        elif target and tag != "a" and not target.startswith("data:"):
            self.outside.append(target)


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    """The folder of the built site. -W makes an error of every warning."""
    made = tmp_path_factory.mktemp("site")
    command = [sys.executable, "-m", "sphinx", "-q", "-W", "--keep-going", "-d", str(made / "trees")]
    done = subprocess.run([*command, str(DOCS), str(made / "html")], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return made / "html"


@pytest.fixture(scope="module")
def pages(site):
    """The links of every page, by its path in the site."""
    files = (file for file in site.rglob("*.html") if not file.is_relative_to(site / "_downloads"))
    return {file.relative_to(site).as_posix(): Links(file.read_text(encoding="utf-8")) for file in files}


def led_to(page: str, target: str, site: Path) -> tuple[str, str]:
    """The path in the site and the anchor that a link of a page leads to."""
    path, _, anchor = unquote(target.partition("?")[0] if "#" not in target else target).partition("#")
    path = path.partition("?")[0]
    place = (site / page).parent / path if path else site / page
    return place.resolve().relative_to(site.resolve()).as_posix(), anchor


def test_every_page_is_made(pages):
    assert {f"{name}.html" for name in PAGES} == set(pages) - {f"{name}.html" for name in MADE_BY_SPHINX}
    assert len(pages) >= 15


def test_links_inside_resolve(pages, site):
    checked = 0
    for page, links in pages.items():
        for target in links.targets:
            place, anchor = led_to(page, target, site)
            assert (site / place).exists(), f"{page} links to {target}, which does not exist"
            if anchor:
                assert anchor in pages[place].names, f"{page} links to {target}: there is no such heading"
                checked += 1
    assert checked > 200


def test_pages_need_no_network(pages):
    assert {page: links.outside for page, links in pages.items() if links.outside} == {}


def test_every_page_is_reached_from_the_first(pages, site):
    reached, next_ones = set(), {"index.html"}
    while next_ones:
        reached |= next_ones
        led = {led_to(page, target, site)[0] for page in next_ones for target in pages[page].targets}
        next_ones = (led & set(pages)) - reached
    assert reached >= {f"{name}.html" for name in PAGES}


def test_the_first_page_names_the_pages_in_words():
    """Read as plain text, where there is no side bar, the first page leads everywhere, too."""
    text = (DOCS / "index.md").read_text(encoding="utf-8")
    linked = set(re.findall(r"\]\(([\w/-]+)\.md\)", text))
    assert linked == {name for name in PAGES if not name.startswith("api/")} - {"index"}


def test_what_pages_and_notebooks_import_is_in_the_reference(site):
    """Public is what our own examples use: each name that they import from lightsim is described."""
    # Sphinx's inventory: four lines of text, then packed lines of name, kind, and where it stands.
    packed = (site / "objects.inv").read_bytes().split(b"\n", maxsplit=4)[4]
    entries = [line.split()[:2] for line in zlib.decompress(packed).decode().splitlines()]
    described = {name for name, kind in entries if kind.startswith("py:")}
    assert {f"lightsim.{name}" for name in lightsim.__all__} <= described
    wanted = []
    for source in SOURCES:
        text = source.read_text(encoding="utf-8")
        for module, names in re.findall(r"^(?:>>> )?from (lightsim[\w.]*) import (\([^)]*\)|.+)", text, re.MULTILINE):
            bare = re.sub(r"#.*|[()]", "", names)
            wanted += [(source.name, module, each.split()[0]) for each in bare.split(",") if each.strip()]
    assert len(wanted) >= 4
    for source, module, name in wanted:
        constant = name.isupper() and module in described
        assert constant or f"{module}.{name}" in described, (
            f"{source} uses {module}.{name}, which the API reference leaves out: name {module} on a page of docs/api"
        )


def test_fields_are_told_with_their_units(site):
    # Arrivals, in lightsim/light/arrivals.py: "direction: (n, 3) unit", "origin: (n, 3) mm".
    text = re.sub(r"<[^>]+>", "", (site / "api" / "rig.html").read_text(encoding="utf-8"))
    assert re.search(r"^origin \(NDArray\[np\.float64\]\): \(n, 3\) mm, where the light last left", text, re.MULTILINE)


def test_the_readme_names_the_command():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert re.search(r"sphinx-build -W docs site\b", readme)
