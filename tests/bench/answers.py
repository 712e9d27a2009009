"""`python tests/bench/answers.py [RATES]`: diagnose cases from standard input by whichever matrixcheck is on the path.

One case a line as JSON, with the texts of its layout and readings, and its findings; one answer a line. So that it can
ask the program of another commit, it imports nothing of these tests, and of the program only what has long been there.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from matrixcheck.diagnosis.diagnose import diagnose
from matrixcheck.diagnosis.machine.rates_file import read_rates
from matrixcheck.diagnosis.result import to_json
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.reading import Finding
from matrixcheck.record.readings import read_readings

if __name__ == "__main__":
    rates = read_rates(Path(sys.argv[1])) if sys.argv[1:] else None
    for line in sys.stdin:
        case = json.loads(line)
        layout = parse_layout(case["layout"], case["name"])
        readings = read_readings(case["readings"], layout, case["name"])
        findings = [Finding(**each) for each in case["findings"]]
        print(json.dumps(to_json(diagnose(layout, readings, findings, rates=rates))), flush=True)
