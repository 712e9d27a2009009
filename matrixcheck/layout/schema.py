"""The JSON schema of a layout file, for editors that check TOML as it is typed.

It is made from the form: `python -m matrixcheck.layout.schema > layouts/layout.schema.json` writes it anew.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from matrixcheck.layout.form import Layout, Number, Ref, Wire
from matrixcheck.layout.model import Position
from matrixcheck.layout.shorthand import SIDES
from matrixcheck.whole_files import write_whole

NAME = "layout.schema.json"
"""The file's name, in the folder of the shipped layouts and beside layouts that the program writes."""

Run = Annotated[
    str,
    Field(description="one step of all paths: 'Q1...8', 'X1-1...4, X2-1'; 'K2' alone is for all lines, '-' is nothing"),
]


class Lines(BaseModel):
    """All rows or all columns in one table: a list has one entry a line, a text is for all of them."""

    model_config = ConfigDict(extra="forbid")

    label: str | list[str] = Field("", description="a list, or a run such as '0...7'")
    name: str | list[str] = ""
    wire: Wire | list[Wire | Annotated[str, Field(pattern="^-?$")]] = Field("", description="'' or '-' where unknown")
    path: list[Run] = Field([], description="one text a step, from the logic outwards")
    chain: list[list[Number]] = Field([], description="one list a line, [] where unknown")
    supply: list[Run] = Field([], description="one text for each part that lines need")
    select: Ref | list[Ref] = Field("", description="the changeover relay that selects these columns")
    when: Position | list[Position] = Field("rest", description="the position of that relay in which each is selected")


def layout_schema() -> str:
    """Return the schema as JSON text, the same for the same models."""
    model: dict[str, Any] = Layout.model_json_schema(by_alias=True)
    lines: dict[str, Any] = Lines.model_json_schema()
    shared = lines.pop("$defs", {})
    model["$defs"] |= shared | {"Lines": lines}
    sides = model["$defs"]["Matrix"]["properties"]
    for side in SIDES:
        one_by_one = {key: value for key, value in sides[side].items() if key not in ("default", "title")}
        sides[side] = {"title": sides[side]["title"], "anyOf": [one_by_one, {"$ref": "#/$defs/Lines"}]}
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema"} | model
    return json.dumps(schema | {"title": "matrixcheck layout, format 1"}, indent=2, ensure_ascii=False) + "\n"


def lay_beside(layout: Path) -> None:
    """Write the schema beside a layout's file, where there is none yet. Raises UsageError where that can't be."""
    path = layout.with_name(NAME)
    if not path.exists():
        write_whole(path, layout_schema())


if __name__ == "__main__":
    sys.stdout.buffer.write(layout_schema().encode())
