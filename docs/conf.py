"""How the pages of this folder become a site: sphinx-build -W docs site."""

import dataclasses
import inspect
import re
from pathlib import Path
from typing import Any

import lightsim
from lightsim.picture.style import COLOURS

project = "lightsim"
author = "the authors of lightsim"
release = version = lightsim.__version__
html_title = f"lightsim {release}"
html_show_copyright = False  # no year, so that a page changes only when its text does

extensions = ["myst_parser", "sphinx.ext.autodoc"]

# The names of headings in links are those that plain Markdown viewers give them.
myst_heading_anchors = 4
myst_links_external_new_tab = False

html_theme = "furo"
html_static_path = ["style"]
html_css_files = ["site.css"]
html_copy_source = False
html_show_sourcelink = False
html_theme_options = {
    "light_css_variables": {
        "color-brand-primary": COLOURS[0],
        "color-brand-content": COLOURS[0],
        "code-font-size": "0.8rem",
    },
    "dark_css_variables": {"color-brand-primary": COLOURS[4], "color-brand-content": COLOURS[4]},
}

autodoc_member_order = "bysource"
autodoc_typehints = "signature"
autodoc_preserve_defaults = True
add_module_names = False
maximum_signature_line_length = 100
toc_object_entries_show_parents = "hide"

_PARAMETER = r"[a-z][\w\\]*(?:(?:,| and) [a-z][\w\\]*)* ?: "
_FIELD = re.compile(r"    (?P<name>\w+): (?P<type>[^=#]+?)(?: = [^#]*)?(?:  # (?P<words>.*))?")
_NAME = r"[~\w.]+"
_ARRAY = re.compile(rf"{_NAME}\[tuple\[{_NAME}, \.\.\.\], {_NAME}dtype\[({_NAME}(?:\[{_NAME}\])?)\]\]")


_ARRAY_LIKE = re.compile(rf"{_NAME}Buffer \| [^=]*?\[complex \| bytes \| str\]")


def outside(app: Any, name: str, text: list[str]) -> None:
    """Markdown beside this folder is no page of the site: links to it give the file itself."""
    page = Path(app.env.doc2path(name))

    def given(match: re.Match[str]) -> str:
        inside = (page.parent / match[1]).resolve().is_relative_to(app.srcdir)
        return match[0] if inside else f"](<path:{match[1]}>)"

    text[0] = re.sub(r"\]\(([\w./-]+\.md)\)", given, text[0])


def short(signature: str) -> str:
    """Types of arrays by the names that the code gives them."""
    return _ARRAY_LIKE.sub("ArrayLike", _ARRAY.sub(r"NDArray[\1]", signature))


def plain(text: str) -> str:
    """Text in which reStructuredText finds no marks of its own."""
    return re.sub(r"([\\*`|_])", r"\\\1", text)


def restructured(lines: list[str]) -> list[str]:
    """A docstring of ours as reStructuredText: paragraphs, code, and a list of what is said of parameters."""
    made: list[str] = []
    for paragraph in "\n".join(lines).strip("\n").split("\n\n"):
        if all(line.startswith("    ") for line in paragraph.splitlines()):
            made += ["", "::", "", *paragraph.splitlines(), ""]
            continue
        for part in re.split(r"\n(?=\w[\w, ]*: |Returns |Raises )|(?<=[.])\s(?=Raises )", paragraph):
            words = plain(" ".join(part.split()))
            if made and re.match(_PARAMETER, words):
                each = re.split(rf"; (?={_PARAMETER})", words)
                made += ["- **{}**: {}".format(*re.split(r" ?: ", one, maxsplit=1)) for one in each]
            else:
                # A dash or a number and a dot at the start would make a list of a paragraph, too.
                made += ["", re.sub(r"^([-+]|\w+[.)]) ", r"\\\1 ", words)]
        made.append("")
    return made


def fields_of(kind: type) -> list[tuple[str, str, str]]:
    """Name, type and words of each field of a frozen class: pydantic's description, or the comment beside or above."""
    if hasattr(kind, "model_fields"):
        given: Any = kind.model_fields
        return [(field.alias or name, "", field.description or "") for name, field in given.items()]
    names = {field.name for field in dataclasses.fields(kind)} if dataclasses.is_dataclass(kind) else set()
    names |= set(getattr(kind, "_fields", ()))
    found, above = [], ""
    for line in inspect.getsource(kind).splitlines() if names else ():
        match = _FIELD.fullmatch(line)
        if match and match["name"] in names:
            found.append((match["name"], match["type"], match["words"] or above))
        comment = re.fullmatch(r"    # (.*)", line)
        above = f"{above} {comment[1]}".strip() if comment else ""
    return found


def process_docstring(app: Any, what: str, name: str, thing: Any, options: Any, lines: list[str]) -> None:
    lines[:] = restructured(lines)
    if inspect.isclass(thing):
        listed = [line.replace("\\", "").split("**")[1] for line in lines if line.startswith("- **")]
        said = set(re.findall(r"\w+", " ".join(listed)))
        for field, type_, words in fields_of(thing):
            if field in said:
                continue
            told = f"- **{plain(field)}**" + (f" ({plain(type_)})" if type_ else "")
            lines.append(f"{told}: {plain(words)}" if words else told)
        lines.append("")


def process_signature(
    app: Any, what: str, name: str, thing: Any, options: Any, signature: str | None, returns: str | None
) -> tuple[str, str | None] | None:
    """Classes with fields list these below, with their units, in place of a signature."""
    if inspect.isclass(thing) and fields_of(thing):
        return "", ""
    if signature is None:
        return None
    return short(signature), returns and short(returns)


def skip_member(app: Any, what: str, name: str, thing: Any, skip: bool, options: Any) -> bool | None:
    """Leave out what Python writes by itself: "Alias for field number 0", and the settings of models."""
    made = "Alias for field number" in (getattr(thing, "__doc__", None) or "")
    return True if made or name.startswith("model_") else None


def setup(app: Any) -> None:
    app.connect("source-read", outside)
    app.connect("autodoc-process-docstring", process_docstring)
    app.connect("autodoc-process-signature", process_signature)
    app.connect("autodoc-skip-member", skip_member)
