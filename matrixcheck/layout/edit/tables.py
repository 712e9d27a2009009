"""Values put into the tables of a TOML document and taken out, with every comment left where it is.

The document's items are changed by their bodies alone: it must be written out and read again before it is asked for
the same thing once more.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import tomlkit
from tomlkit.container import Container
from tomlkit.items import AoT, Array, Comment, InlineTable, Item, Key, SingleKey, Table, Trivia, Whitespace

from matrixcheck.layout.charts.writing import value_text
from matrixcheck.layout.locate import comments

Body = list[tuple[Key | None, Item]]
Tables = Container | Table | InlineTable


def put(table: Tables, field: str, value: Any) -> None:
    """Give a field of a table its value; None takes the field away. A new one stands below the others."""
    if value is None:
        take(table, field)
    elif field not in table:
        _add(table, field, value)
    elif isinstance(old := table[field], Array) and isinstance(value, list):
        table[field] = _filled(old, value)
    elif old != value or isinstance(old, bool) != isinstance(value, bool):
        table[field] = _item(value)


def take(table: Tables, field: str) -> None:
    """Take a field out of a table; its comments stay."""
    if field not in table:
        return
    if isinstance(table, InlineTable):
        table.remove(field)
        return
    body = body_of(table)
    at = _place_of(field, body)
    item = body[at][1]
    indent = item.trivia.indent.rsplit("\n", 1)[-1]
    left = comments(f"{field} = {item.as_string()} {item.trivia.comment}")
    body[at : at + 1] = [(None, Comment(Trivia(indent, "", text, "\n"))) for text in left]


def new_table(header: str, values: dict[str, Any], indent: str) -> tuple[Key, Table | AoT]:
    """Return a table under `[name]`, or a list of one under `[[name]]`, with what it is called."""
    lines = [f"{indent}{header}", *(f"{indent}{key} = {value_text(value)}" for key, value in values.items())]
    key, table = tomlkit.parse("\n".join(lines) + "\n").body[0]
    assert key is not None
    assert isinstance(table, Table | AoT)
    table.invalidate_display_name()
    return key, table


def insert(body: Body, key: Key, table: Table | AoT) -> None:
    """Put a table below the plain values of another one, before the tables in it."""
    at = _after_values(body)
    _end_line(body, at)
    body[at:at] = [(None, Whitespace("\n")), (key, table)]


def append(body: Body, key: Key, table: Table | AoT) -> None:
    """Put a table at the end of another one. What stands there before the next header still does."""
    tail = _tail(body)
    body.append((key, table))
    _last_of(body).extend(tail)


def append_to(tables: AoT, values: dict[str, Any], indent: str) -> None:
    """Put a further table at the end of a list of tables. What stands there before the next header still does."""
    _, fresh = new_table("[[x]]", values, indent)
    assert isinstance(fresh, AoT)
    table = fresh.body[0]
    body_of(table).extend(_tail(body_of(tables.body[-1])))
    tables.body.append(table)


def rename(table: Tables, names: dict[str, str]) -> None:
    """Give fields, or tables, of a table other names, all at once."""
    body = body_of(table)
    for at, (key, item) in enumerate(body):
        if key is not None and key.key in names:
            if isinstance(item, Table):
                item.invalidate_display_name()
            body[at] = (SingleKey(names[key.key]), item)


def body_of(table: Tables) -> Body:
    """Return the items of a table as they stand in the text, to be changed in place."""
    return table.body if isinstance(table, Container) else table.value.body


def indent_of(table: Tables) -> str:
    """Return what stands before the fields of a table."""
    found = [item.trivia.indent for key, item in body_of(table) if key is not None and not _is_table(item)]
    if not found:
        return table.trivia.indent.rsplit("\n", 1)[-1] if isinstance(table, Table) else ""
    return found[-1].rsplit("\n", 1)[-1]


def _add(table: Tables, field: str, value: Any) -> None:
    item = _item(value)
    if isinstance(table, InlineTable):
        table.append(field, item)
        return
    body = body_of(table)
    at = _after_values(body)
    item.trivia.indent = indent_of(table)
    item.trivia.trail = "\n"
    _end_line(body, at)
    body.insert(at, (SingleKey(field), item))


def _filled(old: Array, values: Sequence[Any]) -> Item:
    """Return a list with other values: the old one where it has as many, else one with the comments of the old one."""
    if len(old) == len(values):
        for place, value in enumerate(values):
            if isinstance(inner := old[place], Array) and isinstance(value, list):
                old[place] = _filled(inner, value)
            elif inner != value:
                old[place] = _item(value)
        return old
    left = comments(f"x = {old.as_string()}")
    if not left:
        return _item(list(values))
    body = "".join(f"  {value_text(value)},\n" for value in values)
    return tomlkit.value(f"[\n{body}{''.join(f'  {text}' + chr(10) for text in left)}]")


def _item(value: Any) -> Item:
    return value if isinstance(value, Item) else tomlkit.value(value_text(value))


def _place_of(field: str, body: Body) -> int:
    return next(at for at, (key, _) in enumerate(body) if key is not None and key.key == field)


def _after_values(body: Body) -> int:
    """Return the place behind the last plain value of a table."""
    plain = [at for at, (key, item) in enumerate(body) if key is not None and not _is_table(item)]
    return plain[-1] + 1 if plain else 0


def _is_table(item: Item) -> bool:
    return isinstance(item, Table | AoT)


def _tail(body: Body) -> Body:
    """Take out the blank lines and comments with which a table's text ends, for one that is put behind it."""
    last = _last_of(body)
    at = len(last)
    while at and last[at - 1][0] is None:
        at -= 1
    tail = last[at:]
    del last[at:]
    _end_line(last, at)
    last.append((None, Whitespace("\n")))
    return tail


def _last_of(body: Body) -> Body:
    """Return the body that ends a body's text: that of its last table, however deep."""
    while (inner := _last_body(body)) is not None:
        body = inner
    return body


def _last_body(body: Body) -> Body | None:
    """Return the body of the table with which a body ends; None where it ends otherwise."""
    if not body or not _is_table(body[-1][1]):
        return None
    item = body[-1][1]
    if isinstance(item, AoT):
        return body_of(item.body[-1]) if item.body else None
    assert isinstance(item, Table)
    return body_of(item)


def _end_line(body: Body, at: int) -> None:
    """End the line of what stands before a place, as the last line of a file may lack its end."""
    if at and body[at - 1][0] is not None and "\n" not in body[at - 1][1].trivia.trail:
        body[at - 1][1].trivia.trail += "\n"
