"""Patterns as PDF, read back by pypdf: sizes, lengths, tiles joined by their crosses, words, pages."""

import dataclasses
import re
from functools import lru_cache
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pdf_reader import Line, Sheet, sheets

import lightsim
from lightsim.pattern import pages
from lightsim.pattern.clip import clipped
from lightsim.pattern.drawing import drawn, extent, moved
from lightsim.pattern.flow import flowed, text_blocks
from lightsim.pattern.ink import label_box, legible, width_of, wrapped
from lightsim.pattern.lettering import angle as upright
from lightsim.pattern.pack import CutSheet, packed
from lightsim.pattern.pattern import pattern_of
from lightsim.pattern.pdf import tiled_pdf, whole_pdf
from lightsim.pattern.piece import Fold, Label, Layer, Mark, Pattern, Piece, Refused
from lightsim.rig.errors import RigError

# ISO 216 for A4; Letter is 8.5 by 11 inches (ANSI/ASME Y14.1, from memory).
SIZES = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
MARGIN = 10.0  # mm that every printer may leave blank: asked for, no source
SUMMARY = ("Hedge and pond survey (invented): 4 pieces of card.", "Weight on the hinge: 95 g.")


def rectangle(name, width, height, *, copies=1, material="white card", holes=()):
    ring = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=float)
    label = Label(name, np.array([width / 2, height / 2]), min(4.0, height / 4))
    return Piece(name, name, material, ring, holes=holes, labels=(label,), copies=copies)


def cross_net():
    """A box without its front, 380 by 330 mm: floor, four walls."""
    a, b = 110.0, 105.0
    w, h = 160.0, 120.0
    x, y = [0, a, a + w, 2 * a + w], [0, b, b + h, 2 * b + h]
    ring = [
        (x[1], y[0]), (x[2], y[0]), (x[2], y[1]), (x[3], y[1]), (x[3], y[2]), (x[2], y[2]),
        (x[2], y[3]), (x[1], y[3]), (x[1], y[2]), (x[0], y[2]), (x[0], y[1]), (x[1], y[1]),
    ]  # fmt: skip
    floor = np.array([(x[1], y[1]), (x[2], y[1]), (x[2], y[2]), (x[1], y[2])])
    folds = tuple(Fold(start, end, np.pi / 2) for start, end in zip(floor, np.roll(floor, -1, axis=0), strict=True))
    marks = (Mark(np.array([[20.0, 120.0], [60.0, 200.0]]), text="hook"),)
    return Piece("box", "box", "white card", np.array(ring), folds=folds, marks=marks, notes=("Fold the walls up.",))


def ring_sector():
    """A cone part unrolled: 200 degrees between radii of 150 and 260 mm, 128 points."""
    angle = np.radians(np.linspace(-10, 190, 64))
    outer = 260 * np.column_stack([np.cos(angle), np.sin(angle)])
    inner = 150 * np.column_stack([np.cos(angle), np.sin(angle)])[::-1]
    return Piece("collar", "collar", "tracing paper", np.concatenate([outer, inner]), copies=2)


def circle(x, y, radius):
    angle = -np.linspace(0, 2 * np.pi, 48, endpoint=False)
    return np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)])


def survey(unit="mm"):
    front = rectangle("front", 120, 80, holes=(circle(60, 40, 25),))
    tongue = rectangle("tongue", 30, 230, copies=3)
    strip = rectangle("strip", 640, 37, material="film")
    refused = (Refused("hood", "a mesh says where its surface is, not how it was rolled or folded"),)
    return Pattern("Hedge and pond box", unit, (front, cross_net(), tongue, ring_sector(), strip), refused)


def panel():
    """A large panel with a small hole far from its edges, and words beside it."""
    return Pattern("Panel", "mm", (rectangle("panel", 700, 600, holes=(circle(350, 280, 8),)),), ())


OWN = {"mm": survey, "inch": lambda: survey("inch"), "panel": panel}


@lru_cache(maxsize=10)
def printed(name, paper):
    pattern = OWN[name]() if name in OWN else pattern_of(lightsim.load(name))
    data = tiled_pdf(pattern, paper=paper, summary=SUMMARY)
    return pattern, data, tuple(sheets(data))


ALL = [(name, paper) for name in (*OWN, "white-box", "lens-cone") for paper in SIZES]
every_print = pytest.mark.parametrize("name, paper", ALL)


def is_cut(line: Line):
    return (
        line.colour == (0, 0, 0) and not line.dashes and not line.filled and line.width == pytest.approx(0.3, abs=1e-3)
    )


def is_score(line: Line):
    return len(line.dashes) == 2 and line.dashes == pytest.approx((4.0, 2.0), abs=1e-3)


def is_mark(line: Line):
    return bool(line.dashes) and not is_score(line)


def bars(sheet: Sheet, length):
    """Level lines of about this length."""
    found = [line for line in sheet.lines if len(line.points) == 2 and np.ptp(line.points[:, 1]) == 0]
    return [line.length for line in found if abs(line.length - length) < 0.3 and not is_cut(line)]


def squares(sheet: Sheet):
    return [line.points for line in sheet.lines if line.closed and len(line.points) == 5 and abs(line.length - 200) < 2]


def is_inside(sheet: Sheet, points, *, more=0.0, left_free=MARGIN):
    low, high = points.min(axis=0) - more, points.max(axis=0) + more
    return (low >= left_free - 1e-3).all() and (high <= np.array([sheet.width, sheet.height]) - left_free + 1e-3).all()


def painted_box(word):
    low = np.maximum(word.corners.min(axis=0), word.clip[:2])
    return low, np.minimum(word.corners.max(axis=0), word.clip[2:])


# Every page


@every_print
def test_pages_have_the_size_of_the_paper(name, paper):
    for sheet in printed(name, paper)[2]:
        assert sorted((sheet.width, sheet.height)) == pytest.approx(sorted(SIZES[paper]), abs=1e-4)


@every_print
def test_every_page_has_a_bar_of_100_mm_and_the_first_a_square_of_50(name, paper):
    pattern, _, found = printed(name, paper)
    for sheet in found:
        assert bars(sheet, 100) == [pytest.approx(100.0, abs=0.005)]
        # 4 inches are 101.6 mm by definition of the inch.
        assert bars(sheet, 101.6) == ([pytest.approx(101.6, abs=0.005)] if pattern.unit == "inch" else [])
        assert "100 mm" in sheet.text
        assert ("100 mm = 3.94 in" in sheet.text) == (pattern.unit == "inch")
    (square,) = squares(found[0])
    assert np.ptp(square, axis=0) == pytest.approx([50.0, 50.0], abs=0.005)


@every_print
def test_every_page_says_100_percent_and_its_number(name, paper):
    pattern, _, found = printed(name, paper)
    for number, sheet in enumerate(found, start=1):
        assert "Print at 100 % (no fit to page)" in sheet.text
        assert f"page {number} of {len(found)}" in sheet.text
        assert pattern.title in sheet.text
    fronts = sum("overview" in sheet.text for sheet in found)
    assert len(found) == fronts + len(pages.laid_out(pattern, paper=paper).pages)


@every_print
def test_nothing_is_painted_where_printers_cannot_print(name, paper):
    for sheet in printed(name, paper)[2]:
        for line in sheet.lines:
            assert is_inside(sheet, line.points, more=line.width / 2)
        for word in sheet.words:
            assert is_inside(sheet, np.array(painted_box(word))), word


@every_print
def test_words_can_be_read(name, paper):
    for sheet in printed(name, paper)[2]:
        assert all(-80.001 <= word.angle <= 100.001 for word in sheet.words)
        labels = [word for word in sheet.words if word.clip[0] > 0]
        own = [word for word in sheet.words if word.clip[0] < 0]
        assert len(labels) + len(own) == len(sheet.words)
        # Letters of our own words; those of a piece are as high as the piece says.
        assert min(word.size for word in own) >= 7


# Pieces


def length_of(ring):
    return float(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum())


def header(sheet: Sheet):
    """Name of the piece, and tile with columns and rows, of a page with a tile."""
    name = next(word.text for word in sheet.words if word.size == pytest.approx(8) and ": " in word.text)
    tile = re.search(r"tile ([A-Z]+)(\d+) of (\d+) × (\d+)", sheet.text)
    return name.split(": ", 1)[1].removesuffix(" shown").rsplit(", ", 1)[0] if tile else name, tile


def tilings(found):
    """Pages of each tiled copy of a piece, by name."""
    groups = {}
    for sheet in found:
        if "overview" not in sheet.text and header(sheet)[1]:
            groups.setdefault(header(sheet)[0], []).append(sheet)
    return groups


def frame_of(sheet: Sheet):
    """Lower left and upper right of the frame of a tile: its largest closed grey line."""
    grey = [line.points for line in sheet.lines if line.closed and line.colour == (0.4, 0.4, 0.4) and not line.dashes]
    frame = max(grey, key=lambda points: np.ptp(points, axis=0).prod())
    return frame.min(axis=0), frame.max(axis=0)


def crosses_of(sheet: Sheet):
    """Middles of the registration crosses by name: a level and an upright line that halve each other."""
    thin = [
        line.points for line in sheet.lines if line.width == pytest.approx(0.15, abs=1e-3) and len(line.points) == 2
    ]
    level = [points.mean(axis=0) for points in thin if np.ptp(points[:, 1]) == 0]
    upright = [points.mean(axis=0) for points in thin if np.ptp(points[:, 0]) == 0]
    middles = [place for place in level if any(np.allclose(place, other, atol=1e-3) for other in upright)]
    names = [word for word in sheet.words if re.fullmatch(r"[a-z]+\d+", word.text) and word.size == pytest.approx(7.5)]
    found = {
        word.text: min(middles, key=lambda place: np.hypot(*(place - word.corners.mean(axis=0)))) for word in names
    }
    assert len(found) == len(middles) == 4
    return found


def joined_sides(sheet: Sheet):
    """Page numbers at the sides of a tile, by where the words stand."""
    low, high = frame_of(sheet)
    found = {}
    for word in sheet.words:
        if match := re.match(r"page (\d+) joins here", word.text):
            x, y = word.corners.mean(axis=0)
            distance = {"left": x - low[0], "right": high[0] - x, "bottom": y - low[1], "top": high[1] - y}
            found[min(distance, key=distance.get)] = int(match[1])
    return found


def own_part(sheet: Sheet):
    """What is left of a tile when it is trimmed through the crosses at the sides that have a neighbour."""
    (left, bottom), (right, top) = frame_of(sheet)
    middles = np.array(list(crosses_of(sheet).values()))
    (x0, y0), (x1, y1) = middles.min(axis=0), middles.max(axis=0)
    sides = joined_sides(sheet)
    return shapely.box(
        x0 if "left" in sides else left - 1,
        y0 if "bottom" in sides else bottom - 1,
        x1 if "right" in sides else right + 1,
        y1 if "top" in sides else top + 1,
    )


def pieces_by_page_name(pattern):
    for piece in pattern.pieces:
        for copy in range(1, piece.copies + 1):
            which = f" ({copy} of {piece.copies})" if piece.copies > 1 else ""
            yield f"{piece.name}{which}, {piece.material}", piece


@every_print
def test_cut_lines_are_as_long_as_those_of_the_pieces(name, paper):
    """Tiles are trimmed at their crosses first, by shapely."""
    pattern, _, found = printed(name, paper)
    tiled = tilings(found)
    whole = 0.0
    for page_name, piece in pieces_by_page_name(pattern):
        expected = sum(map(length_of, (piece.outline, *piece.holes)))
        if page_name not in tiled:
            whole += expected
            continue
        cut = 0.0
        for sheet in tiled[page_name]:
            part = own_part(sheet)
            cut += sum(
                shapely.LineString(each.points).intersection(part).length for each in sheet.lines if is_cut(each)
            )
        assert cut == pytest.approx(expected, abs=0.05)
    shared = [sheet for sheet in found if "overview" not in sheet.text and not header(sheet)[1]]
    lengths = [line.length for sheet in shared for line in sheet.lines if is_cut(line)]
    assert sum(lengths) == pytest.approx(whole, abs=0.05)


def assembled(group):
    """Lines of all tiles in one frame, by laying crosses of the same name on each other: (points, line) each."""
    places = dict(crosses_of(group[0]))
    shifts, waiting = {0: np.zeros(2)}, list(range(1, len(group)))
    while waiting:
        number = next(k for k in waiting if len(places.keys() & crosses_of(group[k]).keys()) >= 2)
        waiting.remove(number)
        own = crosses_of(group[number])
        steps = np.array([places[name] - own[name] for name in places.keys() & own.keys()])
        # All common crosses must ask for the same place.
        assert np.ptp(steps, axis=0).max() < 0.002
        shifts[number] = steps.mean(axis=0)
        places |= {name: place + shifts[number] for name, place in own.items()}
    return [
        (line.points + shifts[number], line)
        for number, sheet in enumerate(group)
        for line in sheet.lines
        if is_cut(line) or is_score(line) or is_mark(line)
    ]


@every_print
def test_tiles_joined_by_their_crosses_give_back_the_piece(name, paper):
    pattern, _, found = printed(name, paper)
    named = dict(pieces_by_page_name(pattern))
    groups = tilings(found)
    assert (len(groups) > 0) == (name != "lens-cone")
    for page_name, group in groups.items():
        lines = assembled(group)
        for layer, kind in (("cut", is_cut), ("score", is_score), ("mark", is_mark)):
            strokes = drawn(named[page_name]).strokes
            # The arrow of the grain stands where no seam cuts it, which is judged elsewhere.
            own = [stroke.points for stroke in strokes if stroke.layer == layer and stroke.text != "grain"]
            parts = [points for points, line in lines if kind(line)]
            assert bool(own) == bool(parts)
            if not own:
                continue
            points = np.concatenate(own)
            assert same_points(points, np.concatenate(parts), named[page_name], lines)


def same_points(points, there, piece, lines):
    """Whether every vertex lies within 0.02 mm of one on paper, unturned or turned by a quarter."""
    paper = np.concatenate([points for points, _ in lines])
    for turn in (np.eye(2), np.array([[0.0, 1.0], [-1.0, 0.0]])):
        low, high = extent(drawn(piece)) @ turn
        shift = paper.min(axis=0) - np.minimum(low, high)
        gaps = np.hypot(*((points @ turn + shift)[:, None] - there[None]).transpose(2, 0, 1))
        if gaps.min(axis=1).max() < 0.02:
            return True
    return False


@every_print
def test_arrows_name_the_page_that_joins(name, paper):
    _, _, found = printed(name, paper)
    opposite = {"left": "right", "right": "left", "top": "bottom", "bottom": "top"}
    for group in tilings(found).values():
        sides = [joined_sides(sheet) for sheet in group]
        assert len(group) == 1 or all(sides)
        for sheet, joins in zip(group, sides, strict=True):
            number = found.index(sheet) + 1
            for side, other in joins.items():
                assert joined_sides(found[other - 1])[opposite[side]] == number
                assert header(found[other - 1])[0] == header(sheet)[0]
                # The crosses at that side are the neighbour's at the opposite one.
                assert len(crosses_of(sheet).keys() & crosses_of(found[other - 1]).keys()) == 2


@every_print
def test_trim_marks_stand_in_line_with_the_crosses(name, paper):
    """At the ends of every right and lower edge that has a neighbour, and nowhere else."""
    for group in tilings(printed(name, paper)[2]).values():
        for sheet in group:
            middles = np.array(list(crosses_of(sheet).values()))
            marks = [line.points for line in sheet.lines if line.width == pytest.approx(0.25, abs=1e-3)]
            upright = [points[0, 0] for points in marks if np.ptp(points[:, 0]) == 0]
            level = [points[0, 1] for points in marks if np.ptp(points[:, 1]) == 0]
            sides = joined_sides(sheet)
            assert upright == pytest.approx([middles[:, 0].max()] * 2 * ("right" in sides), abs=1e-3)
            assert level == pytest.approx([middles[:, 1].min()] * 2 * ("bottom" in sides), abs=1e-3)


@every_print
def test_numbers_of_the_map_are_those_of_the_pages(name, paper):
    """The numbers of a tiling stand on the map as the tiles on the table: columns from the left, rows from above."""
    _, _, found = printed(name, paper)
    words = [word for sheet in found if "overview" in sheet.text for word in sheet.words]
    numbers = [word for word in words if re.fullmatch(r"\d+", word.text)]
    told = [int(word.text) for word in numbers] + [
        int(m[1]) for w in words if (m := re.fullmatch(r"page (\d+)", w.text))
    ]
    fronts = sum("overview" in sheet.text for sheet in found)
    assert sorted(set(told)) == list(range(fronts + 1, len(found) + 1))
    for group in tilings(found).values():
        own = {int(word.text): word.corners.mean(axis=0) for word in numbers if found[int(word.text) - 1] in group}
        columns = {header(found[number - 1])[1][1]: round(x, 2) for number, (x, _) in own.items()}
        rows = {int(header(found[number - 1])[1][2]): round(y, 2) for number, (_, y) in own.items()}
        for number, (x, y) in own.items():
            tile = header(found[number - 1])[1]
            assert columns[tile[1]] == pytest.approx(x, abs=0.05)
            assert rows[int(tile[2])] == pytest.approx(y, abs=0.05)
        assert sorted(columns.values()) == [columns[letter] for letter in sorted(columns)]
        assert sorted(rows.values(), reverse=True) == [rows[number] for number in sorted(rows)]


@pytest.mark.parametrize("paper", SIZES)
def test_pages_alike_are_one_part_of_the_map(paper):
    """24 gores of 55 by 230 mm, three on a page: 8 pages that follow the first, told once."""
    gores = rectangle("gore", 55, 230, copies=24)
    found = sheets(tiled_pdf(Pattern("Bowl", "mm", (gores,), ()), paper=paper, summary=[]))
    assert len(found) == 1 + 24 / 3  # 189 or 194 mm over 55 and gaps of 5 mm
    assert [word.text for word in found[0].words if re.match(r"pages? \d", word.text)] == [
        f"pages 2 to {len(found)}",
        f"page 1 of {len(found)}",
    ]


@pytest.mark.parametrize("paper", SIZES)
def test_short_notes_stand_beside_a_small_map(paper):
    """At the height of the map and to its right, none of the words over others; below it where they are long."""
    for notes, beside in ((("Glue it. " * 12,), True), (("Glue it. " * 300,), False)):
        piece = dataclasses.replace(rectangle("front", 150, 90), notes=notes)
        page = sheets(tiled_pdf(Pattern("t", "mm", (piece,), ()), paper=paper, summary=[]))[0]
        places = {word.text[:8]: word.corners.min(axis=0) for word in page.words}
        assert (abs(places["Notes on"][1] - places["Map of t"][1]) < 1e-3) == beside
        assert (places["Notes on"][0] > places["Map of t"][0] + 60) == beside
        boxes = [shapely.box(*np.concatenate(painted_box(word))) for word in page.words]
        for number, box in enumerate(boxes):
            assert all(box.intersection(other).area < 0.2 * min(box.area, other.area) for other in boxes[number + 1 :])


@pytest.mark.parametrize("paper", SIZES)
def test_line_kinds_differ_without_colour(paper):
    _, _, found = printed("mm", paper)
    lines = [line for group in tilings(found).values() for sheet in group for line in sheet.lines]
    score = {(round(line.width, 3), *np.round(line.dashes, 3)) for line in lines if is_score(line)}
    mark = {(round(line.width, 3), line.colour, len(line.dashes)) for line in lines if is_mark(line)}
    assert score == {(0.3, 4.0, 2.0)}
    assert mark == {(0.2, (0.4, 0.4, 0.4), 2)}
    assert any(map(is_cut, lines))


@pytest.mark.parametrize("paper", SIZES)
def test_tiles_are_used_upright_and_on_their_side(paper):
    groups = tilings(printed("mm", paper)[2]).values()
    assert {sheet.width > sheet.height for group in groups for sheet in group} == {True, False}


def test_the_first_page_says_what_is_refused_and_how_to_take_care():
    _, _, found = printed("mm", "A4")
    text = " ".join(found[0].text.split())
    for expected in ("hood: a mesh says", *SUMMARY, "docs/building.md", "measure bar and square", "dashed", "solid"):
        assert expected in text


def test_lengths_are_told_in_the_unit_of_the_rig():
    assert "380 × 330 mm" in printed("mm", "A4")[2][0].text
    # 380 / 25.4 = 14.96, 330 / 25.4 = 12.99.
    assert "14.96 × 12.99 in" in printed("inch", "A4")[2][0].text


# Odd input


@pytest.mark.parametrize("paper", SIZES)
def test_the_same_pattern_gives_the_same_bytes(paper):
    pattern, data, _ = printed("mm", paper)
    assert tiled_pdf(pattern, paper=paper, summary=SUMMARY) == data
    cut = packed(pattern.pieces, sizes={}, usual=(700, 1000))
    assert whole_pdf(pattern, cut, summary=SUMMARY) == whole_pdf(pattern, cut, summary=SUMMARY)


@pytest.mark.parametrize(
    "title, expected",
    [
        ("Κύκλος und Öse – 90° “ß”", "Κύκλος und Öse – 90° “ß”"),
        ("beetle 🪲 箱", "beetle [U+1FAB2] [U+7BB1]"),
        ("(a) \\ <b>b</b> 100 % &amp; ) Tj", "(a) \\ <b>b</b> 100 % &amp; ) Tj"),
        ("one\ntwo\x00\ud800three", "one two three"),
        ("", ""),
    ],
)
def test_odd_letters_neither_crash_nor_vanish(title, expected):
    odd = rectangle(title, 250, 300), rectangle(title, 60, 40)
    pattern = Pattern(title, "mm", odd, (Refused(title, title),))
    found = sheets(tiled_pdf(pattern, paper="A4", summary=[title]))
    assert len(found) == 4
    for sheet in found:
        assert expected in sheet.text
    assert found[0].words[0].text == (expected or "Hedge") or not expected


def test_a_name_of_many_letters_stays_on_the_page():
    long = "w" * 400
    outline = rectangle("leaf", 500, 30).outline
    pieces = Piece(long, long, long, outline), Piece(long, long, long, outline / 10, copies=2)
    pattern = Pattern(long, "inch", pieces, (Refused(long, long),))
    for sheet in sheets(tiled_pdf(pattern, paper="Letter", summary=[long, "many words " * 80])):
        for word in sheet.words:
            assert is_inside(sheet, np.array(painted_box(word)))


def test_long_texts_and_many_pieces_flow_to_further_pages():
    many = (*(rectangle(f"part {n}", 300 + n, 60) for n in range(12)), rectangle("leaf", 90, 70, copies=30))
    pattern = Pattern("Many", "mm", many, tuple(Refused(f"mesh {n}", "no flat pattern. " * 9) for n in range(9)))
    found = sheets(tiled_pdf(pattern, paper="A4", summary=[f"Line {n}. " + "words " * 40 for n in range(25)]))
    fronts = [sheet for sheet in found if "overview" in sheet.text]
    assert len(fronts) > 2
    for sheet in fronts:
        boxes = [shapely.box(*np.concatenate(painted_box(word))) for word in sheet.words]
        assert all(is_inside(sheet, np.array(painted_box(word))) for word in sheet.words)
        for number, box in enumerate(boxes):
            for other in boxes[number + 1 :]:
                # Letters hang a little into the line below: a fifth of a square millimetre is no overlap.
                assert box.intersection(other).area < 0.2 * min(box.area, other.area)
    assert {f"page {n} of {len(found)}" for n in range(1, len(found) + 1)} <= set(
        match for sheet in found for match in re.findall(r"page \d+ of \d+", sheet.text)
    )


def test_a_pattern_without_pieces_is_one_page():
    pattern = Pattern("Mesh only", "mm", (), (Refused("hood", "a mesh has no flat pattern"),))
    (page,) = sheets(tiled_pdf(pattern, paper="A4", summary=[]))
    assert "hood: a mesh has no flat pattern" in page.text
    (page,) = sheets(whole_pdf(pattern, [], summary=[]))
    assert "hood: a mesh has no flat pattern" in page.text


def test_another_paper_is_refused_in_words():
    with pytest.raises(RigError, match=r'paper "A5".*Allowed: "A4", "Letter".*Try A4'):
        tiled_pdf(survey(), paper="A5", summary=[])
    assert tiled_pdf(survey(), paper="a4", summary=SUMMARY)[:5] == b"%PDF-"


# Layout


def test_empty_tiles_are_left_out():
    """A frame on A4, derived here: columns of 189 - 10 = 179 mm and rows of 262.5 - 10 = 252.5 mm, but for the last."""
    frame = rectangle("frame", 880, 760)
    tiling = pages.tiled(frame, [pages.page_of("A4", landscape=False)])
    assert (tiling.columns, tiling.rows) == (5, 3)
    assert len(tiling.kept) == 15 - 3
    # Words on the empty tiles are left out, those near lines stay.
    boxes = [shapely.box(*pages.tile_box(tiling, tile).ravel()) for tile in tiling.kept]
    kept = [label.place for label in tiling.drawing.labels]
    assert all(shapely.union_all(boxes).contains(shapely.Point(place)) for place in kept)
    assert len(kept) < len(drawn(frame).labels)
    assert pages.tiled(rectangle("strip", 880, 20), [pages.page_of("A4", landscape=False)]).drawing.labels


@pytest.mark.parametrize("paper", SIZES)
def test_no_line_runs_along_the_frame_of_the_tiles(paper):
    """Tiles keep 2 mm round what is drawn: a printer that is a little off loses no edge. A choice."""
    for piece in (cross_net(), rectangle("wide", 300, 250), rectangle("high", 420, 900)):
        (tiling,) = pages.laid_out(Pattern("x", "mm", (piece,), ()), paper=paper).tilings
        low, high = extent(tiling.drawing)
        last = pages.tile_step(tiling.page) * (tiling.columns - 1, tiling.rows - 1)
        whole = last + pages.room_size(tiling.page)
        assert (low >= 2 - 1e-9).all()
        assert (high <= whole - 2 + 1e-9).all()


def test_tiles_far_from_the_others_are_linked_to_them():
    """A hole in the middle tile of five by five: one of the empty tiles around it is printed, too."""
    upright = [pages.page_of("A4", landscape=False)]
    outline = rectangle("wall", 880, 1200).outline
    around = pages.tiled(Piece("wall", "wall", "card", outline), upright)
    assert (around.columns, around.rows, len(around.kept)) == (5, 5, 16)
    hole = circle(440, 600, 5)
    assert len(pages.tiled(Piece("wall", "wall", "card", outline, holes=(hole,)), upright).kept) == 16 + 2


def reach(label):
    """The box about the words of a label, in the frame of its drawing."""
    return shapely.box(*label_box(label).ravel())


def captions(drawing):
    return drawing.labels[len(drawing.labels) - drawing.caption :]


@pytest.mark.parametrize("name", ["white-box", "baffle-box", "card-funnel", "lens-cone", "dome", "side-wings"])
def test_captions_lie_on_their_pieces_and_clear_of_other_words_and_folds(name):
    for piece in pattern_of(lightsim.load(name)).pieces:
        drawing = drawn(piece)
        sheet = shapely.Polygon(piece.outline, piece.holes)
        lines = [shapely.LineString([fold.start, fold.end]) for fold in piece.folds]
        lines += [shapely.LineString(stroke.points) for stroke in drawing.strokes if stroke.layer == Layer.MARK]
        own = captions(drawing)
        assert own[0].text == piece.name
        assert own[-1].text == f"this is the {piece.side}"
        for number, label in enumerate(own):
            assert sheet.covers(reach(label))
            assert not any(reach(label).intersects(line) for line in lines)
            assert not any(reach(label).intersects(reach(other)) for other in piece.labels)
            assert not any(reach(label).intersects(reach(other)) for other in own[number + 1 :])
        arrows = [stroke.points for stroke in drawing.strokes if stroke.text == "grain"]
        assert bool(arrows) == (piece.grain is not None)
        assert all(sheet.covers(shapely.LineString(points)) for points in arrows)
        if arrows:
            way = np.diff(arrows[0], axis=0)[0]
            assert way / np.linalg.norm(way) == pytest.approx(piece.grain)


@pytest.mark.parametrize("size", [(120, 80), (80, 120), (600, 12), (12, 300), (50, 8)])
def test_captions_can_be_read_on_narrow_pieces(size):
    drawing = drawn(Piece("strip", "strip", "card", rectangle("strip", *size).outline))
    assert [label.text for label in drawing.labels] == ["strip", "card", "this is the back"][
        : 3 if min(size) > 8 else 1
    ]
    assert min(label.height for label in drawing.labels) >= 1.8


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("size", [(120, 80), (14, 300)])
def test_captions_read_from_their_first_line(size, turned):
    """Right of upright words is what comes below in level ones."""
    drawing = moved(drawn(Piece("a", "a", "card", rectangle("a", *size).outline)), shift=np.zeros(2), turned=turned)
    labels = captions(drawing)
    assert [label.text for label in sorted(labels, key=lambda label: -label.place[1] + label.place[0])] == [
        "a",
        "card",
        "this is the back",
    ]


@pytest.mark.parametrize("angle, read", [(0, 0), (90, 90), (95, 95), (-90, 90), (-75, -75), (180, 0), (120, -60)])
def test_words_read_upward_or_to_the_right(angle, read):
    assert np.degrees(upright(Label("no", np.zeros(2), 3.0, angle=np.radians(angle)))) == pytest.approx(read)


@pytest.mark.parametrize("paper", SIZES)
@pytest.mark.parametrize("piece", [cross_net(), ring_sector(), Piece("a", "a", "b", rectangle("a", 700, 600).outline)])
def test_captions_of_tiles_are_cut_by_no_seam_and_on_printed_tiles(piece, paper):
    tiling = pages.tiled(piece, [pages.page_of(paper, landscape=each) for each in (False, True)])
    own = [shapely.box(*pages.own_box(tiling, tile).ravel()) for tile in tiling.kept]
    assert len(captions(tiling.drawing)) >= 3
    assert all(any(box.covers(reach(label)) for box in own) for label in captions(tiling.drawing))


@pytest.mark.parametrize("paper", SIZES)
def test_a_piece_alone_stands_as_it_is_read(paper):
    layout = pages.laid_out(Pattern("t", "mm", (rectangle("arc", 150, 183),), ()), paper=paper)
    assert [stand.turned for page in layout.pages for stand in page.stands] == [False]


side = st.floats(5, 400)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.lists(st.tuples(side, side, st.integers(1, 3)), min_size=1, max_size=6), st.sampled_from(list(SIZES)))
def test_whole_pieces_lie_inside_and_apart(sizes, paper):
    given_pieces = tuple(rectangle(f"p{n}", w, h, copies=c) for n, (w, h, c) in enumerate(sizes))
    layout = pages.laid_out(Pattern("t", "mm", given_pieces, ()), paper=paper)
    counted = dict.fromkeys((piece.name for piece in given_pieces), 0)
    for page in layout.pages:
        if isinstance(page, pages.TilePage):
            continue
        low, high = pages.room(page.page)
        boxes = [extent(stand.drawing) for stand in page.stands]
        for number, box in enumerate(boxes):
            assert (box[0] >= low - 1e-6).all()
            assert (box[1] <= high + 1e-6).all()
            for other in boxes[number + 1 :]:
                gap = np.maximum(box[0] - other[1], other[0] - box[1])
                assert gap.max() >= 5 - 2e-3
        for stand in page.stands:
            counted[stand.piece.name] += 1
    for tiling in layout.tilings:
        counted[tiling.piece.name] += 1
    assert counted == {piece.name: piece.copies for piece in given_pieces}


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.floats(5, 900), st.floats(270, 900), st.sampled_from(list(SIZES)))
def test_tiles_cover_their_piece_and_are_as_few_as_a_grid_needs(width, height, paper):
    upright, level = (pages.page_of(paper, landscape=each) for each in (False, True))
    tiling = pages.tiled(rectangle("r", width, height), (upright, level))
    trimmed = [shapely.box(*pages.own_box(tiling, tile).ravel()) for tile in tiling.kept]
    for stroke in tiling.drawing.strokes:
        line = shapely.LinearRing(stroke.points) if stroke.closed else shapely.LineString(stroke.points)
        inside = sum(line.intersection(box).length for box in trimmed)
        assert inside == pytest.approx(line.length, abs=1e-6)
    # Derived here: columns and rows of tiles with an overlap, both pages, both ways round.
    least = min(
        np.prod(1 + np.ceil(np.maximum(np.array(sides) + 4 - pages.room_size(page), 0) / pages.tile_step(page)))
        for sides in ((width, height), (height, width))
        for page in (upright, level)
    )
    assert len(tiling.kept) <= least


coordinate = st.integers(-30, 30).map(lambda each: each / 2)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.lists(st.tuples(coordinate, coordinate), min_size=3, max_size=9, unique=True), st.booleans())
def test_clipping_against_shapely(points, closed):
    """In halves, so that lines often run along an edge or through a corner."""
    ring, box = np.array(points), np.array([[-5.0, -4.0], [6.0, 5.0]])
    parts = clipped(ring, box, closed=closed)
    whole = np.concatenate([ring, ring[:1]]) if closed else ring
    # A line may run twice over the same place: shapely is asked for one straight piece at a time.
    pieces = [shapely.LineString(each).intersection(shapely.box(-5, -4, 6, 5)) for each in pairwise(whole)]
    assert sum(shapely.LineString(part).length for part in parts) == pytest.approx(sum(each.length for each in pieces))
    for part in parts:
        assert (part >= box[0] - 1e-9).all()
        assert (part <= box[1] + 1e-9).all()
    # Parts end on the edges of the box or where the line itself ends: nowhere else is it broken.
    for part in parts:
        for end in (part[0], part[-1]):
            on_edge = np.isclose(end, box, atol=1e-9).any()
            own_end = np.array_equal(end, whole[0]) or np.array_equal(end, whole[-1])
            assert on_edge or (own_end and (not closed or np.array_equal(part[0], part[-1])))


@pytest.mark.parametrize("paper", SIZES)
@pytest.mark.parametrize("landscape", [False, True])
def test_a_piece_that_just_fits_keeps_all_its_lines(paper, landscape):
    size = pages.room_size(pages.page_of(paper, landscape=landscape))
    # Wherever its own origin lies, and however its corners are rounded.
    places = np.random.default_rng(1).uniform(-500, 500, (6, 1, 2))
    ring = rectangle("just", *(size + 1e-8)).outline
    pattern = Pattern("Just", "mm", tuple(Piece("just", "just", "card", ring + place) for place in places), ())
    found = sheets(tiled_pdf(pattern, paper=paper, summary=()))
    assert len(found) == 7
    for sheet, piece in zip(found[1:], pattern.pieces, strict=True):
        assert sum(line.length for line in sheet.lines if is_cut(line)) == pytest.approx(
            length_of(piece.outline), abs=0.01
        )
        assert all(is_inside(sheet, line.points, more=line.width / 2) for line in sheet.lines)


@pytest.mark.parametrize("column, name", [(0, "A1"), (25, "Z1"), (26, "AA1"), (701, "ZZ1"), (702, "AAA1")])
def test_names_of_tiles(column, name):
    """As spreadsheets name their columns (common practice)."""
    assert pages.tile_name((column, 0)) == name


# Words


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.text(max_size=120), st.floats(10, 120))
def test_wrapped_lines_fit_and_keep_every_letter(text, width):
    lines = wrapped(text, width)
    assert "".join("".join(lines).split()) == "".join(legible(text).split())
    assert all(width_of(line) <= width or len(line) == 1 for line in lines)


def test_blocks_flow_without_a_loss():
    blocks = text_blocks("word " * 500, 60)
    columns = flowed(blocks, height=50)
    assert [block for column in columns for block, _ in column] == blocks
    assert all(down + block.height <= 50 for column in columns for block, down in column)


# A page for each sheet


@pytest.mark.parametrize("unit", ["mm", "inch"])
@pytest.mark.parametrize("size", [(700.0, 1000.0), (560.0, 700.0)])
def test_sheets_lie_on_pages_at_full_size(unit, size):
    pattern = survey(unit)
    cut = packed(pattern.pieces, sizes={"film": (650.0, 50.0)}, usual=size)
    found = sheets(whole_pdf(pattern, cut, summary=SUMMARY))
    assert len(found) == len(cut)
    for number, (page, sheet) in enumerate(zip(found, cut, strict=True)):
        assert page.width == pytest.approx(sheet.width, abs=1e-3)
        band = page.height - sheet.height
        assert band > 70
        assert bars(page, 100) == [pytest.approx(100.0, abs=0.005)]
        (square,) = squares(page)
        assert np.ptp(square, axis=0) == pytest.approx([50.0, 50.0], abs=0.005)
        expected = sum(length_of(ring) for place in sheet.places for ring in (place.piece.outline, *place.piece.holes))
        on_sheet = [line for line in page.lines if is_cut(line) and line.points[:, 1].min() > band - 1e-3]
        assert sum(line.length for line in on_sheet) == pytest.approx(expected, abs=0.05)
        for place in sheet.places:
            corners = [line.points.min(axis=0) - (0, band) for line in on_sheet]
            assert min(np.hypot(*(corner - place.corner)) for corner in corners) < 0.01
        below = [word for word in page.words if word.clip[2] > 1e6]
        assert all(is_inside(page, word.corners) for word in below)
        assert max(word.corners[:, 1].max() for word in below) < band
        assert "100 %" in page.text
        assert ("hood" in page.text) == (number == 0)


def test_a_sheet_narrower_than_the_words_gets_a_wider_page():
    (page,) = sheets(whole_pdf(survey(), [CutSheet("film", 60.0, 90.0, ())], summary=SUMMARY))
    assert all(is_inside(page, word.corners) for word in page.words)


def test_a_sheet_too_large_for_a_pdf_is_refused_in_words():
    """ISO 32000-1, annex C (from memory): pages have at most 14400 units of 1/72 inch, 5080 mm."""
    with pytest.raises(RigError, match=r"Allowed: at most 5080 mm.*SVG or DXF"):
        whole_pdf(survey(), [CutSheet("film", 500.0, 5000.0, ())], summary=SUMMARY)
