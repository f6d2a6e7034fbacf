"""The page without a browser: what it holds, that what people wrote stays text, and that it needs nothing else."""

import re
import time
from dataclasses import replace
from html import unescape
from itertools import pairwise
from pathlib import Path

import pytest
from matplotlib.figure import Figure
from pages import ALARM, FOOTING, Read, designs_of, hostile
from typer.testing import CliRunner

import lightsim
from lightsim.cli import app
from lightsim.measure.first_words import COMPARED, first_words, limits_in_words, too_close
from lightsim.measure.groups import called
from lightsim.measure.hints import PRACTICE, hints
from lightsim.measure.left_open import not_reckoned
from lightsim.measure.report import CAUTIONS, Verdict
from lightsim.measure.rounding import shown, span
from lightsim.page import page
from lightsim.page.page import page_of
from lightsim.page.pictures import SECTIONS
from lightsim.page.svg import Letters, drawing
from lightsim.picture.style import COLOURS, GREY, INK, PALE, canvas, describe, settings
from lightsim.rig.library import design_path

CHARTS = [section for section in SECTIONS if section.key in ("cost", "edge", "budget")]


def squeezed(text):
    return " ".join(text.split())


@pytest.fixture(scope="module")
def pair():
    return designs_of("bare-flash", "foam-arc")


@pytest.fixture(scope="module")
def one():
    return designs_of(hostile(), magnifications=(0, 1))


@pytest.fixture(scope="module")
def pair_page(pair):
    return page_of(pair, footing=FOOTING, pictures=CHARTS)


@pytest.fixture(scope="module")
def one_page(one):
    return page_of(one, footing=FOOTING, pictures=CHARTS)


def figure_cells(text, columns):
    """Cells of every table of the page by its row's label: [(value, bar and span)] for so many columns."""
    rows = {}
    for label, row in re.findall(r'<th role="rowheader" scope="row">(.*?)</th>(.*?)</tr>', text, flags=re.DOTALL):
        cells = re.findall(r"<td.*?>(.*?)</td>", row, flags=re.DOTALL)
        rows.setdefault(unescape(label), []).append([squeezed(re.sub(r"<.*?>", "", cell)) for cell in cells])
    return {label: found for label, found in rows.items() if any(len(cells) == columns for cells in found)}


# WHATWG HTML: every element closed in order, ids unique, references to ids that exist.
def test_the_page_is_well_formed_and_its_ids_are_unique(pair_page, one_page):
    for text in (pair_page, one_page):
        read = Read(text)
        ids = [attributes["id"] for _, attributes in read.elements if "id" in attributes]
        assert len(ids) > 20
        assert len(set(ids)) == len(ids)
        wanted = set(re.findall(r'(?:href="#|url\(#|aria-labelledby=")([^")]+)', text))
        assert wanted
        assert wanted <= set(ids)


def test_every_figure_stands_on_the_page_with_error_bar_and_range(pair, pair_page):
    cells = figure_cells(pair_page, 2)
    reports = [design.report for design in pair]
    names = dict.fromkeys(figure.name for report in reports for figure in report.figures)
    assert len(names) > 60
    told = 0
    for name in names:
        for column, report in enumerate(reports):
            if name not in [figure.name for figure in report.figures]:
                continue
            figure = report[name]
            label = called(figure)
            unit = {"deg": "degrees"}.get(shown(figure).unit, shown(figure).unit)
            whole = f"{label[:1].upper()}{label[1:]}{f', {unit}' if unit else ''}"
            found = " | ".join(row[column] for row in cells[whole])
            text = shown(figure)
            assert text.value.replace("-", "−") in found or (text.value == "-" and "–" in found), name
            assert f"±{text.half_interval}" in found or not text.half_interval, name
            assert span(figure).replace("-", "−") in found, name
            told += 1
    assert told > 110


def test_ranges_that_are_not_reckoned_are_not_passed_over(pair, pair_page):
    exponent = pair[1].report["falloff.exponent"]
    assert exponent.name in not_reckoned(pair[1].report)
    (row,) = figure_cells(pair_page, 2)["Local exponent of the falloff"]
    assert row[1].endswith("not reckoned")


def test_definitions_materials_cautions_and_the_file_are_there(pair, pair_page):
    read = Read(pair_page)
    (_, whole), *_ = read.all("body")
    whole = squeezed(whole)
    for design in pair:
        for figure in design.report.figures:
            assert figure.definition in whole
            assert figure.source in whole
        for part in (*design.loaded.rig.diffuser, *design.loaded.rig.surroundings):
            assert f": {part.name}" in whole
    texts = [text for _, text in read.all("pre")]
    expected = [design_path(name).read_text(encoding="utf-8") for name in ("bare-flash", "foam-arc")]
    assert [text.removeprefix("\n") for text in texts] == expected  # a newline after <pre> is dropped (WHATWG HTML)
    for text in (*CAUTIONS, lightsim.__version__, "seed 1", FOOTING):
        assert text in whole
    assert "packing foam" in [text for _, text in read.all("h3")]


def test_the_first_screen_answers_before_anything_else(pair_page, one_page, one):
    read = Read(pair_page)
    (_, title), (_, change) = read.all("h1")[0], read.all("h2")[0]
    lead = next(text for attributes, text in read.all("p") if attributes.get("class") == "lead")
    assert title == "Two designs compared"
    assert re.match(
        r"Softest: Foam arc over the subject, whose light looks as large as a cone of 7\d degrees.*costs 1\.\d stops",
        lead,
    )
    assert change == "What to change on Foam arc over the subject"
    lead = next(text for attributes, text in Read(one_page).all("p") if attributes.get("class") == "lead")
    wide = shown(one[0].report["highlight.width"]).value
    assert lead.startswith(f"At 1x the highlight on a 3 mm eye, or another glossy ball, will be {wide} mm wide and ")
    assert one_page.index("Keeps all") < one_page.index("At a glance") < one_page.index("On this page")


def test_what_people_wrote_stays_text(one, one_page):
    read = Read(one_page)
    assert ("script", {}) not in read.elements
    kinds = {tag for tag, _ in read.elements}
    assert not kinds & {"script", "b", "i", "u", "em", "img", "iframe", "object", "embed", "form"}
    assert not [name for _, attributes in read.elements for name in attributes if name.startswith("on")]
    assert len(read.all("style")) == 1
    assert read.all("title")[0][1] == read.all("h1")[0][1] == ALARM
    whole = squeezed(read.all("body")[0][1])
    rig = one[0].loaded.rig
    for text in (rig.diffuser[0].name, rig.diffuser[0].material, one[0].loaded.file, *one[0].loaded.sources.values()):
        assert squeezed(text) in whole
    assert "<style>*{display:none}</style>" in whole
    assert read.all("pre")[0][1].removeprefix("\n") == one[0].loaded.text


def test_names_in_a_comparison_and_in_pictures_stay_text(one, pair):
    text = page_of([*one[:1], *pair], footing=FOOTING, pictures=CHARTS)
    read = Read(text)
    assert not {tag for tag, _ in read.elements} & {"script", "b", "i", "u", "em", "img"}
    pictures = [attributes for attributes, _ in read.all("svg") if attributes.get("role") == "img"]
    assert any(ALARM in attributes["aria-label"] for attributes in pictures)


# WCAG 2.2, 1.1.1: a text for every picture; no script, no network: nothing that a browser would fetch.
def test_pictures_have_texts_and_nothing_comes_from_elsewhere(pair_page):
    read = Read(pair_page)
    pictures = [attributes for attributes, _ in read.all("svg") if attributes.get("aria-hidden") != "true"]
    assert len(pictures) == 4  # of the edge two
    for attributes in pictures:
        assert attributes["role"] == "img"
        assert len(attributes["aria-label"]) > 20
    for _, attributes in read.elements:
        for name in ("src", "href", "xlink:href", "action", "data", "poster", "srcset"):
            assert attributes.get(name, "#").startswith(("#", "data:image/"))
    assert set(re.findall(r"url\(([^)]*)\)", pair_page)) <= set(re.findall(r"url\((#[^)]*)\)", pair_page))
    assert "@import" not in pair_page
    policy = next(a["content"] for a, _ in read.all("meta") if a.get("http-equiv") == "Content-Security-Policy")
    assert policy.startswith("default-src 'none'")


def test_headings_go_down_one_step_at_a_time(pair_page, one_page):
    for text in (pair_page, one_page):
        levels = [int(tag[1]) for tag, _ in Read(text).elements if re.fullmatch(r"h[1-6]", tag)]
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert all(after <= before + 1 for before, after in pairwise(levels))


def test_the_same_designs_give_the_same_page(pair, pair_page):
    assert page_of(pair, footing=FOOTING, pictures=CHARTS) == pair_page


def test_the_text_of_the_page_is_made_at_once(pair):
    page_of(pair, footing=FOOTING, pictures=())
    start = time.process_time()
    text = page_of(pair, footing=FOOTING, pictures=())
    assert time.process_time() - start < 0.2
    assert "<svg" not in text.partition("<main>")[2]


def test_limits_of_all_designs_and_both_estimators_are_told(pair, one, pair_page, one_page):
    assert '<h2 id="limits-heading">' in pair_page
    (row,) = figure_cells(pair_page, 2)["Apparent size at least 60 deg (least_angle)"]
    assert row[0] == "no such limit"
    assert row[1].startswith("✓ kept: 7")
    second = one[0].report.second
    assert second is not None
    assert "two independent estimators" in one_page
    assert f"{second.joint_errors:+.1f}".replace("-", "−") in one_page
    assert "two independent estimators" not in pair_page


def luminance(colour):
    """Relative luminance, WCAG 2.2."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one, other):
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_reckoned_as_the_guidelines_do():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)  # WCAG 2.2, note to contrast ratio
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)  # derived here


# WCAG 2.2 AA: 1.4.3 asks 4.5 of text, 1.4.11 asks 3 of what is needed to understand a picture.
@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
def test_colours_have_enough_contrast(scheme):
    style = (Path(page.__file__).parent / "page.css").read_text(encoding="utf-8")
    block = re.findall(r":root \{(.*?)\}", style, flags=re.DOTALL)[scheme]
    colours = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", block))
    for text in ("ink", "grey", "accent"):
        for ground in ("paper", "wash"):
            assert contrast(colours[text], colours[ground]) >= 4.5, (text, ground)
    for number in range(len(COLOURS)):
        assert contrast(colours[f"series-{number}"], colours["paper"]) >= 3, number
    assert contrast(colours["rule"], colours["paper"]) >= 3


def drawn(draw, letters=None, number=0):
    with settings():
        figure, axes = canvas(None)
        draw(axes)
        describe(axes, 'A "line" & more')
    return drawing(figure, number=number, letters=letters or Letters(), name="a picture")


def test_colours_of_pictures_become_those_of_the_page():
    def draw(axes):
        for place, colour in enumerate((*COLOURS, INK, GREY, PALE)):
            axes.plot([0, 1], [place, place], color=colour)
        axes.plot([0, 1], [9, 10], color="#123456")
        axes.set_facecolor("white")

    text = drawn(draw)
    for number in range(len(COLOURS)):
        assert f"stroke: var(--series-{number})" in text
    for name in ("ink", "grey", "pale", "paper"):
        assert f"var(--{name})" in text
    assert set(re.findall(r"#[0-9a-fA-F]{6}\b", text)) == {"#123456"}
    assert text.startswith("<svg viewBox=")
    assert "width=" not in text.partition(">")[0]
    assert "A &quot;line&quot; &amp; more" in text


def test_letters_are_shared_and_other_ids_are_not():
    letters = Letters()
    texts = [drawn(lambda axes: axes.plot([0, 1, 2], [1, 2, 1], marker="o"), letters, number) for number in (0, 1)]
    defined = re.findall(r'id="([^"]+)"', letters.drawn())
    ids = [re.findall(r' id="([^"]+)"', text) for text in texts]
    assert len(set(defined)) == len(defined) > 5
    assert all(ids)
    assert not set(ids[0]) & set(ids[1])
    for text, own in zip(texts, ids, strict=True):
        assert set(re.findall(r'(?:href="#|url\(#)([^")]+)', text)) <= {*defined, *own}


def test_paths_keep_their_places_to_a_hundredth_of_a_point():
    figure = Figure(figsize=(1, 1))
    axes = figure.add_axes((0, 0, 1, 1), frameon=False)
    axes.set_axis_off()
    axes.plot([0, 1 / 3], [0, 1], color="#123456")
    axes.set(xlim=(0, 1), ylim=(0, 1))
    text = drawing(figure, number=0, letters=Letters(), name="a line")
    line = next(each for each in re.findall(r"<path[^>]*>", text) if "#123456" in each)
    # 72 points an inch, y downward in SVG: from (0, 72) to (24, 0). Derived here.
    numbers = [float(each) for each in re.findall(r"-?\d+\.?\d*", re.search(r'd="([^"]*)"', line)[1])]
    assert numbers == pytest.approx([0, 72, 24, 0], abs=0.005)


def test_first_words_say_what_is_known_and_no_more(pair):
    report = pair[1].report
    words = " ".join(first_words(report, ball=3.0))
    assert f"{shown(report['highlight.width']).value} mm wide" in words
    assert f"costs {report['loss.total'].value:.1f} stops" in words
    assert f"about {report['loss.per_doubling'].value:.1f} stops more" in words
    vague = tuple(
        replace(figure, standard_error=9.0) if figure.name == "loss.total" else figure for figure in report.figures
    )
    assert "costs" not in " ".join(first_words(replace(report, figures=vague), ball=3.0))


def test_too_close_to_call_is_said_of_what_is(pair):
    same = [pair[0].report, pair[0].report]
    assert too_close(same, ["A", "B"]) == {
        what: "A and B" for name, what in COMPARED.items() if same[0][name].value is not None
    }
    assert "light lost" not in too_close([pair[0].report, pair[1].report], ["A", "B"])


def test_limits_are_told_with_whose_they_are(pair):
    report = pair[1].report
    lost, size = report["loss.total"], report["size.cone_angle"]
    broken, kept, close = (
        Verdict("most_stops", 1.0, lost, False),
        Verdict("least_angle", 60.0, size, True),
        Verdict("least_angle", 75.0, size, None),
    )
    texts = limits_in_words([replace(report, verdicts=(broken, kept, close))], ["Arc"])
    value = shown(lost).value
    assert texts[0] == f"Breaks your limits: Arc (light lost {value} stops, at most 1)."
    assert texts[1].startswith("Too close to call against your limits: Arc (apparent size ")
    assert texts[2] == "Keeps the other."
    both = replace(report, verdicts=(kept, replace(kept, limit="most_hot_spot")))
    assert limits_in_words([both], [""]) == ("Keeps all 2 of your limits.",)
    assert limits_in_words([both, both], ["1x", "2x"]) == ("Keeps all 2 of your limits at 1x and 2x.",)
    assert limits_in_words([replace(report, verdicts=())], [""]) == ()


def with_figures(report, **values):
    """The report with other values of figures, known exactly; names with two underscores for points."""
    named = {name.replace("__", "."): value for name, value in values.items()}
    return replace(
        report,
        figures=tuple(
            replace(each, value=named[each.name], half_interval=0.0, low=None, high=None)
            if each.name in named
            else each
            for each in report.figures
        ),
    )


def test_hints_follow_from_the_figures(pair):
    arc, placed = pair[1].report, pair[1].light.placed
    calm = with_figures(arc, **{"budget__escaped past flash": 0.1, "budget__escaped past arc": 0.1})
    assert hints(calm, placed) == ()
    (even,) = hints(with_figures(calm, size__hot_spot=1.2), placed)
    assert even.text.startswith("The brightest spot is 1.2 stops above the mean")
    assert even.basis == PRACTICE
    (small,) = hints(with_figures(calm, size__cone_angle=25.0), placed)
    assert "only as large as a cone of 25 degrees" in small.text
    assert f"now stands {arc['clearance'].value:.0f} mm away" in small.text
    (burning,) = hints(with_figures(calm, highlight__stops_above_white=0.4), placed)
    assert "brighter than a white card" in burning.text
    swallowed = hints(with_figures(calm, **{"budget__absorbed by arc": 0.5}), placed)
    assert swallowed[0].text.startswith("50 % of the light ends in arc (packing foam)")


def test_hints_put_a_broken_limit_first_and_claim_nothing_that_is_unsure(pair):
    arc, placed = pair[1].report, pair[1].light.placed
    lost = Verdict("most_stops", 1.0, arc["loss.total"], False)
    first = hints(replace(with_figures(arc, size__hot_spot=1.2), verdicts=(lost,)), placed)[0]
    assert "meets nothing" in first.text
    spread = tuple(
        replace(each, value=0.7, half_interval=0.5) if each.name == "size.hot_spot" else each for each in arc.figures
    )
    assert not [hint for hint in hints(replace(arc, figures=spread), placed) if "brightest spot" in hint.text]


def run(*words):
    return CliRunner().invoke(app, [str(word) for word in words], env={"COLUMNS": "100"})


def test_report_and_compare_write_the_page_once(tmp_path):
    rough = ("--error", "10%")
    target = tmp_path / "page.html"
    done = run("report", "flat-foam", "--magnification", 1, "--html", target, "--csv", tmp_path / "f.csv", *rough)
    assert done.exit_code == 0, done.output
    assert f"Wrote {target}" in done.stdout
    text = target.read_text(encoding="utf-8")
    read = Read(text)
    assert read.all("h1")[0][1] == lightsim.load("flat-foam").rig.title
    assert len([1 for attributes, _ in read.all("svg") if attributes.get("role") == "img"]) >= 10
    assert len(text) < 1_000_000
    before = target.read_bytes()
    again = run("compare", "bare-flash", "flat-foam", "--html", target, *rough)
    assert again.exit_code == 2
    assert "exists already" in again.output
    assert target.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--html", "page"), "names that end in .html or .htm"),
        (("--html", "-"), "Try page.html"),
        (("--clean",), "--html page.html --clean"),
        (("--html", "a.html", "--json", "a.html"), "--json and --html are both to go to a.html"),
    ],
)
def test_what_cannot_be_a_page_is_refused_before_anything_is_traced(tmp_path, monkeypatch, words, told):
    monkeypatch.chdir(tmp_path)
    done = run("compare", *words)
    assert done.exit_code == 2
    assert told in " ".join(done.output.split())
    assert list(tmp_path.iterdir()) == []
