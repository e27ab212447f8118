"""The bricks that the schemas of the knowledge files are built of: ids, texts, objects, lists."""

from __future__ import annotations

from typing import Any

DIALECT = "https://json-schema.org/draft/2020-12/schema"
ID = {"type": "string", "pattern": r"^[a-z0-9]+(-[a-z0-9]+)*$"}
TEXT = {"type": "string", "minLength": 3}


def object_schema(properties: dict[str, Any], required: list[str], **more: Any) -> dict[str, Any]:
    """Return the schema of an object that holds these keys and no other."""
    return {
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
        **more,
    }


def list_schema(items: Any, least: int = 1) -> dict[str, Any]:
    """Return the schema of a list without doubles."""
    return {"type": "array", "items": items, "minItems": least, "uniqueItems": True}
