"""The advisory as JSON, and the schema it keeps to.

For: scripts and the shop's own software. Must not know: anything but the record.
"""

from __future__ import annotations

import json
from typing import Any

from shipwindow.advisory.document import Advisory

SCHEMA_TITLE = "shipwindow advisory"


def as_json(advisory: Advisory) -> str:
    """Write the advisory as JSON; the same advisory gives the same bytes."""
    return advisory.model_dump_json(indent=2) + "\n"


def from_json(text: str) -> Advisory:
    """Read an advisory back."""
    return Advisory.model_validate_json(text)


def schema() -> dict[str, Any]:
    """Give the JSON schema of the advisory, as published in docs/schema."""
    found = Advisory.model_json_schema(mode="serialization")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **found,
        "title": SCHEMA_TITLE,
    }


def schema_text() -> str:
    """Write the schema as the published file holds it."""
    return json.dumps(schema(), indent=2, ensure_ascii=False, sort_keys=True) + "\n"
