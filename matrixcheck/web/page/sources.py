"""What some views need beside the bench: the answers, the layouts that may be chosen, and the rule for earth bonds."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from matrixcheck.record.earth_limit import EarthLimit
from matrixcheck.web.page.answers import Answers


class Sources(NamedTuple):
    """What some views need beside the bench.

    `layouts` is a folder whose layouts a new job may take beside those that come with the program; `mains_region` is
    what an earth bond is held to here.
    """

    answers: Answers
    layouts: Path | None = None
    mains_region: EarthLimit = EarthLimit.PLUS_LEAD
