"""Finding names by a few of their letters."""

from __future__ import annotations

from collections.abc import Sequence

from rapidfuzz import fuzz, process, utils

ALIKE = 62


def alike(text: str, names: Sequence[str], most: int) -> tuple[int, ...]:
    """Return the places of the names that are most like the text, best first; none where nothing is like it.

    Names in which words begin as typed come before others that merely resemble it.
    """
    words = utils.default_process(text).split()
    if not words:
        return ()
    plain = [utils.default_process(name) for name in names]
    begun = [all(any(part.startswith(word) for part in name.split()) for word in words) for name in plain]
    scored = process.extract(" ".join(words), plain, scorer=fuzz.WRatio, processor=None, limit=None)
    scores = {place: score for _, score, place in scored}
    ranked = sorted(range(len(names)), key=lambda place: (not begun[place], -scores[place], place))
    return tuple(place for place in ranked if begun[place] or scores[place] >= ALIKE)[:most]
