"""Every screen of the page in a real browser, as people use it who see, hear or hold otherwise; and what makes it an
app of the phone.

The rules are axe-core's: those of WCAG 2.2 level AA, size of targets among them, and its best practices."""

from __future__ import annotations

import json
from collections.abc import Iterator
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from browser_client import chromium
from page_screens import SORTS, served
from PIL import Image, ImageChops, ImageStat
from playwright.sync_api import Browser, Page, expect
from served_book import Server

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text()
TAGS = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
SIZES = {"phone": (390, 844), "tablet": (768, 1024)}
PAGE_FILES = Path(__file__).parents[2] / "matrixcheck" / "web" / "page" / "files"
LOOKED_AT = ("job", "before power", "photos", "roll of switches")
"""The screens of the usual run; the long one has them all."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Server, dict[str, str]]]:
    with served(tmp_path_factory.mktemp("screens")) as running:
        yield running


class Visitor:
    """A page in a browser of its own."""

    def __init__(self, browser: Browser, site: tuple[Server, dict[str, str]], **device: Any) -> None:
        server, self.screens = site
        self._root = server.root
        device = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "device_scale_factor": 1} | device
        self.context = browser.new_context(**device)
        self.page: Page = self.context.new_page()

    def open(self, screen: str) -> Page:
        """Open a screen, once its scripts run."""
        self.page.goto(self._root + self.screens[screen])
        expect(self.page.locator("#status")).not_to_be_empty()
        if screen == "card":
            expect(self.page.locator("#card")).to_have_attribute("aria-busy", "false", timeout=30_000)
        return self.page


# Naming the thousands of places that are right is most of the work: only how many rules were right is asked for.
LOOK = """async (tags) => {
    const found = await axe.run({ runOnly: { type: "tag", values: tags }, resultTypes: ["violations"] });
    return { right: found.passes.length, violations: found.violations };
}"""


def faults(page: Page) -> list[str]:
    """What axe finds wrong."""
    page.evaluate(f"{AXE};0")
    found = page.evaluate(LOOK, TAGS)
    assert found["right"] > 10, "axe looked at next to nothing"
    return [f"{rule['id']}: {node['html'][:120]}" for rule in found["violations"] for node in rule["nodes"]]


def test_axe_finds_nothing(browser: Browser, site: Any) -> None:
    visitor = Visitor(browser, site)
    assert {name: found for name in LOOKED_AT if (found := faults(visitor.open(name)))} == {}
    visitor.context.close()


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES)
def test_axe_finds_nothing_on_any_screen(browser: Browser, site: Any, scheme: Any, size: tuple[int, int]) -> None:
    viewport = {"width": size[0], "height": size[1]}
    visitor = Visitor(browser, site, viewport=viewport, color_scheme=scheme)
    assert {name: found for name in visitor.screens if (found := faults(visitor.open(name)))} == {}
    visitor.context.close()


def test_axe_finds_what_is_wrong(browser: Browser, site: Any) -> None:
    """Planted: a key without a name, pale letters, a picture without words, a target too small."""
    visitor = Visitor(browser, site)
    page = visitor.open("notes")
    page.evaluate(
        """() => document.getElementById("main").insertAdjacentHTML("beforeend", `
        <button id=a></button><p style="color:#bbb;background:#fff">pale</p><img src="/files/icon.svg">
        <div><a href=# style="display:inline-block;width:9px;height:9px;overflow:hidden">x</a><a href=#
        style="display:inline-block;width:9px;height:9px;overflow:hidden">y</a></div>`)"""
    )
    assert {one.partition(":")[0] for one in faults(page)} >= {
        "button-name",
        "color-contrast",
        "image-alt",
        "target-size",
    }
    visitor.context.close()


HEAD = """(text) => {
    const page = new DOMParser().parseFromString(text, "text/html");
    return {
        title: page.title,
        lang: page.documentElement.lang,
        headings: page.querySelectorAll("main h1").length,
        status: page.querySelectorAll("[role=status], [aria-live=polite]").length,
        jumps: page.querySelectorAll("[tabindex]:not([tabindex='0']):not([tabindex='-1'])").length,
        zoom: page.querySelector("meta[name=viewport]").content,
    };
}"""


def test_every_screen_has_its_language_its_title_one_heading_and_a_place_that_is_read_out(
    browser: Browser, site: Any
) -> None:
    """As they come from the computer: what scripts make of them is axe's to look at."""
    visitor = Visitor(browser, site)
    titles = {}
    for name, address in visitor.screens.items():
        found = visitor.page.evaluate(HEAD, visitor.context.request.get(site[0].root + address).text())
        assert (found["lang"], found["headings"], found["jumps"]) == ("en", 1, 0), name
        assert found["status"] >= 1, name
        assert "user-scalable" not in found["zoom"], name
        assert "maximum-scale" not in found["zoom"], name
        titles[name] = found["title"]
    for matrix, sorts in SORTS.items():
        for sort in sorts:
            title = titles[f"{sort} of {matrix}"]
            assert matrix in title
            assert "pier arcade" in title
    rounds = [titles[f"{sort} of {matrix}"] for matrix, sorts in SORTS.items() for sort in sorts]
    assert len(set(rounds)) == len(rounds)
    assert all("pier arcade" in titles[name] for name in ("job", "cell", "card", "before power", "notes", "photos"))
    visitor.context.close()


WIDE = """() => [...document.querySelectorAll("body *")]
    .filter((one) => one.getBoundingClientRect().right > innerWidth + 1 && !one.closest(".scroller, .unseen, [hidden]"))
    .filter((one) => one.getClientRects().length)
    .map((one) => one.outerHTML.slice(0, 90))"""


LETTERS = "percent => { document.documentElement.style.fontSize = `${percent}%`; }"


BROKEN = """() => [...document.querySelectorAll(".key, .tool, .offer, .choice")].flatMap((key) => {
    const broken = [];
    const texts = document.createTreeWalker(key, NodeFilter.SHOW_TEXT);
    while (texts.nextNode()) {
        const text = texts.currentNode, box = text.parentElement.closest(".word, .unseen");
        if (box && getComputedStyle(box).clipPath !== "none") continue;
        for (const word of text.data.matchAll(/[\\p{L}\\p{N}]+/gu)) {
            const range = document.createRange();
            range.setStart(text, word.index);
            range.setEnd(text, word.index + word[0].length);
            const lines = new Set([...range.getClientRects()].map((line) => Math.round(line.top)));
            if (lines.size > 1) broken.push(word[0]);
        }
    }
    return broken;
})"""


def broken_words(page: Page) -> list[str]:
    """The words of keys that break inside themselves, on every layer of keys; all are large enough to read."""
    found: list[str] = page.evaluate(BROKEN)
    for layer in page.locator("[data-layer]").all():
        layer.evaluate("one => { for (const each of one.parentElement.children) each.hidden = each !== one; }")
        found += page.evaluate(BROKEN)
        small = "keys => keys.filter((one) => parseFloat(getComputedStyle(one).fontSize) < 16).length"
        assert page.locator(".word:visible, .sign:visible").evaluate_all(small) == 0
    return found


@pytest.mark.slow
def test_however_narrow_the_page_or_large_its_letters_nothing_runs_off_the_side_and_no_word_breaks(
    browser: Browser, site: Any
) -> None:
    """WCAG 1.4.10 and 1.4.4: no scrolling sideways but in a grid. 195 px is a phone of 390 px zoomed to 200 %."""
    visitor = Visitor(browser, site)
    wrong = {}
    for name in visitor.screens:
        page = visitor.open(name)
        for width, letters in ((320, 100), (390, 200)):
            page.set_viewport_size({"width": width, "height": 640})
            page.evaluate(LETTERS, letters)
            across = page.evaluate("() => document.scrollingElement.scrollWidth")
            if across > width or page.evaluate(WIDE):
                wrong[name, width, letters] = (across, page.evaluate(WIDE))
        page.evaluate(LETTERS, 100)
        page.set_viewport_size({"width": 195, "height": 422})
        if found := broken_words(page):
            wrong[name, 195, 100] = found
    assert wrong == {}
    visitor.context.close()


@pytest.mark.parametrize(
    "screen",
    [
        "job",
        "before power",
        "roll of switches",
        *(pytest.param(each, marks=pytest.mark.slow) for each in ("cell", "photos")),
    ],
)
@pytest.mark.slow
def test_focus_goes_down_the_page_and_is_seen_wherever_it_is(browser: Browser, site: Any, screen: str) -> None:
    visitor = Visitor(browser, site)
    page = visitor.open(screen)
    order: list[int] = []
    for _ in range(25):
        page.keyboard.press("Tab")
        here = page.evaluate(
            """() => {
                const one = document.activeElement;
                if (one === document.body) return null;
                const drawn = one.matches(".picks") ? one.closest(".key") : one;
                const style = getComputedStyle(drawn), box = drawn.getBoundingClientRect();
                const middle = box.top + box.height / 2;
                return {
                    place: [...document.querySelectorAll("*")].indexOf(one),
                    ring: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
                    inside: box.height > innerHeight || (middle >= 0 && middle <= innerHeight),
                    html: one.outerHTML.slice(0, 90),
                };
            }"""
        )
        if here is None or (order and here["place"] < order[-1]):
            break
        assert here["ring"], here
        assert here["inside"], here
        order.append(here["place"])
    assert len(order) >= 3
    assert order == sorted(order)
    visitor.context.close()


@pytest.mark.parametrize(("wish", "moves"), [("no-preference", True), ("reduce", False)])
def test_nothing_moves_for_those_who_want_it_still(browser: Browser, site: Any, wish: Any, moves: bool) -> None:
    visitor = Visitor(browser, site, reduced_motion=wish)
    page = visitor.open("roll of switches")
    page.locator("#call").evaluate("one => one.classList.add('-blink')")
    assert bool(page.evaluate("() => document.getAnimations().length")) is moves
    visitor.context.close()


@pytest.mark.slow
def test_a_page_is_read_without_scripts(browser: Browser, site: Any) -> None:
    visitor = Visitor(browser, site, java_script_enabled=False)
    for name in ("job", "cell", "before power", "notes", "history", "photos", "roll of switches"):
        visitor.page.goto(f"{site[0].root}{visitor.screens[name]}")
        assert visitor.page.locator("main h1").inner_text().strip(), name
        assert "JavaScript" in visitor.page.locator("main").inner_text(), name
        assert visitor.page.locator("form[data-photo]:visible").count() == 0, name
    visitor.context.close()


@pytest.mark.slow
def test_the_phone_can_keep_the_page_among_its_apps(browser: Browser, site: Any) -> None:
    visitor = Visitor(browser, site)
    complaints: list[str] = []
    visitor.page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    page = visitor.open("job")
    link = page.locator("link[rel=manifest]")
    assert link.get_attribute("crossorigin") == "use-credentials", "it lies behind the cookie"
    answer = page.request.get(site[0].root + (link.get_attribute("href") or ""))
    assert answer.headers["content-type"].startswith("application/manifest+json")
    manifest = json.loads(answer.text())
    devtools = visitor.context.new_cdp_session(page)
    assert devtools.send("Page.getAppManifest")["errors"] == []
    for icon in (*manifest["icons"], {"src": "/files/icon-180.png", "type": "image/png", "sizes": "180x180"}):
        got = page.request.get(site[0].root + icon["src"])
        assert got.headers["content-type"] == icon["type"]
        if icon["type"] == "image/png":
            with Image.open(BytesIO(got.body())) as picture:
                assert f"{picture.width}x{picture.height}" == icon["sizes"]
    assert complaints == []
    visitor.context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.slow
def test_the_colour_of_the_browser_is_that_of_the_page(browser: Browser, site: Any, scheme: Any) -> None:
    visitor = Visitor(browser, site, color_scheme=scheme)
    page = visitor.open("job")
    said = page.locator(f"meta[name=theme-color][media*={scheme}]").get_attribute("content") or ""
    colour = tuple(int(said[place : place + 2], 16) for place in (1, 3, 5))
    assert page.evaluate("() => getComputedStyle(document.body).backgroundColor") == f"rgb{colour}"
    visitor.context.close()


@pytest.mark.parametrize("name", ["icon-180", "icon-192", "icon-512"])
def test_an_icon_is_what_its_drawing_shows(browser: Browser, site: Any, name: str) -> None:
    """If not: `python demo/pictures.py --only icons`."""
    with Image.open(PAGE_FILES / f"{name}.png") as kept:
        side, icon = kept.width, kept.convert("RGB")
    visitor = Visitor(browser, site, viewport={"width": side, "height": side})
    page = visitor.page
    page.goto(f"{site[0].root}/files/icon.svg")
    with Image.open(BytesIO(page.screenshot(omit_background=True))) as drawn:
        whole = Image.new("RGBA", drawn.size, "#111111")
        whole.alpha_composite(drawn.convert("RGBA"))
    assert max(ImageStat.Stat(ImageChops.difference(whole.convert("RGB"), icon)).mean) < 3
    visitor.context.close()


RECORDED = """
window.asked = [];
Object.defineProperty(navigator, "wakeLock", {configurable: true, value: {
    request: async (what) => { const one = {what, released: false}; window.asked.push(one); return one; }}});
"""


@pytest.mark.slow
def test_the_screen_stays_on_in_a_round_and_again_after_it_was_out_of_sight(browser: Browser, site: Any) -> None:
    visitor = Visitor(browser, site)
    visitor.page.add_init_script(RECORDED)
    page = visitor.open("roll of switches")
    assert page.evaluate("() => window.asked.map((one) => one.what)") == ["screen"]
    page.evaluate("() => document.dispatchEvent(new Event('visibilitychange'))")
    assert page.evaluate("() => window.asked.length") == 1, "it has it still"
    page.evaluate("() => { window.asked[0].released = true; document.dispatchEvent(new Event('visibilitychange')); }")
    assert page.evaluate("() => window.asked.length") == 2
    assert visitor.open("rounds of switches").locator("#awake").is_hidden()
    assert visitor.page.evaluate("() => window.asked.length") == 0
    visitor.context.close()


@pytest.mark.slow
def test_where_the_browser_keeps_no_screen_on_it_is_said_before_a_round(browser: Browser, site: Any) -> None:
    visitor = Visitor(browser, site)
    visitor.page.add_init_script("delete Navigator.prototype.wakeLock;")
    page = visitor.open("rounds of switches")
    expect(page.locator("#awake")).to_contain_text("The screen may go dark in a round: this browser can't keep it on.")
    page.add_init_script("Object.defineProperty(window, 'isSecureContext', {value: false});")
    expect(visitor.open("rounds of switches").locator("#awake")).to_contain_text("over https only")
    visitor.context.close()
