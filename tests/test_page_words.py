"""What the page says of figures: hints, limits, the glance, both estimators. From reports with figures put in by hand.

Expected values derived here: they are the figures put in.
"""

from dataclasses import replace
from math import log2

import pytest
from pages import FOOTING, Read, designs_of, hostile

from lightsim.light.estimate import Estimate
from lightsim.measure.first_words import HIGHLIGHT, first_words, limits_in_words
from lightsim.measure.hints import hints
from lightsim.measure.left_open import without_range
from lightsim.measure.report import Second, Verdict
from lightsim.measure.rounding import shown, span
from lightsim.page.materials import materials_of
from lightsim.page.page import page_of
from lightsim.page.tables import figure_groups, limits, second_opinions
from lightsim.page.words import Told, answer
from lightsim.rig.library import design_path
from lightsim.rig.load import loads


@pytest.fixture(scope="module")
def pair():
    return designs_of("bare-flash", "foam-arc")


def told(designs, **changes):
    """Designs as the sentences need them, their reports changed."""
    return [Told(each.loaded, replace(each.report, **changes), each.light.placed, each.name) for each in designs]


def with_figures(report, half=0.0, **values):
    """The report with other values of figures; names with two underscores for points; half of the 95 % interval."""
    named = {name.replace("__", "."): value for name, value in values.items()}
    figures = tuple(
        replace(each, value=named[each.name], half_interval=half, standard_error=half / 2, low=None, high=None)
        if each.name in named
        else each
        for each in report.figures
    )
    return replace(report, figures=figures, verdicts=())


@pytest.fixture(scope="module")
def calm(pair):
    """The foam arc's report with nothing worth a hint."""
    still = {"budget__escaped past flash": 0.05, "budget__escaped past arc": 0.05, "budget__absorbed by arc": 0.05}
    return with_figures(pair[1].report, **still)


def test_hints_tell_the_losses_that_the_figures_tell(pair, calm):
    placed = pair[1].light.placed
    assert hints(calm, placed) == ()
    for name, share in (("loss__as mounted", "0.8 stops"), ("budget__escaped past arc", "80 %")):
        (hint,) = hints(with_figures(calm, **{name: 0.8}), placed)
        assert share in hint.text
    # Within its error bar the light may look as large as any.
    assert hints(with_figures(calm, half=5.0, size__cone_angle=38.0), placed) == ()
    assert "38 degrees" in hints(with_figures(calm, half=1.0, size__cone_angle=38.0), placed)[0].text


def test_a_limit_on_clearance_is_hinted_at_where_it_is_surely_broken(pair, calm):
    placed, near = pair[1].light.placed, calm["clearance"]
    for kept, count in ((False, 1), (None, 0), (True, 0)):
        found = hints(replace(calm, verdicts=(Verdict("least_clearance", 500.0, near, kept),)), placed)
        assert len(found) == count
        for hint in found:
            assert f"as near as {shown(near).value} mm" in hint.text
            assert "asks for 500 mm" in hint.text


def test_first_words_count_pieces_and_leave_out_an_unsure_highlight(calm):
    def highlight(report):
        return [text for text in first_words(report, ball=3.0) if text.startswith(HIGHLIGHT)]

    assert "in 3 pieces" in highlight(with_figures(calm, highlight__count=3.0))[0]
    assert "pieces" not in highlight(with_figures(calm, highlight__count=1.0))[0]
    assert highlight(with_figures(calm, half=9.0, highlight__stops_above_white=-1.0)) == []


def test_what_cannot_be_told_is_neither_kept_nor_close(calm):
    verdicts = (Verdict("least_angle", 60.0, replace(calm["size.cone_angle"], value=None), None),)
    (text,) = limits_in_words([replace(calm, verdicts=verdicts)], [""])
    assert text.startswith("Cannot be told: ")
    table = limits([replace(calm, verdicts=verdicts)], ["Arc"])
    assert table.rows[0].cells[0].value == "cannot be told"


def test_table_of_limits_tells_broken_ones_and_where_they_differ(calm):
    lost, size = calm["loss.total"], calm["size.cone_angle"]
    one = replace(calm, verdicts=(Verdict("most_stops", 1.0, lost, False), Verdict("least_angle", 60.0, size, True)))
    two = replace(calm, verdicts=(Verdict("most_stops", 2.0, lost, True), Verdict("least_angle", 60.0, size, True)))
    rows = {row.label: row.cells for row in limits([one, two], ["A", "B"]).rows}
    (differs,) = (cells for label, cells in rows.items() if "most_stops" in label)
    (same,) = (cells for label, cells in rows.items() if "least_angle" in label)
    value = shown(lost).value
    assert [(cell.sign, cell.value) for cell in differs] == [
        ("✗", f"broken: {value}, limit 1"),
        ("✓", f"kept: {value}, limit 2"),
    ]
    assert {cell.value for cell in same} == {f"kept: {shown(size).value}"}


def test_both_estimators_stand_in_lux_under_their_names(calm):
    # 1/mm^2 are 1e6 lx per lm; t = 2.13 for 16 replicates (NIST TN 1297 table B.1, from memory).
    second = Second(forward=Estimate(5e-6, 1e-7, 16), backward=Estimate(6e-6, 2e-7, 16))
    table = second_opinions([replace(calm, second=second)], ["Arc"])
    forward, backward, apart = table.rows[0].cells
    assert ["forward" in table.heads[0], "backward" in table.heads[1]] == [True, True]
    assert (forward.value, forward.bar, backward.value, backward.bar) == ("5.0", "±0.2", "6.0", "±0.4")
    assert float(apart.value) == pytest.approx(1 / (0.1**2 + 0.2**2) ** 0.5, abs=0.05)


def test_blanks_say_why_and_of_which_design(pair):
    groups = figure_groups([each.report for each in pair], ["Bare", "Arc"])
    blanks = [text for group in groups for text in group.blanks]
    assert any("(Bare)" in text and pair[0].report["clearance"].why in text for text in blanks)
    groups = figure_groups([pair[0].report], ["Bare"])
    assert any(pair[0].report["clearance"].why in text for group in groups for text in group.blanks)


def test_the_glance_stands_under_its_heads_with_units_and_ranges(pair):
    table = answer(told(pair)).glance
    names = {
        "Apparent size": "size.cone_angle",
        "Light lost": "loss.total",
        "Highlight": "highlight.width",
        "vs white card": "highlight.stops_above_white",
        "Shadow edge": "shadow.edge_x",
    }
    assert set(names) <= set(table.heads)
    for design, row in zip(pair, table.rows, strict=True):
        assert row.label == design.name
        for head, cell in zip(table.heads, row.cells, strict=True):
            if head in names:
                text = shown(design.report[names[head]])
                unit = {"deg": "°"}.get(text.unit, f" {text.unit}")
                assert cell.value == f"{text.value}{unit}".replace("-", "−")
    # At the same magnification the pictures differ as the light on the subject does.
    bare, arc = (dict(zip(table.heads, row.cells, strict=True))["Same flash setting"].value for row in table.rows)
    light = [each.report["exposure.full_power"].value for each in pair]
    assert bare == "brightest"
    assert arc.startswith(f"−{log2(light[0] / light[1]):.1f} stops")
    # The note below names the height of the edge that the rig file states.
    rigs = [each.loaded.rig for each in pair]
    other = rigs[0].model_copy(update={"subject": rigs[0].subject.model_copy(update={"edge_height": 2.5})})
    edges = [each._replace(loaded=replace(each.loaded, rig=other)) for each in told(pair)]
    assert "an edge 2.5 mm above" in answer(edges).glance_note
    # What foam does to the light is the widest of its uncertainties.
    lost = dict(zip(table.heads, table.rows[1].cells, strict=True))["Light lost"]
    assert lost.span == span(pair[1].report["loss.total"]) != ""


def test_the_first_screen_tells_warnings_broken_limits_and_close_calls_by_name(pair):
    bare, arc = told(pair)
    again = arc._replace(loaded=replace(arc.loaded), name="Arc again")
    lost = Verdict("most_stops", 1.0, arc.report["loss.total"], False)
    arc = arc._replace(report=replace(arc.report, notes=("Mind the gap.",), verdicts=(lost,)))
    found = answer([bare, arc, again])
    assert found.notes == (f"{arc.name}: Mind the gap.",)
    assert any(text.startswith("Breaks") and arc.name in text for text in found.limits)
    assert found.close["light lost"] == f"{arc.name} and Arc again"
    text = page_of(
        [replace(each, report=replace(each.report, notes=("Mind the gap.",), seed=7)) for each in pair],
        footing=FOOTING,
        pictures=(),
    )
    assert "Mind the gap." in text
    assert "<code>--seed 7</code>" in text
    assert "seed 7" in Read(text).all("main")[0][1].split("Made by", 1)[1]
    assert '<html lang="en">' in text
    assert "script-src" not in text.partition("</head>")[0]  # nor any other way round "default-src 'none'"


def test_a_rig_at_two_magnifications_is_told_from_the_smaller_to_the_larger():
    *designs, _, _ = designs_of(hostile(), "bare-flash", magnifications=(0, 1), error=0.1)
    small, large = (each.report["size.cone_angle"].value for each in designs)
    text = answer(told(designs)).more[-1]
    assert text.startswith("From 1x to 2x")
    assert f"{large / small:.1f} times as wide" in text
    page = Read(page_of(designs, footing=FOOTING, pictures=()))
    whole = " ".join(page.all("main")[0][1].split())
    assert without_range([each.report for each in designs]) in whole  # the transmittance of tests/pages.py has none
    # Each frame of its own magnification, and where the numbers of the file come from.
    assert "1x:" in whole
    assert "2x:" in whole
    sources = [text for _, text in page.all("dd")]
    assert all(source in sources for source in designs[0].loaded.sources.values())
    (section,) = [text for attributes, text in page.all("section") if attributes.get("id") == "frame"]
    frames = [line for line in section.splitlines() if line.startswith(("1x:", "2x:"))]
    assert [line[:3] for line in frames] == ["1x:", "2x:"]
    assert len({line[3:] for line in frames}) == 2


def test_materials_stand_with_their_ends_their_basis_and_their_source():
    # The numbers of tests/pages.py: reflectance 0.7, from 0.6 to 0.8, measured.
    loaded = hostile()
    found = {each.name: each for each in materials_of([(loaded, "Box")])}
    own = found["<u>own</u>"]
    rows = {tuple(cell.value for cell in row.cells) for row in own.numbers.rows}
    assert ("0.70", "0.60", "0.80", "measured") in rows
    assert ("0.20", "0.20", "0.20", "not stated") in rows
    assert own.whose == f"of {loaded.file}"
    assert any("<b>mine</b>" in source for source in own.sources)
    for part in (*loaded.rig.diffuser, *loaded.rig.surroundings):
        assert f"Box: {part.name}" in found[part.material].used
        assert part.material == "<u>own</u>" or found[part.material].whose == "of the library"
    again = {each.name: each for each in materials_of([(loaded, "Box"), (loaded, "Again")])}
    assert again["<u>own</u>"].used == f"Box: {loaded.rig.diffuser[0].name}; Again: {loaded.rig.diffuser[0].name}"


def test_layers_of_a_material_stand_with_it():
    text = design_path("flat-paper").read_text(encoding="utf-8").replace('"copy paper"', '"both"')
    loaded = loads(text + '\n[material.both]\nlayers = ["copy paper", "tracing paper"]\n')
    found = {each.name: each for each in materials_of([(loaded, "")])}
    assert found["both"].layers == "copy paper on tracing paper"
    for layer in ("copy paper", "tracing paper"):
        assert found[layer].used == "a layer of both"
        assert found[layer].numbers.rows


def test_a_rig_in_inches_with_a_mesh_says_so():
    design, _ = designs_of("mesh-hood", "bare-flash", error=0.1)
    (mesh,) = (part.shape.file for part in design.loaded.rig.diffuser if getattr(part.shape, "file", None))
    text = page_of([design], footing=FOOTING, pictures=())
    assert f"<code>{mesh}</code>" in text
    told = "the file is in inches"
    assert told not in text
    inches = replace(design.loaded, rig=design.loaded.rig.model_copy(update={"unit": "inch"}))
    assert told in page_of([replace(design, loaded=inches)], footing=FOOTING, pictures=())
