"""The form of the file and the shapes that the journal keeps have the same fields: names, order, defaults, words."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from matrixcheck.layout import form, model
from matrixcheck.layout.frozen import Frozen

PAIRS = [
    (form.Part, model.Part),
    (form.KeepWarm, model.KeepWarm),
    (form.Line, model.Line),
    (form.CellNotes, model.CellNotes),
    (form.Matrix, model.Matrix),
    (form.Layout, model.Layout),
]


def formed(shape: type[BaseModel]) -> list[tuple[str, str, Any]]:
    """Each field's name, the key that it has in a file, and its default."""
    return [
        (name, field.alias or name, _default(field.get_default(call_default_factory=True), PydanticUndefined))
        for name, field in shape.model_fields.items()
    ]


def kept(shape: type[Frozen]) -> list[tuple[str, str, Any]]:
    found = []
    for field in msgspec.structs.fields(shape):
        default = field.default if field.default_factory is msgspec.NODEFAULT else field.default_factory()
        found.append((field.name, field.encode_name, _default(default, msgspec.NODEFAULT)))
    return found


def _default(value: Any, none: Any) -> Any:
    return "required" if value is none else value


@pytest.mark.parametrize(("in_file", "in_journal"), PAIRS, ids=lambda shape: shape.__name__)
def test_names_order_keys_and_defaults_agree(in_file: type[BaseModel], in_journal: type[Frozen]) -> None:
    assert formed(in_file) == kept(in_journal)


def test_every_shape_of_the_form_has_its_counterpart() -> None:
    shapes = {one for one in vars(form).values() if isinstance(one, type) and issubclass(one, BaseModel)}
    assert {shape for shape in shapes if shape.model_fields} - {in_file for in_file, _ in PAIRS} == set()
    assert sum(len(in_file.model_fields) for in_file, _ in PAIRS) == 42


CHOICES = {
    "Matrix": {"kind", "numbering", "strobe"},
    "CellNotes": {"rest", "device", "fitted"},
    "Line": {"when"},
}


@pytest.mark.parametrize(("name", "key"), [(name, key) for name, keys in CHOICES.items() for key in sorted(keys)])
def test_words_to_choose_from_agree(name: str, key: str) -> None:
    in_file: Any = getattr(form, name).model_json_schema()
    _, in_journal = msgspec.json.schema_components([getattr(model, name)])
    assert _words(in_file["properties"][key], in_file.get("$defs", {})) == _words(
        in_journal[name]["properties"][key], in_journal
    )


def _words(schema: Any, definitions: Any) -> set[str]:
    """The texts that a JSON schema allows, wherever they stand in it."""
    if "$ref" in schema:
        return _words(definitions[schema["$ref"].rpartition("/")[2]], definitions)
    found = (
        {word for word in schema.get("enum", []) if word is not None} | {schema["const"]}
        if "const" in schema
        else set()
    )
    found |= {word for word in schema.get("enum", []) if word is not None}
    for one in schema.get("anyOf", []):
        found |= _words(one, definitions)
    return found
