"""What goes in and what comes out, as JSON Schema for the description of the interface.

Takes a vocabulary, gives the schema of a document: one property a finding, with its values, its
units and their ranges, and its question. The schemas of answers come from the dataclasses.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Any

from pydantic import TypeAdapter

from plafond.assessment import SEVERITIES, Assessment
from plafond.quantities import SPELLINGS, UNITS
from plafond.rulebook.rules import CONFIDENCES, KINDS, URGENCIES
from plafond.views.catalogue import FindingEntry, OptionEntry, ReleaseCard, ReleaseEntry, RuleEntry
from plafond.views.difference import Difference
from plafond.vocabulary import KINDS as FINDING_KINDS
from plafond.vocabulary import Definition, Vocabulary

Schema = dict[str, Any]

TRIAGES = ("act-now", "soon", "ready", "ask-referrer", "not-arthroscopic")
STANDINGS = ("indicated", "on-hold", "contraindicated", "undetermined", "not-indicated")
TRUTHS = ("met", "not-met", "unknown")
SIDES = ("left", "right", "unspecified")

#: What the text fields of answers may say; the dataclasses only say that they are text.
_WORDS: dict[tuple[str, str], Iterable[str]] = {
    ("Assessment", "triage"): TRIAGES,
    ("Verdict", "truth"): TRUTHS,
    ("Verdict", "kind"): KINDS,
    ("Verdict", "confidence"): CONFIDENCES,
    ("Check", "severity"): SEVERITIES,
    ("RedFlag", "state"): ("met", "possible"),
    ("RedFlag", "urgency"): URGENCIES,
    ("OptionAnswer", "standing"): STANDINGS,
    ("TriageChange", "from"): TRIAGES,
    ("TriageChange", "to"): TRIAGES,
    ("FindingEntry", "kind"): FINDING_KINDS,
    ("RuleEntry", "kind"): KINDS,
    ("RuleEntry", "confidence"): CONFIDENCES,
}
_RECORDS = (
    Assessment, Difference, FindingEntry, OptionEntry, RuleEntry, ReleaseEntry, ReleaseCard,
)  # fmt: skip

_DATE = {"type": "string", "format": "date", "description": "the date it speaks of"}


def ref(name: str) -> Schema:
    """Return a reference to a named schema."""
    return {"$ref": f"#/components/schemas/{name}"}


def schemas(vocabulary: Vocabulary) -> dict[str, Schema]:
    """Return every named schema of the interface."""
    return {**_documents(vocabulary), **_answers(), **_lists(), **_PROBLEMS}


#: Of what is only suspected: it may raise a red flag or an option, and settles nothing.
_SURE = {
    "type": "boolean",
    "description": "false for what is only suspected: it may raise something, and settles nothing",
}

# -- documents ----------------------------------------------------------------------------


def _documents(vocabulary: Vocabulary) -> dict[str, Schema]:
    recorded = [one for one in vocabulary if not one.derived]
    sided = _place([one for one in recorded if one.sided], "What is known of one side.")
    person = _place([one for one in recorded if not one.sided], "What is known of the person.")
    document = {
        "type": "object",
        "title": "Document",
        "description": "What is known about one patient. What is left out is unknown.",
        "additionalProperties": False,
        "properties": {
            "reference": {
                "type": "string",
                "description": "the caller's own, opaque to us; no name or number of a person",
                "pattern": "^(?:[A-Za-z0-9][A-Za-z0-9._:/-]{0,63})?$",
            },
            "recorded": {**_DATE, "description": "when this was written down"},
            **{side: ref("Side") for side in SIDES},
            "person": ref("Person"),
        },
    }
    findings = {f"finding.{one.id}": _finding(one) for one in recorded}
    claims = {_claim_name(one): _claim(one) for one in recorded}
    named = {"Document": document, "Side": sided, "Person": person}
    return {**named, "Date": _DATE, **findings, **claims}


def _place(definitions: Iterable[Definition], description: str) -> Schema:
    return {
        "type": "object",
        "description": description,
        "additionalProperties": False,
        "properties": {one.id: ref(f"finding.{one.id}") for one in definitions},
    }


def _finding(definition: Definition) -> Schema:
    """Return how a finding may be recorded: one claim, or a list of them."""
    claim = ref(_claim_name(definition))
    return {
        "title": definition.title,
        "description": f"{definition.question or definition.title} ({definition.allowed()})",
        "anyOf": [claim, {"type": "array", "minItems": 1, "items": claim}],
    }


def _claim_name(definition: Definition) -> str:
    return "Presence" if definition.kind == "presence" else f"claim.{definition.id}"


def _claim(definition: Definition) -> Schema:
    """Return one claim: a value, or a value, the date it speaks of, and whether it is sure."""
    value = _value(definition)
    dated = {
        "type": "object",
        "additionalProperties": False,
        "required": ["value"],
        "properties": {"value": value, "on": ref("Date"), "sure": _SURE},
    }
    return {"anyOf": [value, dated, *(_measured(definition, unit) for unit in definition.units)]}


def _value(definition: Definition) -> Schema:
    match definition.kind:
        case "presence" | "choice":
            return {"type": "string", "enum": list(definition.values)}
        case "count":
            low, high = int(definition.low), int(definition.high)
            return {"type": "integer", "minimum": low, "maximum": high}
        case _:
            return {"type": "string", "pattern": _pattern(definition)}


def _measured(definition: Definition, unit: str) -> Schema:
    low, high = limits(definition, unit)
    return {
        "type": "object",
        "additionalProperties": False,
        "required": ["value", "unit"],
        "properties": {
            "value": {"type": "number", "minimum": float(low), "maximum": float(high)},
            "unit": {"type": "string", "enum": _spellings(unit)},
            "on": ref("Date"),
            "sure": _SURE,
        },
    }


def limits(definition: Definition, unit: str) -> tuple[Decimal, Decimal]:
    """Return the plausible range of a quantity in one of its units, to six decimals inside it."""
    if definition.converts == "hba1c" and unit == "%":  # the inverse of hba1c_mmol_mol
        ends = (definition.low, definition.high)
        low, high = ((one + Decimal("23.5")) / Decimal("10.93") for one in ends)
    else:
        low, high = (one / UNITS[unit][1] for one in (definition.low, definition.high))
    step = Decimal("0.000001")
    return low.quantize(step, ROUND_CEILING), high.quantize(step, ROUND_FLOOR)


def _spellings(unit: str) -> list[str]:
    return [unit, *sorted(word for word, code in SPELLINGS.items() if code == unit)]


def _pattern(definition: Definition) -> str:
    """Return the pattern of `12 mm`. It cannot say the range; the description does."""
    ends = [abs(one) for unit in definition.units for one in limits(definition, unit)]
    digits = len(str(int(max(ends))))
    sign = "-?" if definition.low < 0 else ""
    words = [word for unit in definition.units for word in _spellings(unit)]
    apart = "|".join(_literal(word) for word in words if word[0].isdigit())
    units = "|".join(_literal(word) for word in words if not word[0].isdigit())
    written = f"(?: (?:{apart})| ?(?:{units}))" if apart else f" ?(?:{units})"
    if definition.unit == "1":
        written = f"(?:{written})?"
    return f"^{sign}[0-9]{{1,{digits}}}(?:\\.[0-9]{{1,6}})?{written}$"


def _literal(word: str) -> str:
    """Return a word for a pattern as ECMA-262 reads it, which knows fewer escapes than Python."""
    return "".join(f"\\{char}" if char in r".*+?^${}()|[]\/" else char for char in word)


# -- answers ------------------------------------------------------------------------------


def _answers() -> dict[str, Schema]:
    """Return the schemas of the dataclasses; each holds all its fields and no other."""
    found: dict[str, Schema] = {}
    for record in _RECORDS:
        schema = TypeAdapter(record).json_schema(
            mode="serialization", ref_template="#/components/schemas/{model}"
        )
        found |= schema.pop("$defs", {})
        found[record.__name__] = schema
    return {name: _closed(name, schema) for name, schema in sorted(found.items())}


def _closed(name: str, schema: Schema) -> Schema:
    properties = {}
    for key, value in schema["properties"].items():
        field = key.removesuffix("_")
        kept = {word: said for word, said in value.items() if word not in ("title", "default")}
        words = _WORDS.get((name, field))
        properties[field] = {**kept, "enum": list(words)} if words else kept
    return {
        "title": name,
        "type": "object",
        "description": schema.get("description", ""),
        "additionalProperties": False,
        "required": list(properties),
        "properties": properties,
    }


def _lists() -> dict[str, Schema]:
    """Return the schemas of the lists, and of whole files, which knowledge/schema describes."""
    named = {"findings": "FindingEntry", "options": "OptionEntry", "rules": "RuleEntry"}
    lists = {
        name: {"type": "array", "items": ref(entry)}
        for name, entry in {**named, "releases": "ReleaseEntry"}.items()
    }
    lists["sources"] = {"type": "array", "items": ref("Source")}
    files = {
        "Option": ["id", "title", "summary", "traits", "rules"],
        "Rule": ["id", "version", "kind", "title", "statement", "when", "then", "digest"],
        "Source": ["id", "type", "title"],
    }
    return {
        **{name.capitalize(): _list(name, items) for name, items in lists.items()},
        **{
            name: {"title": name, "type": "object", "required": required}
            for name, required in files.items()
        },
    }


def _list(name: str, items: Schema) -> Schema:
    release = {
        "type": "object",
        "required": ["version", "digest"],
        "properties": {"version": {"type": "string"}, "digest": {"type": "string"}},
    }
    return {
        "title": name.capitalize(),
        "type": "object",
        "additionalProperties": False,
        "required": ["release", "count", name],
        "properties": {"release": release, "count": {"type": "integer"}, name: items},
    }


_PROBLEMS: Mapping[str, Schema] = {
    "Problem": {
        "title": "Problem",
        "description": "What went wrong and what to do about it (RFC 9457).",
        "type": "object",
        "required": ["type", "title", "status", "detail", "instance"],
        "properties": {
            "type": {"type": "string", "format": "uri-reference"},
            "title": {"type": "string"},
            "status": {"type": "integer"},
            "detail": {"type": "string"},
            "instance": {"type": "string", "format": "uri-reference"},
            "faults": {"type": "array", "items": ref("Fault")},
            "parameters": {"type": "array", "items": ref("ParameterFault")},
            "nearest": {"type": "array", "items": {"type": "string"}},
            "case": {"type": "string", "description": "the assessment that was not given"},
        },
    },
    "Fault": {
        "title": "Fault",
        "description": "One thing wrong in a document, at a JSON pointer (RFC 6901).",
        "type": "object",
        "required": ["pointer", "message", "expected", "nearest"],
        "properties": {
            "pointer": {"type": "string"},
            "message": {"type": "string"},
            "expected": {"type": "string"},
            "nearest": {"type": "array", "items": {"type": "string"}},
        },
    },
    "ParameterFault": {
        "title": "ParameterFault",
        "type": "object",
        "required": ["name", "message"],
        "properties": {"name": {"type": "string"}, "message": {"type": "string"}},
    },
    "Ready": {
        "title": "Ready",
        "description": "What is wrong with the engine and the archive; empty where all is well.",
        "type": "object",
        "required": ["ready", "release", "engine", "archive", "alarms"],
        "properties": {
            "ready": {"type": "boolean"},
            "release": {"type": "string"},
            "engine": {"type": "string"},
            "archive": {"type": "string"},
            "alarms": {"type": "integer", "minimum": 0},
        },
    },
    "Alive": {
        "title": "Alive",
        "type": "object",
        "required": ["alive"],
        "properties": {"alive": {"const": True}},
    },
}
