"""The scripts of the page that know no page, in a real browser without a server: queue, line, typing, timing, words."""

from __future__ import annotations

import random
from collections.abc import Iterator
from importlib.resources import files

import pytest
from browser_client import chromium
from playwright.sync_api import Page, Route

from matrixcheck.tui.round_steps import WalkTiming
from tests.machines import saltmarsh_tram

SCRIPTS = files("matrixcheck.web.page") / "files"


@pytest.fixture(scope="module")
def page() -> Iterator[Page]:
    def answer(route: Route) -> None:
        name = route.request.url.rpartition("/")[2]
        if name:
            route.fulfill(body=(SCRIPTS / name).read_text("utf-8"), content_type="text/javascript")
        else:
            route.fulfill(body="<!DOCTYPE html>", content_type="text/html")

    with chromium() as browser:
        opened = browser.new_page()
        opened.route("http://bench.example/**", answer)
        opened.goto("http://bench.example/")
        yield opened


QUEUE = """async (script) => {
  const { Queue, localStore } = await import("/queue.js");
  localStorage.clear();
  const sent = [], told = [], late = [];
  const outcomes = script.outcomes.slice();
  let atOnce = 0, most = 0, count = 0;
  const options = {
    store: localStore(localStorage),
    fresh: () => `send-${count++}`,
    send: async (entry) => {
      most = Math.max(most, ++atOnce);
      await null;
      atOnce -= 1;
      sent.push([entry.id, entry.body.text]);
      return outcomes.shift() ?? { kind: "kept", answer: {} };
    },
    later: (task) => { late.push(task); return late.length; },
  };
  const settle = async () => { for (let turn = 0; turn < 200; turn++) await null; };
  let queue = new Queue(options);
  const states = () => queue.entries.map((one) => [one.body.text, one.state]);
  const seen = [];
  for (const step of script.steps) {
    if (step.add) queue.add({ path: "/x", body: { text: step.add }, words: step.add, passing: step.passing },
      (became) => told.push([step.add, became.kind]));
    if (step.retry) { const tasks = late.splice(0); for (const task of tasks) task(); }
    if (step.reload) { late.length = 0; queue = new Queue(options); }
    if (step.flush) queue.flush();
    if (step.drop) queue.drop(queue.entries.find((one) => one.body.text === step.drop).id);
    if (step.fix) queue.fix(queue.entries.find((one) => one.body.text === step.fix[0]).id,
      { text: step.fix[1] }, step.fix[1]);
    if (!step.quick) await settle();
    seen.push(states());
  }
  await settle();
  return { sent, told, seen, left: states(), most, stored: Object.keys(localStorage).length };
}"""
NO_ANSWER = {"kind": "unanswered"}
REFUSED = {"kind": "refused", "error": {"what": "no 99", "hint": "look"}}
KEPT = {"kind": "kept", "answer": {}}


def run(page: Page, steps: list[dict], outcomes: list[dict]) -> dict:
    return page.evaluate(QUEUE, {"steps": steps, "outcomes": outcomes})


def test_entries_are_sent_one_at_a_time_in_order_and_gone_once_kept(page: Page) -> None:
    found = run(page, [{"add": text, "quick": True} for text in "abcde"], [])
    assert [text for _, text in found["sent"]] == list("abcde")
    assert found["most"] == 1
    assert found["told"] == [[text, "kept"] for text in "abcde"]
    assert found["left"] == []
    assert found["stored"] == 0


def test_an_entry_without_an_answer_waits_and_is_sent_again_under_its_id_before_any_other(page: Page) -> None:
    found = run(page, [{"add": "a"}, {"add": "b"}, {"retry": True}], [NO_ANSWER, NO_ANSWER])
    assert found["seen"][0] == [["a", "waiting"]]
    assert found["seen"][1] == [["a", "waiting"], ["b", "waiting"]]
    assert [text for _, text in found["sent"]] == ["a", "a", "a", "b"]
    assert len({send for send, text in found["sent"] if text == "a"}) == 1
    assert [one for one in found["told"] if one[1] == "kept"] == [["a", "kept"], ["b", "kept"]]


def test_a_refused_entry_stays_and_those_behind_it_go_on(page: Page) -> None:
    found = run(page, [{"add": "a", "quick": True}, {"add": "b"}, {"reload": True}], [REFUSED])
    assert found["left"] == [["a", "refused"]]
    assert found["stored"] == 1
    assert ["b", "kept"] in found["told"]
    assert [text for _, text in found["sent"]] == ["a", "b"]


def test_a_refused_entry_that_is_put_right_goes_again_as_a_new_one(page: Page) -> None:
    found = run(page, [{"add": "a"}, {"fix": ["a", "b"]}], [REFUSED])
    (first, _), (second, text) = found["sent"]
    assert first != second
    assert text == "b"
    assert found["left"] == []


def test_one_that_passes_is_dropped_where_it_is_refused(page: Page) -> None:
    found = run(page, [{"add": "undo", "passing": True}], [REFUSED])
    assert found["left"] == []
    assert found["told"] == [["undo", "refused"]]


def test_what_is_under_way_cannot_be_dropped_and_what_waits_can(page: Page) -> None:
    found = run(page, [{"add": "a", "quick": True}, {"drop": "a", "quick": True}, {"add": "b"}], [KEPT, NO_ANSWER])
    assert ["a", "kept"] in found["told"]
    found = run(page, [{"add": "a"}, {"drop": "a"}], [NO_ANSWER])
    assert found["left"] == []
    assert found["told"][-1] == ["a", "dropped"]


ELSEWHERE = """async () => {
  const { localStore, Queue } = await import("/queue.js");
  localStorage.clear();
  const store = localStore(localStorage);
  const news = [];
  const heard = { setItem: (key, newValue) => { localStorage.setItem(key, newValue); news.push({ key, newValue }); },
    removeItem: (key) => { localStorage.removeItem(key); news.push({ key, newValue: null }); } };
  const told = [];
  const queue = new Queue({ store, fresh: () => "one", send: async () => ({ kind: "unanswered" }), later: () => 0 });
  queue.add({ path: "/x", body: {}, words: "x" }, (became) => told.push(became.kind));
  for (let turn = 0; turn < 20; turn++) await null;
  const elsewhere = (change) => {
    news.length = 0;
    change(localStore(heard));
    for (const one of [...news, { key: "matrixcheck-voice", newValue: "on" }, { key: null, newValue: null }]) {
      const id = store.droppedIn(one);
      if (id !== null) queue.droppedElsewhere(id);
    }
    return queue.entries.length;
  };
  const left = [elsewhere((one) => one.remove({ id: "one" })), elsewhere((one) => one.drop({ id: "two" })),
    elsewhere((one) => one.drop({ id: "one" }))];
  return { left, last: told.at(-1), stored: Object.keys(localStorage).length };
}"""


def test_what_another_page_dropped_goes_and_what_is_only_gone_there_is_asked_for_again(page: Page) -> None:
    """What another page of the phone removed may be kept by now: the computer says so under the same id."""
    assert page.evaluate(ELSEWHERE) == {"left": [1, 1, 0], "last": "dropped", "stored": 0}


@pytest.mark.parametrize("seed", range(12))
def test_however_answers_come_and_go_every_entry_is_kept_or_refused_and_none_is_lost(page: Page, seed: int) -> None:
    chance = random.Random(seed)
    texts = [f"entry {count}" for count in range(12)]
    steps: list[dict] = []
    for text in texts:
        steps.append({"add": text, "quick": chance.random() < 0.5})
        if chance.random() < 0.4:
            steps.append({"retry": True})
        if chance.random() < 0.2:
            # A page is left with nothing under way: what hangs then is sent again by the next.
            steps += [{"flush": True}, {"reload": True}]
    outcomes = [chance.choice([KEPT, KEPT, NO_ANSWER, REFUSED]) for _ in range(20)]
    answers = [one["kind"] for one in outcomes]
    found = run(page, [*steps, *[{"flush": True}, {"retry": True}] * 14], outcomes)
    assert found["most"] == 1
    became: dict[str, str] = {}
    for place, (_, text) in enumerate(found["sent"]):
        assert became.get(text) not in ("kept", "refused"), f"{text} was sent after it was settled"
        became[text] = answers[place] if place < len(answers) else "kept"
    assert set(became) == set(texts)
    assert [text for text, state in found["left"]] == [text for text in texts if became[text] == "refused"]
    firsts = list(dict.fromkeys(text for _, text in found["sent"]))
    assert firsts == texts


LINE = """async (script) => {
  const { Line } = await import("/live.js");
  let now = 0;
  const sources = [], turned = [];
  const open = () => { const made = new EventTarget(); made.close = () => {}; sources.push(made); return made; };
  const line = new Line({ job: "x", open, now: () => now, turned: (silent) => turned.push([now, silent]) });
  line.connect();
  for (const [at, what] of script) {
    now = at;
    if (what === "look") line.look();
    else sources.at(-1).dispatchEvent(new Event("beat"));
  }
  return { turned, opened: sources.length };
}"""


def looks(until: int, beats: list[int], *, asleep: range = range(0)) -> list[tuple[int, str]]:
    """A look each fifth of a second but while the phone sleeps, and the beats."""
    found = [(at, "look") for at in range(200, until, 200) if at not in asleep]
    return sorted([*found, *((at, "beat") for at in beats)])


def test_silence_is_noticed_within_three_seconds_of_the_last_sign_and_its_end_at_once(page: Page) -> None:
    found = page.evaluate(LINE, looks(12_000, [1000, 2000, 3000, 9100]))
    (silent_at, silent), (back_at, back) = found["turned"][:2]
    assert silent
    assert 3000 < silent_at <= 6000
    assert not back
    assert back_at == 9100
    assert found["opened"] >= 2  # it asks anew while nothing comes


def test_a_line_that_beats_is_never_called_silent(page: Page) -> None:
    assert page.evaluate(LINE, looks(60_000, list(range(500, 60_000, 1000))))["turned"] == []


def test_a_phone_that_slept_gives_the_line_time_before_it_says_anything(page: Page) -> None:
    asleep = range(2000, 50_000)
    found = page.evaluate(LINE, looks(52_000, [1000, 50_900, 51_900], asleep=asleep))
    assert found["turned"] == []


TIMING = """async ({ began, seconds, steps }) => {
  const timing = await import("/walk_timing.js");
  let one = { began, seconds, pausedAt: null };
  return steps.map(([now, what]) => {
    if (what === "step") one = timing.steppedNow(one, now);
    if (what === "pause") one = timing.paused(one, now);
    if (what === "resume") one = timing.resumed(one, now);
    if (what === "on") one = timing.moved(one, 1);
    if (what === "back") one = timing.moved(one, -1);
    return [timing.placeAt(one, now), timing.shareLeft(one, now), timing.isLate(one, now)];
  });
}"""


@pytest.mark.parametrize("seed", range(8))
def test_a_walk_keeps_time_as_it_does_on_the_terminal(page: Page, seed: int) -> None:
    chance = random.Random(seed)
    began, seconds = 100.0, chance.choice([0.7, 1.0, 2.3, 4.0])
    now, steps = began + 3 * seconds, []
    for _ in range(40):
        now += chance.uniform(0.01, 2 * seconds)
        steps.append([now, chance.choice(["", "", "step", "pause", "resume", "on", "back"])])
    found = page.evaluate(TIMING, {"began": began, "seconds": seconds, "steps": steps})
    timing = WalkTiming(began, seconds)
    for (at, what), (place, left, late) in zip(steps, found, strict=True):
        match what:
            case "step":
                timing = timing.stepped_now(at)
            case "pause":
                timing = timing.paused(at)
            case "resume":
                timing = timing.resumed(at)
            case "on" | "back":
                timing = timing.moved(1 if what == "on" else -1)
        assert left == pytest.approx(timing.left(at), rel=0, abs=1e-9) or abs(left - timing.left(at)) > 1 - 1e-9
        if 1e-9 < left < 1 - 1e-9:
            assert place == timing.place(at)
            assert late == timing.is_late(at)


TYPED = """async ({ cells, texts }) => {
  const { judged, meaning, numbered } = await import("/typed.js");
  const byNumber = numbered(cells);
  const plain = (one) => one && { ...one, cell: one.cell?.number };
  return texts.map(([text, verdict]) => plain(verdict ? judged(text, verdict, byNumber) : meaning(text, byNumber)));
}"""


def test_a_typed_number_means_its_cell_and_all_else_is_left_to_the_computer(page: Page) -> None:
    cells = [{"number": str(one.number)} for one in saltmarsh_tram().matrix("switches").fitted] + [{"number": "9L"}]
    expected = {
        ("24", ""): {"kind": "cell", "cell": "24", "sign": ""},
        ("024", ""): {"kind": "cell", "cell": "24", "sign": ""},
        ("9l", ""): {"kind": "cell", "cell": "9L", "sign": ""},
        ("24", "dead"): {"kind": "cell", "cell": "24", "sign": "-"},
        ("24*", "works"): {"kind": "cell", "cell": "24", "sign": "*"},
        ("24*", "dead"): None,
        ("24+31", "works"): {"kind": "entry", "text": "24+31"},
        ("24+31", "dead"): None,
        ("24=4,1", ""): {"kind": "entry", "text": "24=4,1"},
        ("R2C3", ""): {"kind": "entry", "text": "R2C3"},
        ("99", ""): {"kind": "none", "number": "99"},
        ("99", "dead"): {"kind": "none", "number": "99"},
        (" ", "stuck"): {"kind": "empty"},
    }
    found = page.evaluate(TYPED, {"cells": cells, "texts": [list(one) for one in expected]})
    for (typed, says), got in zip(expected.items(), found, strict=True):
        assert got == (says if says is None else {"cell": None} | says), typed


ALIKE = """async ({ cells, texts }) => {
  const { alike } = await import("/alike.js");
  return texts.map((text) => alike(text, cells, 3).map((one) => one.number));
}"""


def test_devices_are_found_by_words_begun_then_held_then_with_a_letter_left_out(page: Page) -> None:
    names = {"1": "left sling", "12": "sling light", "3": "right outlane", "4": "post light", "5": "flight"}
    expected = {
        "": ["1", "12", "3"],
        "sl": ["1", "12"],
        "LIGHT": ["12", "4", "5"],
        "le sli": ["1"],
        "12": ["12"],
        "otlane": ["3"],
        "zz": [],
    }
    cells = [{"number": number, "name": name} for number, name in names.items()]
    assert page.evaluate(ALIKE, {"cells": cells, "texts": list(expected)}) == list(expected.values())


WORDS = """async () => {
  const words = await import("/words.js");
  const cell = { number: "24", name: "right outlane" };
  const status = { silent: false, waiting: 0, refused: 0, trouble: null };
  const full = { what: "too many pages are busy", hint: "close one of them", full: true };
  return {
    works: words.spokenCall(cell, "working"),
    waits: words.spokenCall(cell, "dead", { state: "waits" }),
    next: words.spokenCall(cell, "stuck", { next: "Next: 25, left sling" }),
    fine: words.statusWords(status),
    silent: words.statusWords({ ...status, silent: true, waiting: 3 }),
    one: words.statusWords({ ...status, silent: true, waiting: 1 }),
    refused: words.statusWords({ ...status, refused: 2 }),
    full: words.statusWords({ ...status, silent: true, waiting: 2, trouble: full }),
    fullSheet: words.sheetWords({ ...status, silent: true, trouble: full }),
    line: words.lineWords(true, 3),
    digits: words.tonesFor({ number: "09" }, "").filter((one) => one.hertz).map((one) => one.hertz),
    rising: words.tonesFor(null, "working").map((one) => one.hertz),
    falling: words.tonesFor(null, "dead").map((one) => one.hertz),
  };
}"""


def test_what_is_said_and_sounded(page: Page) -> None:
    said = page.evaluate(WORDS)
    assert said["works"] == "24, right outlane, works"
    assert said["waits"] == "24, right outlane, dead, waits"
    assert said["next"] == "24, right outlane, stuck. Next: 25, left sling"
    assert said["fine"] == "all kept"
    assert said["silent"] == "No answer, 3 wait"
    assert said["one"] == "No answer, 1 waits"
    assert said["refused"] == "2 refused"
    assert said["full"] == "Computer is busy, 2 wait"
    assert said["fullSheet"] == (
        "The computer has no room for this page now: too many pages are busy. To make room, close one of them."
    )
    assert said["line"] == "No answer from the computer. 3 entries wait on this phone."
    assert said["digits"][0] < said["digits"][1]
    assert said["rising"] == sorted(said["rising"])
    assert said["falling"] == sorted(said["falling"], reverse=True)
