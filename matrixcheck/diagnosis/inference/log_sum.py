"""The sum of weights that are kept as logarithms."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

import numpy as np

from matrixcheck.diagnosis.machine.matrix_frame import Floats


def log_sum(logs: Sequence[float] | Floats) -> float:
    """Return log(sum(exp(logs))) of one row of logs, in nats; minus infinity for none."""
    if not len(logs):
        return -inf
    array = np.asarray(logs)
    most = float(array.max())
    return most if most == -inf else most + float(np.log(np.exp(array - most).sum()))
