"""The use cases: what every face calls. A `Bench` is one bench book; each method reads or records one thing.

Whatever a method records is on the disk when it returns. All errors are children of MatrixCheckError.
"""

from matrixcheck.bench.checking import Checking
from matrixcheck.bench.correcting import Corrected, Correcting
from matrixcheck.bench.handing_over import HandingOver
from matrixcheck.bench.jobs import Changed
from matrixcheck.bench.learning import Learning
from matrixcheck.bench.looking import Looking
from matrixcheck.bench.photographing import Photographing
from matrixcheck.bench.recording import Recording
from matrixcheck.bench.relaying import Relaying, Relayout
from matrixcheck.record.answers import JobSummary, Kept, LastEntry, Undone
from matrixcheck.record.summary import Coverage, LaterItem, LogLine

__all__ = [
    "Bench",
    "Changed",
    "Corrected",
    "Coverage",
    "JobSummary",
    "Kept",
    "LastEntry",
    "LaterItem",
    "LogLine",
    "Relayout",
    "Undone",
]


class Bench(Learning, HandingOver, Looking, Recording, Photographing, Relaying, Correcting, Checking):
    """All use cases on one bench book."""
