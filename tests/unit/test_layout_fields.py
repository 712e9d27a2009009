"""The form of the file and the shapes that the journal keeps have the same fields.

Names, order, keys, defaults, types and words to choose from agree; limits stand in the form alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import msgspec
import pytest
from pydantic import BaseModel, ValidationError
from pydantic_core import PydanticUndefined

from matrixcheck.layout import form, model
from matrixcheck.layout.frozen import Frozen
from matrixcheck.layout.limits import DUE_OHMS, FAILURE_RATE, MEASURED, TOLERANCE, VOLTS

PAIRS = [
    (form.Part, model.Part),
    (form.Check, model.Check),
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
    assert sum(len(in_file.model_fields) for in_file, _ in PAIRS) == 49


@pytest.mark.parametrize(("in_file", "in_journal"), PAIRS, ids=lambda shape: shape.__name__)
def test_types_agree(in_file: type[BaseModel], in_journal: type[Frozen]) -> None:
    formed_schema: Any = in_file.model_json_schema(by_alias=True)
    _, kept_schema = msgspec.json.schema_components([in_journal])
    due = {key: _types(one, formed_schema.get("$defs", {})) for key, one in formed_schema["properties"].items()}
    found = {key: _types(one, kept_schema) for key, one in kept_schema[in_journal.__name__]["properties"].items()}
    # A label may be written as a number in a file; it is kept as a text.
    due = {key: types - {"integer"} if key == "label" else types for key, types in due.items()}
    assert due == found


def _types(schema: Any, definitions: Any) -> set[str]:
    """The types of JSON that a schema allows, those inside a list after a >; other tables by their names."""
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        target = definitions[name]
        return {name} if target.get("type") == "object" else _types(target, definitions)
    found = set()
    for one in schema.get("anyOf", []):
        found |= _types(one, definitions)
    named = schema.get("type", [])
    for kind in [named] if isinstance(named, str) else named:
        entries = next(iter(schema.get("patternProperties", {}).values()), None)  # of a table with keys of one form
        inside = schema.get("items") or entries or schema.get("additionalProperties") or {}
        within = _types(inside, definitions) if isinstance(inside, dict) else set()
        found |= {f"{kind}>{one}" for one in within} or {kind}
    choices = [*schema.get("enum", []), *([schema["const"]] if "const" in schema else [])]
    return found | {"null" if word is None else "integer" if isinstance(word, int) else "string" for word in choices}


LIMITED = {
    "rate": (form.Part, {"ref": "Q1"}, FAILURE_RATE),
    "ohms": (form.CellNotes, {}, DUE_OHMS),
    "tolerance": (form.CellNotes, {}, TOLERANCE),
    "least": (form.Check, {"section": "before power", "text": "a"}, MEASURED),
    "most": (form.Check, {"section": "before power", "text": "a"}, MEASURED),
    "volts": (form.Matrix, {"id": "m", "kind": "lamp", "cells": [["a"]]}, VOLTS),
}


@pytest.mark.parametrize("key", LIMITED)
def test_a_number_is_taken_up_to_its_limits_and_no_further(key: str) -> None:
    shape, others, limit = LIMITED[key]
    for value in (limit.least, limit.most):
        assert getattr(shape.model_validate({**others, key: value}), key) == value
    for value in (limit.least * 0.99, limit.most * 1.01, 0.0, -limit.most):
        if limit.holds(value):  # none, as a meter may show
            continue
        with pytest.raises(ValidationError):
            shape.model_validate({**others, key: value})


def test_every_number_with_limits_is_among_these_and_no_shape_of_the_journal_has_limits_of_its_own() -> None:
    bounds = {"minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum", "pattern", "maxItems", "minLength"}
    limited = set()
    for in_file, in_journal in PAIRS:
        for key, one in in_file.model_json_schema()["properties"].items():
            kinds = [one, *one.get("anyOf", [])]
            if any(kind.get("type") == "number" for kind in kinds):
                assert any({"minimum", "maximum"} <= kind.keys() for kind in kinds), key
                limited.add(key)
        _, schemas = msgspec.json.schema_components([in_journal])
        assert not bounds & set(_keys(schemas)), in_journal
    assert limited == set(LIMITED)


def _keys(schema: Any) -> Iterator[str]:
    """Every key of a JSON schema and of what lies in it, without the names of properties."""
    if isinstance(schema, dict):
        for key, one in schema.items():
            yield key
            yield from _keys(list(one.values()) if key == "properties" else one)
    elif isinstance(schema, list):
        for one in schema:
            yield from _keys(one)


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
