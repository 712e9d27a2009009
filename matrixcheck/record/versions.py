"""The layouts that a job has had, and its events in the terms of the one that it has now.

An event speaks of places as the layout has them that the job had when it was recorded. A place keeps who it is through
every change: the layout in which it first stood, and its name there. So what an undo gives back, what a later layout
drops and what one has again all find their events, whatever was undone and redone between.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from matrixcheck.layout.matching import matched, places_in
from matrixcheck.layout.model import Cell, Layout
from matrixcheck.layout.places import parse_cell
from matrixcheck.layout.source import LayoutSource
from matrixcheck.record.events import Event, JobOpened, Recorded, Relaid, Restored, Withdrawn
from matrixcheck.record.terms import Terms, in_terms

Who = tuple[int, str]
"""Who a place is: the layout in which it first stood, counted from 0, and what it was called there."""


class Version(NamedTuple):
    """A layout that a job has or had, from the event `seq` on, and who each of its places is."""

    seq: int
    layout: Layout
    source: LayoutSource
    who: Mapping[str, Who]


class Told(NamedTuple):
    """An event in the terms of the present layout.

    Where it has no place there (`fits` false), it stands in the terms of the last layout that had it.
    """

    recorded: Recorded
    layout: Layout
    fits: bool


class Layouts:
    """The layouts of a job while its events go by: all of them, and which one it has `now`."""

    def __init__(self, opening: Recorded) -> None:
        """Begin with the opening. Raises ValueError for any other event."""
        if not isinstance(opening.event, JobOpened):
            raise ValueError("the events of a job begin with its opening")
        layout = opening.event.layout
        first = {place: (0, place) for place in places_in(layout)}
        self.now = Version(opening.seq, layout, opening.event.source, first)
        self.all = [self.now]
        self._batches: dict[int, list[int]] = {}
        self._gone: dict[int, frozenset[int]] = {}

    @property
    def counting(self) -> tuple[Version, ...]:
        """Return the layouts that were not undone, oldest first."""
        struck = self._struck
        return tuple(version for version in self.all if version.seq not in struck)

    @property
    def _struck(self) -> frozenset[int]:
        return frozenset[int]().union(*self._gone.values())

    def take(self, one: Recorded) -> None:
        """Go on to the next event."""
        self._batches.setdefault(one.batch, []).append(one.seq)
        match one.event:
            case Relaid() as event:
                self.all.append(_after(self.now, len(self.all), one.seq, event))
            case Withdrawn(batch=batch, only=only):
                self._gone[one.seq] = frozenset(only or self._batches.get(batch, ()))
            case Restored(withdrawal=seq):
                self._gone.pop(seq, None)
            case _:
                return
        self.now = self.counting[-1]


def own_versions(events: Sequence[Recorded]) -> Iterator[tuple[Recorded, Version]]:
    """Yield each event of a job with the layout that the job had as it was recorded."""
    layouts = Layouts(events[0])
    for one in events:
        yield one, layouts.now
        layouts.take(one)


def layouts_of(events: Sequence[Recorded]) -> Layouts:
    """Return the layouts of a job after all its events."""
    layouts = Layouts(events[0])
    for one in events:
        layouts.take(one)
    return layouts


def told_now(events: Sequence[Recorded]) -> tuple[Version, tuple[Told, ...]]:
    """Return the layout that a job has after all its events, and these in the terms of that.

    What has no place in it is told in the terms of the last one that had it.
    """
    layouts = layouts_of(events)
    ways: dict[tuple[int, int], Terms] = {}
    told = []
    for one, own in own_versions(events):
        for version in (layouts.now, *reversed(layouts.counting), own):
            if version.seq == own.seq:
                event: Event | None = one.event
            else:
                if (own.seq, version.seq) not in ways:
                    ways[own.seq, version.seq] = _way(own, version)
                event = in_terms(one.event, ways[own.seq, version.seq])
            if event is not None:
                now = one if event is one.event else one._replace(event=event)
                told.append(Told(now, version.layout, version.seq == layouts.now.seq))
                break
    return layouts.now, tuple(told)


def _way(old: Version, new: Version) -> Terms:
    places = {who: place for place, who in new.who.items()}
    known = {place: places[who] for place, who in old.who.items() if who in places}
    return Terms(old.layout, new.layout, known)


def relaid(events: Sequence[Recorded], layout: Layout, source: LayoutSource, said: str = "") -> Relaid:
    """Return the event with which a job goes on with another layout: its places matched with those of now."""
    layouts = layouts_of(events)
    same = matched(layouts.now.layout, layout)
    back = _returning(layouts, layout, same)
    return Relaid(
        layout=layout,
        moved=tuple((place, now) for place, now in same.items() if place != now),
        gone=tuple(place for place in places_in(layouts.now.layout) if place not in same),
        back=tuple((*who, place) for place, who in back.items()),
        source=source,
        said=said,
    )


def guard_places(event: Relaid, layouts: Layouts) -> None:
    """Raise ValueError unless a relayout speaks of places that its layouts have, and of each once."""
    before, places = layouts.now.layout, frozenset(places_in(event.layout))
    there = frozenset(places_in(before))
    known = {who for version in layouts.all for who in version.who.values()}
    moved = dict(event.moved)
    stay = [place for place in there if place not in moved and place not in event.gone]
    targets = [*stay, *moved.values(), *(now for _, _, now in event.back)]
    if (
        len(moved) < len(event.moved)
        or not there.issuperset((*moved, *event.gone))
        or not known.issuperset((number, place) for number, place, _ in event.back)
        or not places.issuperset(targets)
        or len(set(targets)) < len(targets)
    ):
        raise ValueError("its places are not those of its layouts")


def _after(before: Version, count: int, seq: int, event: Relaid) -> Version:
    """Return the version that a relayout begins. What it says of places that there aren't says nothing."""
    places = places_in(event.layout)
    moved, gone, here = dict(event.moved), frozenset(event.gone), frozenset(places)
    who: dict[str, Who] = {}
    for place, one in before.who.items():
        now = moved.get(place, place)
        if place not in gone and now in here:
            who.setdefault(now, one)
    taken = set(who.values())
    for number, place, now in event.back:
        if now in here and now not in who and (number, place) not in taken:
            who[now] = (number, place)
            taken.add((number, place))
    return Version(seq, event.layout, event.source, {place: who.get(place, (count, place)) for place in places})


def _returning(layouts: Layouts, layout: Layout, same: dict[str, str]) -> dict[str, Who]:
    """Return the places of a new layout that an earlier one had and the last hadn't; `same` is put right for them.

    A cell that was taken out and is fitted again, with its number or its name, is that cell, wherever it is now.
    """
    before = layouts.now
    came_from = {now: place for place, now in same.items()}
    at = {who: place for place, who in before.who.items()}
    back: dict[str, Who] = {}
    lost = _lost(layouts, at)
    for trait_of in (_of_matrix, _numbered, _named, _placed):
        known: dict[tuple[Any, ...], Who] = {}
        for who, (version, place) in lost.items():
            trait = trait_of(version.layout, place, version.who[_matrix_in(place)])
            if trait is not None:
                known.setdefault(trait, who)
        for place in places_in(layout):
            source, matrix = came_from.get(place), _matrix_in(place)
            owner = back.get(matrix) or (before.who[came_from[matrix]] if matrix in came_from else None)
            trait = trait_of(layout, place, owner)
            if trait not in known or place in back or not (source is None or _is_gap(before.layout, source)):
                continue
            who = known.pop(trait)
            del lost[who]
            if who in at:
                _exchange(at[who], place, same, came_from)
            else:
                back[place] = who
                same.pop(came_from.pop(place, ""), None)
    return back


def _exchange(place: str, now: str, same: dict[str, str], came_from: dict[str, str]) -> None:
    """Let a place be `now`, and what was that be what the place would have been."""
    other, instead = came_from.pop(now, None), same.pop(place, None)
    if other == place:
        instead = None
    elif other is not None:
        del same[other]
    if instead is not None:
        came_from.pop(instead)
        if other is not None:
            same[other], came_from[instead] = instead, other
    same[place], came_from[now] = now, place


def _lost(layouts: Layouts, at: Mapping[Who, str]) -> dict[Who, tuple[Version, str]]:
    """Return where each place that is no more last stood; of a cell that nothing is fitted at, where it was fitted."""
    found: dict[Who, tuple[Version, str]] = {}
    for version in reversed(layouts.all):
        for place, who in version.who.items():
            fitted = _fitted(version.layout, place)
            is_out = who not in at or (fitted and _is_gap(layouts.now.layout, at[who]))
            if is_out and (who not in found or (fitted and _is_gap(found[who][0].layout, found[who][1]))):
                found[who] = (version, place)
    return found


def _matrix_in(place: str) -> str:
    return place.partition(".")[0]


def _fitted(layout: Layout, place: str) -> Cell | None:
    key = parse_cell(place, "")
    return None if key is None else layout.matrix(key.matrix).by_key.get(key)


def _is_gap(layout: Layout, place: str) -> bool:
    """Return whether a place is a crossing at which nothing is fitted."""
    return parse_cell(place, "") is not None and _fitted(layout, place) is None


def _of_matrix(layout: Layout, place: str, _owner: Who | None) -> tuple[Any, ...] | None:
    return (place, layout.matrix(place).kind) if place in layout.matrix_ids else None


def _numbered(layout: Layout, place: str, owner: Who | None) -> tuple[Any, ...] | None:
    cell = _fitted(layout, place)
    return None if cell is None else (owner, cell.number)


def _named(layout: Layout, place: str, owner: Who | None) -> tuple[Any, ...] | None:
    cell = _fitted(layout, place)
    return None if cell is None else (owner, " ".join(cell.name.casefold().split()))


def _placed(layout: Layout, place: str, owner: Who | None) -> tuple[Any, ...] | None:
    return None if place in layout.matrix_ids else (owner, place.partition(".")[2])
