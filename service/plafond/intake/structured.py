"""Reads the native form: JSON with findings under `left`, `right`, `unspecified` and `person`.

Takes bytes and the vocabulary; gives `Findings`, or every fault at once with its JSON pointer.
Nothing is guessed: an id, a value, a unit or a place that does not fit is a fault.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterator, Mapping
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from plafond.errors import (
    DocumentError,
    DocumentSyntaxError,
    DocumentTooLargeError,
    Fault,
    QuantityError,
)
from plafond.findings import SIDES, Finding, Findings, Origin
from plafond.vocabulary import Definition, Vocabulary, nearest, written

MOST_BYTES = 262_144
MOST_DEPTH = 8
MOST_FAULTS = 50
PLACES = (*SIDES, "person")
KEYS = ("reference", "recorded", *PLACES)
RECORD = ("value", "unit", "on", "sure")
REFERENCE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._:/-]{0,63}")


def read_findings(payload: bytes, vocabulary: Vocabulary) -> Findings:
    """Read one document in the native form.

    Raises DocumentTooLargeError, DocumentSyntaxError (not JSON, or JSON that can be read in two
    ways) or DocumentError (it does not fit the vocabulary), each with every fault it found.
    """
    return findings_of(read_json(payload), vocabulary)


def findings_of(data: Any, vocabulary: Vocabulary) -> Findings:
    """Read one document that is plain data already; raises DocumentError with every fault."""
    reader = _Reader(vocabulary)
    findings = reader.read(data)
    if reader.faults:
        raise DocumentError(reader.faults[:MOST_FAULTS])
    return findings


def read_json(payload: bytes) -> Any:
    """Read JSON in one way only: no duplicate key, no NaN, no hidden character, not too deep.

    Numbers with a point are `Decimal`. Raises DocumentTooLargeError or DocumentSyntaxError.
    """
    if len(payload) > MOST_BYTES:
        raise DocumentTooLargeError(
            [Fault("", f"{len(payload)} bytes is too large", f"at most {MOST_BYTES} bytes")]
        )
    try:
        text = payload.decode("utf-8")
    except UnicodeDecodeError as error:
        raise _syntax(f"not UTF-8 at byte {error.start}", "UTF-8 text") from error
    _check_depth(text)
    try:
        data = json.loads(
            text,
            object_pairs_hook=_no_duplicates,
            parse_float=_number,
            parse_int=_whole,
            parse_constant=_no_constant,
        )
    except json.JSONDecodeError as error:
        place = f"line {error.lineno}, column {error.colno}"
        raise _syntax(f"not JSON: {error.msg} at {place}", "a JSON object") from error
    faults = list(_hidden_characters(data, ""))
    if faults:
        raise DocumentSyntaxError(faults[:MOST_FAULTS])
    return data


def _syntax(message: str, expected: str) -> DocumentSyntaxError:
    return DocumentSyntaxError([Fault("", message, expected)])


#: A whole string (also one that never ends, or the search takes the square of its length), or
#: a bracket.
_MARK = re.compile(r'"(?:[^"\\]|\\.?)*(?:"|\Z)|[\[{]|[\]}]', re.DOTALL)


def _check_depth(text: str) -> None:
    depth = 0
    for mark in _MARK.finditer(text):
        if mark[0] in "[{":
            depth += 1
        elif mark[0] in "]}":
            depth -= 1
        if depth > MOST_DEPTH:
            raise _syntax("nested too deeply", f"at most {MOST_DEPTH} levels")


def _no_duplicates(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    result: dict[str, Any] = {}
    for key, value in pairs:
        if key in result:
            raise _syntax(f"the key {key[:80]!r} stands twice in one object", "each key once")
        result[key] = value
    return result


_MOST_PLACES = 12


def _number(text: str) -> Decimal:
    """Return a number as written; one beyond any measurement is infinite, which no finding is."""
    try:
        value = Decimal(text)
    except InvalidOperation:  # an exponent beyond what Decimal holds
        return Decimal("Infinity")
    if not value:
        return Decimal(0)
    if value.adjusted() < -_MOST_PLACES:  # as good as nothing, but still not a whole number
        return Decimal(1).scaleb(-_MOST_PLACES).copy_sign(value)
    return value if value.adjusted() < _MOST_PLACES else Decimal("Infinity")


def _whole(text: str) -> int:
    if len(text) > 18:
        raise _syntax(f"the number {text[:18]}... is too long", "at most 18 digits")
    return int(text)


def _no_constant(text: str) -> Any:
    raise _syntax(f"{text} is not a number", "a number, or leave the finding out")


def _hidden_characters(data: Any, pointer: str) -> Iterator[Fault]:
    """Find control, bidirectional and unpaired surrogate characters in any text."""
    if isinstance(data, str):
        bad = next((char for char in data if unicodedata.category(char) in _HIDDEN), None)
        if bad is not None:
            yield Fault(pointer, f"a hidden character, U+{ord(bad):04X}", "plain visible text")
    elif isinstance(data, Mapping):
        for key, value in data.items():
            below = f"{pointer}/{_escape(key)}"
            yield from _hidden_characters(key, below)
            yield from _hidden_characters(value, below)
    elif isinstance(data, list):
        for index, item in enumerate(data):
            yield from _hidden_characters(item, f"{pointer}/{index}")


_HIDDEN = ("Cc", "Cf", "Cs", "Zl", "Zp")


def _escape(key: str) -> str:
    visible = "".join(
        char if unicodedata.category(char) not in _HIDDEN else f"\\u{ord(char):04x}" for char in key
    )
    return visible[:80].replace("~", "~0").replace("/", "~1")


class _Reader:
    """One reading: the faults found so far, and the vocabulary everything must fit."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary
        self.faults: list[Fault] = []

    def read(self, data: Any) -> Findings:
        if not isinstance(data, Mapping):
            self._fault("", "not an object", "an object with left, right or person")
            return Findings(())
        for key in data:
            if key not in KEYS:
                self._unknown(f"/{_escape(key)}", key, list(KEYS))
        records = tuple(
            record
            for place in PLACES
            if place in data
            for record in self._place(place, data[place])
        )
        reference = self._reference(data.get("reference", ""))
        recorded = self._date("/recorded", data["recorded"]) if "recorded" in data else ""
        return Findings(records, reference, recorded)

    def _place(self, place: str, data: Any) -> Iterator[Finding]:
        if not isinstance(data, Mapping):
            self._fault(f"/{place}", "not an object", 'findings, such as {"giving-way": "present"}')
            return
        for name, raw in data.items():
            pointer = f"/{place}/{_escape(name)}"
            definition = self._definition(pointer, place, name)
            if definition is None:
                continue
            if isinstance(raw, list):
                if not raw:
                    self._fault(pointer, "an empty list", "a value, or leave the finding out")
                for index, item in enumerate(raw):
                    yield from self._record(f"{pointer}/{index}", place, definition, item)
            else:
                yield from self._record(pointer, place, definition, raw)

    def _definition(self, pointer: str, place: str, name: str) -> Definition | None:
        if name not in self.vocabulary:
            self._unknown(pointer, name, [one.id for one in self.vocabulary])
            return None
        definition = self.vocabulary[name]
        if definition.derived:
            self._fault(
                pointer, f"{name} is worked out, never recorded", "what it is worked out of"
            )
            return None
        if definition.sided == (place == "person"):
            first, more = ("left", ", right or unspecified") if definition.sided else ("person", "")
            self._fault(pointer, f"{name} belongs under {first}{more}", f"/{first}/{name}")
            return None
        return definition

    def _record(
        self, pointer: str, place: str, definition: Definition, raw: Any
    ) -> Iterator[Finding]:
        on, sure = "", True
        if isinstance(raw, Mapping) and "value" in raw:
            for key in sorted(set(raw) - set(RECORD)):
                self._unknown(f"{pointer}/{_escape(key)}", key, list(RECORD))
            if "on" in raw:
                on = self._date(f"{pointer}/on", raw["on"])
            sure = self._sure(f"{pointer}/sure", raw.get("sure", True))
            has_unit = "unit" in raw
            raw = {"value": raw["value"], "unit": raw["unit"]} if has_unit else raw["value"]
        try:
            value = definition.read(raw)
        except QuantityError as error:
            self._fault(pointer, error.message, error.expected)
            return
        yield Finding(definition.id, place, value, Origin(pointer, on), written(raw), sure)

    def _sure(self, pointer: str, raw: Any) -> bool:
        if not isinstance(raw, bool):
            self._fault(pointer, "neither true nor false", "false for what is only suspected")
        return raw is not False

    def _reference(self, raw: Any) -> str:
        if raw == "" or (isinstance(raw, str) and REFERENCE.fullmatch(raw)):
            return str(raw)
        expected = "up to 64 letters, digits or . _ : / -, and no name or number of a person"
        self._fault("/reference", "not an opaque reference", expected)
        return ""

    def _date(self, pointer: str, raw: Any) -> str:
        if isinstance(raw, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", raw):
            try:
                return date.fromisoformat(raw).isoformat()
            except ValueError:
                pass
        self._fault(pointer, "not a date", "a date such as 2026-11-20")
        return ""

    def _unknown(self, pointer: str, name: str, known: list[str]) -> None:
        if len(self.faults) >= MOST_FAULTS:  # looking for near names takes time
            return
        close = nearest(name, known)
        few = len(known) <= len(KEYS)
        listed = f"one of {', '.join(known)}" if few else "an id that the list of findings names"
        expected = f"did you mean {' or '.join(close)}?" if close else listed
        self.faults.append(Fault(pointer, f"{name[:80]!r} is not known here", expected, close))

    def _fault(self, pointer: str, message: str, expected: str) -> None:
        self.faults.append(Fault(pointer, message, expected))


def write_findings(findings: Findings, vocabulary: Vocabulary) -> dict[str, Any]:
    """Return findings in the native form; reading it again gives the same findings.

    Holds coded values, dates and the caller's reference, and nothing else.
    """
    document: dict[str, Any] = {}
    if findings.reference:
        document["reference"] = findings.reference
    if findings.recorded:
        document["recorded"] = findings.recorded
    grouped: dict[tuple[str, str], list[Finding]] = {}
    for record in findings.records:
        grouped.setdefault((record.side, record.id), []).append(record)
    for (place, name), records in grouped.items():
        values = [_write_value(vocabulary[name], record) for record in records]
        listed = records[0].origin.pointer.count("/") > 2
        document.setdefault(place, {})[name] = values if listed else values[0]
    return document


def _write_value(definition: Definition, record: Finding) -> Any:
    value = int(record.value) if definition.kind == "count" else record.shown
    more = {"on": record.origin.on} if record.origin.on else {}
    if not record.sure:
        return {"value": value, **more, "sure": False}
    return {"value": value, **more} if more else value
