"""Write web/schema.json: the JSON schema of every page and message, from which the front end's types are made.

Run it after a change of a page or message, then `npm run types` in web/.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic.json_schema import models_json_schema

from evenfall.app.messages import Ask, Cancel, Do, Done, Dropped, FolderMoved, Hello, Progress, Refused
from evenfall.sheet.schema import json_schema

TARGET = Path(__file__).resolve().parents[1] / "web" / "schema.json"


def schema() -> dict[str, Any]:
    """Pages and messages under one `$defs`; keys sorted, so that equal models give equal text."""
    _, messages = models_json_schema(
        [
            *((model, "validation") for model in (Ask, Do, Cancel)),
            *((model, "serialization") for model in (Hello, FolderMoved, Progress, Dropped, Done, Refused)),
        ],
        ref_template="#/$defs/{model}",
    )
    pages = json_schema()
    return {"title": "Pages", "type": "object", "$defs": {**messages["$defs"], **pages["$defs"]}}


def schema_text() -> str:
    """The file's text."""
    return json.dumps(schema(), indent=1, sort_keys=True) + "\n"


if __name__ == "__main__":
    TARGET.write_text(schema_text(), encoding="utf-8")
