"""The JSON schema of an answer, for programs that read `answer` of `suspects --json` and `diagnose --json`.

It is made from the model: `python -m matrixcheck.report.answer.schema` prints it, and it is kept as
`answer.schema.json` beside this file.
"""

from __future__ import annotations

import json
import sys

from matrixcheck.report.answer.model import Answer


def answer_schema() -> str:
    """Return the schema as JSON text, the same for the same models."""
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema"} | Answer.model_json_schema()
    return json.dumps(schema | {"title": "matrixcheck answer, format 1"}, indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    sys.stdout.buffer.write(answer_schema().encode())
