"""A phone with the page in its browser, for tests that tap what they see and hear what is spoken."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from browser_client import eventually
from playwright.sync_api import Browser, BrowserContext, Locator, Page

SIZES = {
    "320x568": (320, 568),
    "375x553": (375, 553),
    "390x664": (390, 664),
    "390x844": (390, 844),
    "412x780": (412, 780),
    "844x390": (844, 390),
    "768x1024": (768, 1024),
}
SIGNS = {"works": "", "dead": "-", "stuck": "*"}

# A browser without a window has no voices: what is handed to speech, to tones and to the buzzer is written down.
EARS = """
window.said = []; window.tones = []; window.buzzes = [];
navigator.vibrate = (times) => window.buzzes.push(times);
class Said { constructor(text) { this.text = text; } }
window.SpeechSynthesisUtterance = Said;
Object.defineProperty(window, "speechSynthesis", { value: {
  getVoices: () => window.dumb ? [] : [{ localService: false, lang: "en-GB" }, { localService: true, lang: "en-GB" }],
  speak: (words) => window.said.push(words.text), cancel() {},
} });
window.AudioContext = class {
  currentTime = 0; destination = {};
  resume() {}
  createOscillator() {
    const frequency = { set value(hertz) { window.tones.push(hertz); } };
    return { frequency, connect: (to) => to, start() {}, stop() {} };
  }
  createGain() { return { gain: { setValueAtTime() {}, setTargetAtTime() {} }, connect() {} }; }
};
"""
SEEN_AT = """(key) => {
  const box = key.getBoundingClientRect();
  const at = [box.x + box.width / 2, box.y + box.height / 2];
  return key.contains(document.elementFromPoint(...at)) ? at : null;
}"""
BOXES = """(keys) => keys.map((key) => {
  const box = key.getBoundingClientRect();
  return [key.textContent.trim(), box.x, box.y, box.width, box.height];
})"""


class Phone:
    """One page in a browser of its own."""

    def __init__(self, browser: Browser, root: str, size: tuple[int, int], *, ears: str = EARS, **options: Any) -> None:
        width, height = size
        self.context: BrowserContext = browser.new_context(
            viewport={"width": width, "height": height},
            device_scale_factor=1,
            has_touch=True,
            is_mobile=True,
            **options,
        )
        self.context.add_init_script(ears)
        self.page: Page = self.context.new_page()
        self.root = root
        self.complaints: list[str] = []
        self.page.on("console", lambda said: self.complaints.append(said.text) if said.type == "error" else None)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def open(self, path: str) -> None:
        self.page.goto(self.root + path)
        self.wait(lambda: self.text("#status") != "")

    def wait(self, holds: Callable[[], object]) -> Any:
        return eventually(holds, lambda: self.page.wait_for_timeout(20), lambda: self.page.inner_text("body"))

    def text(self, selector: str) -> str:
        return self.page.locator(selector).inner_text()

    def see(self, selector: str, words: str) -> None:
        """Wait until words stand somewhere."""
        self.wait(lambda: words in self.text(selector))

    def key(self, name: str) -> Locator:
        return self.page.locator(f'#pad [data-layer]:not([hidden]) [data-act="{name}"]')

    def sign(self, sign: str) -> Locator:
        return self.page.locator(f'#pad [data-layer]:not([hidden]) [data-type="{sign}"]')

    def tap(self, target: Locator) -> None:
        """Put a finger on the middle of something that is in sight there, or is brought there as a finger would."""
        target.scroll_into_view_if_needed()
        at = target.evaluate(SEEN_AT)
        assert at is not None, f"{target} is not in sight"
        self.page.touchscreen.tap(*at)

    def press(self, *names: str) -> None:
        for name in names:
            self.tap(self.key(name))

    def type(self, text: str) -> None:
        for sign in text:
            self.tap(self.sign(sign))

    def mark(self, number: object, verdict: str = "works") -> None:
        self.type(str(number))
        self.press(verdict)

    def all_kept(self) -> None:
        self.wait(lambda: self.text("#status") == "all kept")

    def pad(self) -> list[Any]:
        """The keys in sight, with their places."""
        return self.page.locator("#pad [data-layer]:not([hidden]) button").evaluate_all(BOXES)

    def said(self) -> list[str]:
        return self.page.evaluate("window.said")

    def close(self) -> None:
        self.context.close()
