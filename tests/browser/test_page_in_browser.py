"""The page in headless Chromium: nothing fetched, nothing cut off, no fault for axe-core, by keyboard and on paper.

Skips, with the reason, where Chromium, playwright or axe-core is missing.
"""

import os
import re
import shutil
import zlib
from pathlib import Path

import pytest
from pages import ALARM, FOOTING, designs_of, hostile

from lightsim.page.page import page_of

playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed (extra: browser)")
CHROMIUM = next((found for name in ("chromium", "chromium-browser") if (found := shutil.which(name))), None)
AXE = Path(os.environ.get("AXE") or Path(__file__).parents[2] / "node_modules" / "axe-core" / "axe.min.js")
WIDTHS = {360: 740, 1280: 800}
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="there is no Chromium")


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """Pages with all pictures, by name: designs to compare, one of them full of markup, and that one alone."""
    folder = tmp_path_factory.mktemp("pages")
    rig = hostile()
    made = {
        "compared": designs_of("bare-flash", "foam-arc") + designs_of(rig),
        "alone": designs_of(rig, magnifications=(0, 1)),
    }
    found = {}
    for name, designs in made.items():
        found[name] = folder / f"{name}.html"
        found[name].write_text(page_of(designs, footing=FOOTING), encoding="utf-8")
    return found


@pytest.fixture(scope="module")
def browser():
    with playwright.sync_playwright() as driver:
        found = driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        yield found
        found.close()


@pytest.fixture
def visit(browser, files):
    """Open one of the pages, as visit(name, width, ...); what it says and fetches is in page.said, page.fetched."""
    contexts = []

    def opened(name, width=1280, **more):
        context = browser.new_context(viewport={"width": width, "height": WIDTHS[width]}, **more)
        contexts.append(context)
        page = context.new_page()
        page.said, page.fetched = [], []
        page.on("console", lambda message: page.said.append(message.text))
        page.on("pageerror", lambda error: page.said.append(str(error)))
        page.on("dialog", lambda dialog: (page.said.append(dialog.message), dialog.dismiss()))
        page.on("request", lambda request: page.fetched.append(request.url))
        page.goto(files[name].as_uri())
        return page

    yield opened
    for context in contexts:
        context.close()


def choose(page, number):
    """In every group of switches the one of this number, the last where there are fewer."""
    for group in page.locator("fieldset").all():
        radios = group.locator("input[type=radio]")
        radios.nth(min(number, radios.count() - 1)).check()


@pytest.mark.parametrize("name", ["compared", "alone"])
def test_the_page_says_nothing_and_fetches_nothing_but_itself(visit, files, name):
    page = visit(name)
    page.wait_for_load_state("load")
    assert page.said == []
    outside = [url for url in page.fetched if not url.startswith("data:image/")]
    assert outside == [files[name].as_uri()]


# WCAG 2.2, 1.4.10: no scrolling to the side at 320 CSS pixels and more; here at 360 and 1280.
@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["compared", "alone"])
def test_nothing_is_cut_off(visit, name, width):
    page = visit(name, width)
    for number in (0, 1):
        choose(page, number)
        page.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
        assert page.evaluate("document.scrollingElement.scrollWidth") <= width
        cut = page.evaluate(
            """() => [...document.querySelectorAll('body *')].filter(each => {
                if (each.closest('svg, .unseen, thead, .skip, .variant > h3') || !each.checkVisibility()) return false;
                const box = each.getBoundingClientRect(), style = getComputedStyle(each);
                const hidden = style.overflowX !== 'visible' && each.scrollWidth > each.clientWidth + 1;
                return hidden || box.right > innerWidth + 0.5 || box.left < -0.5;
            }).map(each => each.outerHTML.slice(0, 120))"""
        )
        assert cut == []
        overlapping = page.evaluate(
            """() => [...document.querySelectorAll('td, .value, .bar, .span')].filter(each => {
                const text = document.createRange();
                text.selectNodeContents(each);
                const cell = each.closest('td').getBoundingClientRect(), box = text.getBoundingClientRect();
                return each.checkVisibility() && box.right > cell.right + 1;
            }).map(each => each.outerHTML.slice(0, 120))"""
        )
        assert overlapping == []


@pytest.mark.skipif(not AXE.is_file(), reason="there is no axe-core: name its axe.min.js in AXE")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("name", "width"), [("compared", 1280), ("alone", 360)])
def test_an_accessibility_checker_finds_nothing(visit, name, width, scheme):
    page = visit(name, width, color_scheme=scheme)
    # Of an image, which the pictures are by their role, only its name counts (WAI-ARIA 1.2, children presentational).
    # The checker would spend a minute on the thousands of outlines inside them.
    page.evaluate("document.querySelectorAll('svg[role=img]').forEach(each => each.replaceChildren())")
    page.evaluate(AXE.read_text(encoding="utf-8"))
    for number in (0, 1):
        choose(page, number)
        page.evaluate(
            f"document.querySelectorAll('details').forEach(each => each.open = {'true' if number else 'false'})"
        )
        result = page.evaluate("axe.run()")
        assert len(result["passes"]) > 20
        faults = [(each["id"], [node["html"][:150] for node in each["nodes"]]) for each in result["violations"]]
        assert faults == []


def test_every_control_is_reached_by_keyboard_and_shows_it(visit):
    page = visit("compared")
    page.evaluate("document.querySelectorAll('nav details').forEach(each => each.open = true)")
    wanted = page.evaluate(
        """() => [...document.querySelectorAll('a[href], summary, input:checked')]
            .filter(each => each.checkVisibility()).length"""
    )
    assert wanted > 20
    seen = []
    for _ in range(wanted):
        page.keyboard.press("Tab")
        seen.append(
            page.evaluate(
                """() => {
                const at = document.activeElement, style = getComputedStyle(at), box = at.getBoundingClientRect();
                const shown = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
                const inside = box.top >= -1 && box.bottom <= innerHeight + 1 && box.width > 0;
                return [at.tagName, shown, inside];
            }"""
            )
        )
    assert {tag for tag, _, _ in seen} == {"A", "SUMMARY", "INPUT"}
    assert all(shown and inside for _, shown, inside in seen), seen
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.tagName") == "BODY"  # all were passed once


def test_switches_work_by_keys_alone_and_without_scripts(visit):
    page = visit("compared", java_script_enabled=False)
    first, second = (page.locator(f"#portrait .variant-{number}") for number in (1, 2))
    assert first.is_visible()
    assert not second.is_visible()
    page.locator("#portrait input").first.focus()
    page.keyboard.press("ArrowRight")
    assert second.is_visible()
    assert not first.is_visible()
    page.locator("#files summary").last.focus()
    page.keyboard.press("Enter")
    assert "[camera]" in page.locator("#files pre").last.inner_text()
    assert "What to change" in page.locator("#answer").inner_text()


# WCAG 2.2, 2.5.8: targets of at least 24 by 24 CSS pixels.
def test_targets_are_large_enough(visit):
    page = visit("compared", 360)
    page.evaluate("document.querySelectorAll('nav details').forEach(each => each.open = true)")
    sizes = page.evaluate(
        """() => [...document.querySelectorAll('nav a, summary, label')].filter(each => each.checkVisibility())
            .map(each => each.getBoundingClientRect()).map(box => Math.min(box.width, box.height))"""
    )
    assert len(sizes) > 20
    assert min(sizes) >= 24


def test_what_people_wrote_is_seen_as_text(visit):
    page = visit("alone", 360)
    assert page.title() == ALARM
    assert page.locator("h1").inner_text() == ALARM
    assert page.said == []
    assert page.locator("b, script, i, u, em, img:not([src^='data:image/webp'])").count() == 0
    page.locator("#files summary").last.click()
    assert ALARM in page.locator("#files pre").inner_text()


def sheets(data):
    """Sizes [points] and drawing commands of the sheets of a PDF as Chromium writes them: objects in the open, streams
    packed (ISO 32000-1, 7.3.8, from memory)."""
    objects = {
        int(number): body for number, body in re.findall(rb"\n(\d+) 0 obj\n(.*?)\nendobj", data, flags=re.DOTALL)
    }
    found = []
    for body in objects.values():
        if re.search(rb"/Type\s*/Page\b", body):
            box = re.search(rb"/MediaBox\s*\[([^\]]*)\]", body)
            content = objects[int(re.search(rb"/Contents (\d+) 0 R", body)[1])]
            packed = content.partition(b"stream\n")[2].rpartition(b"\nendstream")[0]
            found.append(([float(each) for each in box[1].split()][2:], zlib.decompress(packed)))
    return found


# Sizes: ISO 216 (210 x 297 mm), and 8.5 x 11 inches; 72 points an inch.
@pytest.mark.parametrize(("paper", "size"), [("A4", (595.3, 841.9)), ("Letter", (612, 792))])
@pytest.mark.parametrize("name", ["compared", "alone"])
def test_it_prints_on_paper_without_an_empty_last_sheet(visit, name, paper, size):
    page = visit(name, color_scheme="dark")
    found = sheets(page.pdf(format=paper))
    assert 5 < len(found) < 40
    for measured, commands in found:
        assert measured == pytest.approx(size, abs=1)
        assert b" Tj" in commands or b" TJ" in commands or b" Do" in commands
    texts = [len(re.findall(rb"T[jJ]", commands)) for _, commands in found]
    assert texts[-1] >= 3
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert page.locator(".variant").count() > 4
    assert all(each.is_visible() for each in page.locator(".variant").all())
    assert not page.locator("nav").is_visible()
