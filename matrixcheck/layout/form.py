"""The form of a layout file: its keys and what they may hold. It refuses what is wrong, and gives the layout.

What comes out right is handed on as a `matrixcheck.layout.model.Layout`; here nothing else is done with it.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainValidator,
    StrictBool,
    WithJsonSchema,
    model_validator,
)

from matrixcheck.layout import model, numbering
from matrixcheck.layout.designators import CLASS_LETTERS, part_class
from matrixcheck.layout.frozen import from_json
from matrixcheck.layout.limits import (
    DUE_OHMS,
    FAILURE_RATE,
    LARGEST_NUMBER,
    LARGEST_SIDE,
    LONGEST_NUMBER,
    MEASURED,
    TOLERANCE,
    VOLTS,
)
from matrixcheck.layout.model import Device, Kind, Position, Section, Unit
from matrixcheck.layout.numbering import RESERVED_PATTERN, TEXT_PATTERN, Numbering
from matrixcheck.layout.places import Side
from matrixcheck.layout.problems import is_seen, shown
from matrixcheck.layout.wires import COLOURS, colour_words

Ohms = Annotated[float, Field(ge=DUE_OHMS.least, le=DUE_OHMS.most, strict=True, allow_inf_nan=False)]
Volts = Annotated[float, Field(ge=VOLTS.least, le=VOLTS.most, strict=True, allow_inf_nan=False)]
Tolerance = Annotated[float, Field(ge=TOLERANCE.least, le=TOLERANCE.most, strict=True)]
Rate = Annotated[float, Field(ge=FAILURE_RATE.least, le=FAILURE_RATE.most, strict=True)]

Measured = Annotated[float, Field(ge=MEASURED.least, le=MEASURED.most, strict=True, allow_inf_nan=False)]


def _one_line(text: str) -> str:
    if not text.isprintable():
        raise ValueError("holds a line break or another invisible character: use plain letters, marks and blanks")
    return text


def _seen(text: str) -> str:
    if text and not any(map(is_seen, text)):
        raise ValueError("is a name of blanks: give a name")
    return text


def _plain_one(value: Any) -> Any:
    if isinstance(value, bool | float):  # which Python takes for 1
        raise ValueError(f"must be 1, the only format there is, not {shown(value)}")
    return value


def _counted(value: Any) -> Any:
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _ref(text: str) -> str:
    part_class(text)
    return text


def _number(value: Any) -> numbering.Number:
    if isinstance(value, str):
        return numbering.read_number(value)
    if isinstance(value, int) and not isinstance(value, bool):
        return value
    raise ValueError(f"needs a whole number, or a text in quotes such as '9L', not {shown(value)}")


def _number_or_gap(value: Any) -> numbering.Number:
    return value if value == "" else _number(value)


def _number_key(text: str) -> str:
    return str(numbering.read_number(text))


def _wire(text: str) -> str:
    colour_words(text)
    return text


_REF = "^({})[0-9]{{1,4}}(-[A-Z0-9]{{1,4}})?$".format("|".join(CLASS_LETTERS))
_WIRE = "^({0})(/({0}))?$".format("|".join(COLOURS))
Ref = Annotated[str, AfterValidator(_ref), WithJsonSchema({"type": "string", "pattern": _REF})]
Wire = Annotated[str, AfterValidator(_wire), WithJsonSchema({"type": "string", "pattern": _WIRE})]
Text = Annotated[str, AfterValidator(_one_line)]
Name = Annotated[Text, AfterValidator(_seen)]
_TEXT = f"(?!({RESERVED_PATTERN})$)(?=.{{1,{LONGEST_NUMBER}}}$){TEXT_PATTERN}$"
Number = Annotated[
    numbering.Number,
    PlainValidator(_number),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "integer", "minimum": 1, "maximum": LARGEST_NUMBER},
                {"type": "string", "pattern": f"^{_TEXT}"},
            ]
        }
    ),
]
NumberOrGap = Annotated[
    numbering.Number,
    PlainValidator(_number_or_gap),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "integer", "minimum": 0, "maximum": LARGEST_NUMBER},
                {"type": "string", "pattern": f"^$|^{_TEXT}"},
            ]
        }
    ),
]
NumberKey = Annotated[str, AfterValidator(_number_key), WithJsonSchema({"type": "string", "pattern": f"^{_TEXT}"})]
_SIDE = Field(json_schema_extra={"maxItems": LARGEST_SIDE})
NameRow = Annotated[tuple[Text, ...], _SIDE]
NumberRow = Annotated[tuple[NumberOrGap, ...], _SIDE]
Label = Annotated[Text, BeforeValidator(_counted, json_schema_input_type=str | int)]


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Part(_Frozen):
    """Something that can fail and be replaced. Every key but `ref` is optional."""

    ref: Ref
    name: Text = ""
    place: Text = ""
    rating: Text = Field("", description="of a fuse, as printed on it")
    rate: Rate | None = Field(None, description="chance that it is found faulty, from your own records")


class Check(_Frozen):
    """A line of the machine's own on a list of checks: before power, or one of the rest of the test mode."""

    section: Section
    text: Name = Field(min_length=1, description="what is checked, as 'earth bond: lock bar' or 'knocker'")
    place: Text = ""
    unit: Unit | None = Field(None, description="of what is measured, before power")
    least: Measured | None = Field(None, description="a check that is measured passes from here")
    most: Measured | None = Field(None, description="a check that is measured passes up to here")


class KeepWarm(_Frozen):
    """A resistor that passes a standing current through a flash lamp: `ohms`, and the supply in `volts`."""

    ohms: Ohms
    volts: Volts


class Line(_Frozen):
    """One row or column as the layout gives it. `chain` holds cell numbers, plug outwards; None when unknown."""

    label: Label = ""
    name: Text = ""
    wire: Wire | None = None
    path: tuple[Ref, ...] = Field((), description="parts from the logic outwards")
    chain: tuple[Number, ...] | None = Field(None, description="cell numbers from the plug outwards")
    supply: tuple[Ref, ...] = Field((), description="parts that all of this line needs")
    select: Ref | None = Field(None, description="the changeover relay that selects this column")
    when: Position | None = Field(None, description="the position of that relay in which this column is selected")


class CellNotes(_Frozen):
    """What the layout says of one cell beyond its name; every key is optional."""

    zone: Text = ""
    reach: Text = Field("", description="how to get at it: hand, ball, door open, glass off, playfield up ...")
    rest: Literal["open", "closed"] = "open"
    device: Device | None = None
    fitted: Literal["filament", "led"] | None = None
    keep_warm: KeepWarm | None = None
    ohms: Ohms | None = Field(None, description="resistance at 20 degrees Celsius, ohms")
    tolerance: Tolerance | None = Field(None, description="of `ohms`, as a fraction")


class Matrix(_Frozen):
    """A grid of cells. `cells[r][c]` is a name, "" where nothing is fitted; `rows` and `columns` are always complete:
    a line that the layout leaves out stands there with its count as its label and nothing else."""

    id: str = Field(pattern=r"^[A-Za-z][\w-]*$")
    kind: Kind
    name: Text = ""
    numbering: Numbering = "down-columns"
    numbers: Annotated[tuple[NumberRow, ...], _SIDE] = Field(
        (), description='of a listed matrix; 0 or "" where nothing is'
    )
    strobe: Side = "column"
    diodes: StrictBool | None = Field(
        None, description="one in series with each device; by default where rows are shared"
    )
    volts: Volts | None = Field(None, description="nominal")
    supply: tuple[Ref, ...] = Field((), description="parts that everything in this matrix needs")
    rows_shared: StrictBool = Field(True, description="false for direct inputs and lighting strings")
    walk: tuple[Number, ...] = Field((), description="the order of the machine's own test, if not by number")
    cells: Annotated[tuple[NameRow, ...], _SIDE]
    columns: Annotated[tuple[Line, ...], _SIDE] = Field((), alias="column")
    rows: Annotated[tuple[Line, ...], _SIDE] = Field((), alias="row")
    notes: dict[NumberKey, CellNotes] = Field(default_factory=dict, alias="cell")

    @model_validator(mode="before")
    @classmethod
    def _complete_lines(cls, given: Any) -> Any:
        """Give every line of the grid its place, so that no reader has to ask whether one is missing."""
        if not isinstance(given, dict) or not _is_grid(given.get("cells")):
            return given
        filled = dict(given)
        grid = given["cells"]
        for side, count in (("column", max((len(row) for row in grid), default=0)), ("row", len(grid))):
            name = f"{side}s" if f"{side}s" in given else side
            lines = given.get(name, ())
            if isinstance(lines, list | tuple):
                filled[name] = [_labelled(line, place) for place, line in enumerate(lines, 1)]
                filled[name] += [{"label": str(place)} for place in range(len(lines) + 1, count + 1)]
        return filled


class Layout(_Frozen):
    """One machine."""

    format: Annotated[Literal[1], BeforeValidator(_plain_one)]
    name: Name = Field(min_length=1)
    parts: tuple[Part, ...] = Field((), alias="part")
    checks: tuple[Check, ...] = Field((), alias="check")
    matrices: tuple[Matrix, ...] = Field((), alias="matrix")

    @model_validator(mode="after")
    def _ids_differ(self) -> Self:
        if len({matrix.id for matrix in self.matrices}) < len(self.matrices):
            raise ValueError("two matrices have the same id")
        return self


def layout_in(content: Any) -> model.Layout:
    """Return the layout that a file's data gives. Raises pydantic.ValidationError for what the form refuses."""
    form = Layout.model_validate(content, by_alias=True, by_name=False)
    return from_json(model.Layout, form.model_dump_json(by_alias=True, exclude_defaults=True))


def _is_grid(cells: Any) -> bool:
    """Return whether it is a list of rows, each a list, with no side longer than a matrix can be."""
    return (
        isinstance(cells, list | tuple)
        and len(cells) <= LARGEST_SIDE
        and all(isinstance(row, list | tuple) and len(row) <= LARGEST_SIDE for row in cells)
    )


def _labelled(line: Any, place: int) -> Any:
    nameless = isinstance(line, dict) and line.get("label", "") == ""
    return line | {"label": str(place)} if nameless else line
