"""Answers as JSON, always in the same bytes.

Takes an Assessment or other plain records, gives canonical JSON (RFC 8785: keys in order, no
space, UTF-8), so that an answer given again is recognised by its SHA-256. The names are those of
the dataclasses; a trailing underscore, which only keeps a name off Python's keywords, is left out.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from plafond.assessment import Assessment


def answer_bytes(assessment: Assessment) -> bytes:
    """Return an assessment as canonical JSON."""
    return canonical(assessment)


def canonical(data: Any) -> bytes:
    """Return records and plain data as RFC 8785 writes them.

    Raises TypeError for a number with a point, and for anything else JSON has no one spelling of.
    The standard library's writer does the same as the rfc8785 package for such data, several
    times faster; a test holds the two together.
    """
    plain = plain_data(data)
    return json.dumps(plain, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()


def plain_data(value: Any) -> Any:
    """Return records as dictionaries and sequences as lists, all the way down."""
    if value is None or isinstance(value, str | bool | int):
        return value
    if is_dataclass(value):
        return {
            one.name.removesuffix("_"): plain_data(getattr(value, one.name))
            for one in fields(value)
        }
    if isinstance(value, Mapping):
        return {str(key): plain_data(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain_data(item) for item in value]
    raise TypeError(f"{type(value).__name__} has no place in an answer")
