"""The JSON schema of a layout file, for editors that check TOML as it is typed.

It is made from the form: `python -m matrixcheck.layout.schema > layouts/layout.schema.json` writes it anew.
"""

from __future__ import annotations

import json
import sys

from matrixcheck.layout.form import Layout


def layout_schema() -> str:
    """Return the schema as JSON text, the same for the same models."""
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema"} | Layout.model_json_schema(by_alias=True)
    return json.dumps(schema | {"title": "matrixcheck layout, format 1"}, indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    sys.stdout.buffer.write(layout_schema().encode())
