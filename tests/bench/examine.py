"""Runs `diagnose` over a folder of cases and tells every miss and false alarm: `python -m tests.bench examine DIR`.

Beside each explanation of a missed case stands what the circuit simulator says: in how many readings the machine would
differ if that explanation were true. 0 means that no reading tells it from the injected faults.
"""

from __future__ import annotations

import argparse
import json
import statistics
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.files import read_layout
from matrixcheck.layout.reading import Finding
from matrixcheck.record.readings import read_readings
from tests.bench.cases import redraw
from tests.bench.score import Score, differing, score


def diagnosed(toml: Path, findings: Sequence[Mapping[str, Any]] = ()) -> tuple[dict[str, Any], float]:
    """The diagnosis of `NAME.toml` and `NAME.jsonl` in its JSON form, and the seconds it took."""
    layout = read_layout(toml)
    readings = read_readings(toml.with_suffix(".jsonl").read_text("utf-8"), layout, toml.stem)
    started = time.perf_counter()
    result = diagnose(layout, readings, [Finding(**each) for each in findings])
    return to_json(result), time.perf_counter() - started


def main(argv: list[str]) -> int:
    """Prints one line a miss, then the counts by class."""
    parser = argparse.ArgumentParser("python -m tests.bench examine")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--extra", action="store_true", help="list right answers with needless extras too")
    options = parser.parse_args(argv)
    listed = json.loads((options.folder / "injected.json").read_text("utf-8"))
    results: list[tuple[dict[str, Any], Score, float]] = []
    even = 0
    for entry in listed:
        answer, seconds = diagnosed(options.folder / f"{entry['case']}.toml", entry.get("findings", ()))
        result = score(entry["injected"], entry.get("chains", True), answer, entry.get("misjudged", ()))
        results.append((entry, result, seconds))
        if not result.top:
            even += _told(entry, answer, result, seconds)
        elif options.extra and result.extra:
            _told(entry, answer, result, seconds)
    _totals(results)
    missed = sum(not result.top for _, result, _ in results)
    print(f"of {missed} missed, {even} where a set no larger than that put in gives the very same readings")
    return 0


def _told(entry: dict[str, Any], answer: dict[str, Any], result: Score, seconds: float) -> bool:
    """Prints one case; whether its best explanation is as good: no reading speaks against it, and it is no larger."""
    shown = sum(fault["visible"] for fault in entry["injected"])
    what = "extra" if result.top else "MISS" if shown else "ALARM"
    print(f"{what} {entry['case']} {'top 3' if result.three else ''} {seconds:.2f} s")
    put_in = "; ".join(map(brief, entry["injected"]))
    print(f"   in:   {put_in}{'' if entry.get('chains', True) else ' (no chains)'}")
    named = {suspect["id"]: suspect for suspect in answer["suspects"]}
    case = redraw(entry) if "drawn" in entry else None
    even = False
    for i, each in enumerate(answer["explanations"][:3]):
        suspects = [named[name] for name in each["suspects"]]
        differ = differing(case, suspects) if case else "-"
        out = " + ".join(brief(suspect["members"][0]) + _more(suspect) for suspect in suspects)
        print(f"   {each['probability']:.3f} (differs in {differ}) {out or 'nothing shared'}")
        even |= i == 0 and differ == 0 and len(suspects) <= shown
    return even


def _totals(results: list[tuple[dict[str, Any], Score, float]]) -> None:
    seconds = sorted(each[2] for each in results)
    groups: dict[str, list[Score]] = {}
    missed: Counter[str] = Counter()
    shown: Counter[str] = Counter()
    for entry, result, _ in results:
        seen = [fault for fault in entry["injected"] if fault["visible"]]
        groups.setdefault(f"{entry['case'].partition('-')[0]}, {len(seen)} visible", []).append(result)
        groups.setdefault("chains known" if entry.get("chains", True) else "chains hidden", []).append(result)
        groups.setdefault("all", []).append(result)
        shown.update(fault["fault"] for fault in seen)
        missed.update(fault["fault"] for fault in result.missed)
    print(f"\n{'':24} cases   top  three  with extras")
    for name, group in sorted(groups.items(), key=lambda item: (item[0] == "all", item[0])):
        top, three = (100 * sum(flags) / len(group) for flags in ([s.top for s in group], [s.three for s in group]))
        print(f"{name:24} {len(group):5} {top:5.1f} {three:5.1f}  {sum(s.alarm for s in group)}")
    print("missed: " + ", ".join(f"{name} {count}/{shown[name]}" for name, count in missed.most_common()))
    p95 = seconds[min(len(seconds) - 1, int(0.95 * len(seconds)))]
    print(f"seconds: median {statistics.median(seconds):.3f}, p95 {p95:.3f}, worst {seconds[-1]:.3f}")


def brief(fault: Mapping[str, Any]) -> str:
    """Name a fault in a few words: its class, its part and where it sits."""
    where = [fault.get("part"), *fault.get("lines", ())[:3]]
    if not any(where) or fault["fault"].startswith(("device", "diode")):
        where += fault.get("cells", ())[:3]
    text = fault["fault"] + " " + " ".join(str(item).removeprefix("m.") for item in where if item)
    if fault.get("after") is not None:
        text += f" after {fault['after']}"
    if fault.get("when"):
        text += f" {fault['when']}"
    return text + ("" if fault.get("visible", True) else " (invisible)")


def _more(suspect: dict[str, Any]) -> str:
    return f" (+{len(suspect['members']) - 1})" if len(suspect["members"]) > 1 else ""
