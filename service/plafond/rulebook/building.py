"""What every part of loading shares: the issues found so far, and what a schema says in words."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, TypeVar

import jsonschema
from jsonschema.protocols import Validator

from plafond.errors import Issue, PlafondError
from plafond.rulebook.strict_yaml import Source, escape
from plafond.vocabulary import nearest

T = TypeVar("T")


class Build:
    """One assembly: the issues found, and the ids known so far."""

    def __init__(self) -> None:
        self.issues: list[Issue] = []

    def valid(self, source: Source, schema: Validator) -> bool:
        """Say whether a file fits its schema, and note what does not."""
        found = list(schema_issues(source, schema))
        self.issues += found
        return not found

    def complain(self, source: Source, pointer: str, message: str, mend: str = "") -> None:
        """Note an error at a place of a file."""
        self.issues.append(source.issue(pointer, message, mend))

    def attempt(self, source: Source, pointer: str, make: Callable[[], T]) -> T | None:
        """Make something, turning any error of ours into an issue at this place."""
        try:
            return make()
        except PlafondError as error:
            self.complain(source, pointer, str(error))
        return None


def validator(schema: Mapping[str, Any]) -> Validator:
    """Return a validator of one of this project's schemas."""
    return jsonschema.Draft202012Validator(schema)


def schema_issues(source: Source, schema: Validator) -> Iterator[Issue]:
    """Yield what a schema says against a file, in words, each at its line."""
    for error in schema.iter_errors(source.data):
        yield from _say(source, error)


def _say(source: Source, error: jsonschema.ValidationError) -> Iterator[Issue]:
    schema: Any = error.schema
    instance: Any = error.instance
    pointer = "".join(f"/{escape(str(part))}" for part in error.absolute_path)
    match error.validator:
        case "additionalProperties":
            known = list(schema.get("properties", {}))
            for key in sorted(set(instance) - set(known)):
                close = nearest(key, known)
                mend = f"did you mean {', '.join(close)}?" if close else ""
                below = f"{pointer}/{escape(key)}"
                yield source.issue(below, f"{key!r} is not known here", mend)
        case "enum":
            allowed = schema["enum"]
            close = nearest(str(instance), [str(one) for one in allowed])
            few = ", ".join(map(str, allowed)) if len(allowed) <= 8 else ", ".join(close)
            yield source.issue(pointer, f"{instance!r} is not known here", f"one of: {few}")
        case "anyOf" if error.context:
            plainest = jsonschema.exceptions.best_match([error])
            if not isinstance(instance, dict):
                plainest = error.context[0]
            if plainest is None or plainest.validator == "anyOf":
                yield source.issue(pointer, _shorten(error.message))
            else:
                yield from _say(source, plainest)
        case "pattern" if "examples" in schema:
            mend = f"write it like {schema['examples'][0]}"
            yield source.issue(pointer, f"{instance!r} does not fit here", mend)
        case _:
            yield source.issue(pointer, _shorten(error.message))


def _shorten(message: str) -> str:
    return message if len(message) <= 160 else f"{message[:70]} ... {message[-80:]}"
