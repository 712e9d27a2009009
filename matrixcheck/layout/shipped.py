"""The layouts that come with the program."""

from __future__ import annotations

from pathlib import Path


def shipped() -> dict[str, Path]:
    """Return the layouts that come with the program, by name.

    They lie within the installed package, or beside it in a checkout.
    """
    from importlib.resources import files  # noqa: PLC0415 - a paint can't wait

    package = Path(str(files("matrixcheck")))
    homes = (package / "layouts", package.parent / "layouts")
    home = next((home for home in homes if (home / "layout.schema.json").is_file()), package)
    return {path.stem: path for path in sorted(home.glob("*.toml"))}


def is_shipped(path: Path) -> bool:
    """Return whether a file is one of those that come with the program."""
    return any(path.resolve() == ours.resolve() for ours in shipped().values())
