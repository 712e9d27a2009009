"""Programs as people start them: with their modules compiled already, as pip leaves what it installs."""

from __future__ import annotations

import os
from pathlib import Path


def environment(bytecode: Path) -> dict[str, str]:
    """What a program is to find around it so that it takes its compiled modules from the folder `bytecode`. Those that
    it lacks there it compiles and leaves there, so start a program once before you time it."""
    around = os.environ | {"PYTHONPYCACHEPREFIX": str(bytecode)}
    around.pop("PYTHONDONTWRITEBYTECODE", None)
    return around
