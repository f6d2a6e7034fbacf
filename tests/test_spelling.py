"""Spelling of the pages and of the notebooks' text, by the word list of pyspellchecker and by docs/words.txt.

docs/words.txt holds what that list lacks: British spelling, names, terms. A line a word, in the order of the alphabet;
with a capital letter if the word is always written so.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from pathlib import Path

import pytest
from spellchecker import SpellChecker

ROOT = Path(__file__).parent.parent
LIST = ROOT / "docs" / "words.txt"
OURS = LIST.read_text(encoding="utf-8").split()
PAGES = [ROOT / name for name in ("README.md", "DEVELOPERS.md", "CHANGELOG.md")]
PAGES += sorted((ROOT / "docs").rglob("*.md"))
# Of the notebooks, the text that stands between the code.
PAGES += [*sorted((ROOT / "notebooks").glob("*.py")), *sorted((ROOT / "notebooks").glob("*.md"))]

# What is no prose: code, blocks, mathematics, tags, targets of links and addresses, roles of the site.
NOT_PROSE = [
    r"^( *)(```+|~~~+).*?^\1\2 *$",
    r"(?:(?<=\n\n)|\A)(?: {4,}[^\n]*\n+)+",
    r"<!--.*?-->",
    r"\$\$.*?\$\$",
    r"(`+)(?:(?!\n\n|`).|(?!\1)`)+\1",
    r"\$[^$\n]+\$",
    r"</?[a-z][^<>]*>",
    r"(?<=\])\([^)\s]*\)",
    r"https?://\S+",
    r"&#?\w+;",
    r"^:::[^\n]*$|^\([\w-]+\)=$|\{[a-z:-]+\}",
    r"\b[\w-]+(?:/[\w-]+)*\.(?:md|py|toml|html|pdf|png|svg|txt|csv|json|com|org)\b",
]
WORD = re.compile(r"[^\W\d_²³₀-₉⁰-⁹]+(?:['’][^\W\d_]+)*")
# Where the two spellings differ, we write the British one. "meter" is left: it is also an instrument.
AMERICAN = re.compile(
    r"(?:dis|un)?color(?:s|ed|ful|less)?|grays?|center(?:s|ed)?|(?:milli|centi)meters?|aluminum|neighbor(?:s|ing)?"
    r"|favor\w*|behavior\w*|fibers?|molts?|diopters?|honor\w*|(?:un)?polariz\w+"
    r"|(?:normal|optim|random|summar|recogn|minim)iz\w+|analyz\w+|modeling",
    re.IGNORECASE,
)


def prose(path: Path) -> str:
    """The text of a page, with all its lines but without what is not prose."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".py":
        text = "\n".join(markdown_of(text))
    for pattern in NOT_PROSE:
        text = re.sub(pattern, blank, text, flags=re.MULTILINE | re.DOTALL)
    return text


def blank(found: re.Match[str]) -> str:
    """A dot, so that the words before and after it do not meet, and its line ends."""
    return " · " + "\n" * found[0].count("\n")


def markdown_of(script: str) -> Iterator[str]:
    """The lines of a percent script, those outside its markdown cells blank."""
    inside = False
    for line in script.splitlines():
        if line.startswith("# %%"):
            inside = "[markdown]" in line
            yield ""
        else:
            yield re.sub(r"^# ?", "", line) if inside else ""


def words(text: str) -> Iterator[tuple[int, str]]:
    """Words with their lines; without the s of a genitive, and without those that are too short to be judged."""
    for number, line in enumerate(text.splitlines(), start=1):
        for word in WORD.findall(line):
            bare = re.sub(r"['’]s?$", "", word).replace("’", "'")
            # Three letters at least; short ones in capitals stand for something: ISO, PDF.
            if len(bare) >= 3 and not (bare.isupper() and len(bare) <= 5):
                yield number, bare


@pytest.fixture(scope="module")
def known() -> set[str]:
    return {str(word) for word in SpellChecker(language="en").word_frequency.dictionary}


def is_known(word: str, known: set[str]) -> bool:
    return word.lower() in known or word in OURS or (word.lower() in OURS and not word.isupper())


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_words_are_spelt_right(page, known):
    wrong = [f"line {line}: {word}" for line, word in words(prose(page)) if not is_known(word, known)]
    assert not wrong, f"{page.name}: misspelt, or missing in docs/words.txt:\n" + "\n".join(wrong)


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_spelling_is_british_and_no_word_stands_twice(page):
    text = prose(page)
    american = [f"line {line}: {word}" for line, word in words(text) if AMERICAN.fullmatch(word)]
    assert not american, f"{page.name}: spelt as in America:\n" + "\n".join(american)
    twice = [found[0] for found in re.finditer(r"\b([a-z]{2,})\s+\1\b", text) if found[1] not in ("had", "that")]
    assert not twice, f"{page.name}: twice: {twice}"


def place_in_the_alphabet(word: str) -> str:
    """Capitals and accents do not count."""
    return unicodedata.normalize("NFKD", word).encode("ascii", "ignore").decode().lower()


def test_our_list_is_sorted_and_needed():
    assert sorted(set(OURS), key=place_in_the_alphabet) == OURS
    assert len(OURS) < 400
    used = {word for page in PAGES for _, word in words(prose(page))}
    used |= {word.lower() for word in used}
    assert set(OURS) <= used, f"no page needs these of docs/words.txt: {sorted(set(OURS) - used)}"


# Words that are often misspelt in English, from memory of such lists; each beside what it should be.
@pytest.mark.parametrize(
    ("wrong", "right"),
    [
        ("accomodate", "accommodate"),
        ("definately", "definitely"),
        ("difuser's", "diffuser's"),
        ("highlihgt", "highlight"),
        ("occured", "occurred"),
        ("recieve", "receive"),
        ("seperate", "separate"),
        ("shaddow", "shadow"),
        ("Teh", "The"),
        ("thier", "their"),
    ],
)
def test_misspellings_are_found(wrong, right, known, tmp_path):
    page = tmp_path / "page.md"
    for text, expected in ((wrong, False), (right, True)):
        before = "# A page\n\n    teh code\n\n```console\n$ teh\n```\n\n:::{teh}\nA note.\n:::\n\n"
        page.write_text(f"{before}Here stands {text} in `teh code`, [a link](teh.md).\n", encoding="utf-8")
        assert all(is_known(word, known) for _, word in words(prose(page))) is expected


def test_text_of_a_notebook_is_read(tmp_path):
    # The percent format of jupytext: "# %% [markdown]" opens text, "# %%" opens code.
    page = tmp_path / "page.py"
    page.write_text('# %% [markdown]\n# # Softer\n# the light\n\n# %%\nteh = "teh"  # teh\n', encoding="utf-8")
    assert list(words(prose(page))) == [(2, "Softer"), (3, "the"), (3, "light")]


def test_american_spelling_is_found():
    # Oxford dictionaries, from memory: American forms of colour, grey, centre, aluminium, millimetre.
    found = [word for word in ("color", "Gray", "centers", "aluminum", "millimeter") if AMERICAN.fullmatch(word)]
    assert len(found) == 5
    assert not any(
        AMERICAN.fullmatch(word) for word in ("colour", "grey", "centred", "aluminium", "light meter", "meter")
    )
