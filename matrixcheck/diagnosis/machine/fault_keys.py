"""Name candidates by short keys, as bench checks keep them of what they clear or condemn.

A key is the class and its place: `open:Q3`, `break:switches.c3:2`, `device-dead:switches.r1c3`. Every break of a line
whose chain nobody knows has the one key of its line, `break:lamps.r3`: a sweep along the wire shows all of them.
"""

from __future__ import annotations

from matrixcheck.diagnosis.machine.candidates import Candidate
from matrixcheck.diagnosis.result import FaultClass
from matrixcheck.layout.model import Layout


def fault_key(layout: Layout, candidate: Candidate) -> str:
    """Return the key of a candidate."""
    name, lines = candidate.fault_class.value, candidate.lines
    if candidate.fault_class is FaultClass.BREAK:
        known = layout.line(lines[0]).chain is not None
        return f"{name}:{lines[0]}:{candidate.after}" if known else f"{name}:{lines[0]}"
    if candidate.fault_class is FaultClass.KEEP_WARM_GLOW:
        return f"{name}:{candidate.cells[0].matrix}"
    if candidate.part is not None and candidate.fault_class is not FaultClass.STUCK_ON:
        more = candidate.other or candidate.after or candidate.when
        return f"{name}:{candidate.part}:{more}" if more else f"{name}:{candidate.part}"
    if lines:
        return f"{name}:{lines[0]}:{candidate.other}" if candidate.other else f"{name}:{lines[0]}"
    return f"{name}:{candidate.cells[0]}"
