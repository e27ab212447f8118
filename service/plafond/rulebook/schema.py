"""The JSON Schemas (2020-12) of the knowledge files, built from the vocabulary.

Because a rule's schema lists every finding with its own values and units, an editor completes
ids, operators and values, and the loader needs no second list. Knows shapes only.
"""

from __future__ import annotations

from typing import Any

from plafond.quantities import SPELLINGS, UNITS
from plafond.rulebook.conditions import COMPARISONS
from plafond.rulebook.letters import modifier_schema, wording_schema
from plafond.rulebook.rules import CONFIDENCES, KINDS, STATUSES, TRAITS, URGENCIES
from plafond.rulebook.shapes import DIALECT, ID, TEXT, list_schema, object_schema
from plafond.vocabulary import FORMULAS, Definition, Vocabulary
from plafond.vocabulary import KINDS as FINDING_KINDS

RULE_ID = {"type": "string", "pattern": r"^[a-z0-9-]+(\.[a-z0-9-]+)+$"}
DATE = {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}$"}
CONFIDENCE = {"enum": list(CONFIDENCES)}
ZONES = ("anterior-third", "middle-third", "posterior-third", "lateral", "whole")
NUMERAL = r"^-?\d{1,9}(\.\d{1,6})?"


def vocabulary_schema() -> dict[str, Any]:
    """Return the schema of a vocabulary file."""
    finding = object_schema(
        {
            "title": TEXT,
            "kind": {"enum": list(FINDING_KINDS)},
            "side": {"enum": ["sided", "person"]},
            "question": TEXT,
            "values": list_schema(ID, 2),
            "unit": {"enum": list(UNITS)},
            "range": {
                "type": "array",
                "items": {"type": ["integer", "string"]},
                "minItems": 2,
                "maxItems": 2,
            },
            "derived": {"const": True},
            "computed": object_schema(
                {"formula": {"enum": list(FORMULAS)}, "from": list_schema(ID)}, ["formula", "from"]
            ),
            "converts": {"enum": ["hba1c"]},
            "phrases": list_schema({"type": "string", "minLength": 2}),
            "letter": wording_schema(),
            "codes": object_schema(
                {system: list_schema({"type": "string"}) for system in ("icd-10-cm", "loinc")}, []
            ),
        },
        ["title", "kind", "side"],
    )
    return {
        "$schema": DIALECT,
        "title": "A group of findings",
        **object_schema(
            {
                "group": ID,
                "title": TEXT,
                "findings": {
                    "type": "object",
                    "propertyNames": ID,
                    "additionalProperties": finding,
                    "minProperties": 1,
                },
            },
            ["group", "title", "findings"],
        ),
    }


def _clause_schema(definition: Definition) -> dict[str, Any]:
    words: dict[str, Any] = {"cites": ID}
    if definition.numeric:
        limit = _limit_schema(definition)
        parameter = object_schema({"parameter": ID}, ["parameter"])
        words |= {word: {"anyOf": [limit, parameter]} for word in COMPARISONS}
        words["between"] = {"type": "array", "items": limit, "minItems": 2, "maxItems": 2}
    else:
        words["is"] = {"enum": list(definition.values)}
        if definition.kind == "choice":
            words["is_one_of"] = list_schema({"enum": list(definition.values)}, 2)
    clause = object_schema(words, [], minProperties=1, maxProperties=2)
    clause["description"] = definition.question or definition.title
    return clause


def _limit_schema(definition: Definition) -> dict[str, Any]:
    if definition.kind == "count":
        return {"type": "integer"}
    units = [*definition.units]
    units += [word for word, code in SPELLINGS.items() if code in definition.units]
    escaped = "|".join(_escape(unit) for unit in units)
    return {
        "type": "string",
        "pattern": rf"{NUMERAL}\s*({escaped})$",
        "examples": [f"10 {definition.unit}"],
    }


def _escape(unit: str) -> str:
    return "".join(f"\\{char}" if char in r"[]*/^.+()|" else char for char in unit)


def _condition_schemas(vocabulary: Vocabulary) -> dict[str, Any]:
    some = list_schema({"$ref": "#/$defs/condition"})
    properties: dict[str, Any] = {
        "all": some,
        "any": some,
        "not": {"$ref": "#/$defs/condition"},
    }
    properties |= {one.id: _clause_schema(one) for one in vocabulary}
    group = object_schema(
        {"at_least": {"type": "integer", "minimum": 1}, "of": some}, ["at_least", "of"]
    )
    single = object_schema(properties, [], minProperties=1, maxProperties=1)
    bare = {"enum": [one.id for one in vocabulary if one.kind == "presence"]}
    return {
        "condition": {
            "if": {"type": "object", "required": ["of"]},
            "then": group,
            "else": single,
        },
        "raise": {"if": {"type": "string"}, "then": bare, "else": {"$ref": "#/$defs/condition"}},
    }


def _target_schema() -> dict[str, Any]:
    return {
        **object_schema(
            {"options": list_schema(ID), "traits": list_schema({"enum": list(TRAITS)})}, []
        ),
        "minProperties": 1,
        "maxProperties": 1,
    }


def _effect_schemas() -> dict[str, Any]:
    target = _target_schema()
    return {
        "indication": object_schema({"supports": ID}, ["supports"]),
        "contraindication": object_schema(
            {"forbids": target, "strength": {"enum": ["absolute", "relative"]}},
            ["forbids", "strength"],
        ),
        "caution": object_schema({"cautions": target, "advice": TEXT}, ["cautions", "advice"]),
        "red-flag": object_schema(
            {"urgency": {"enum": list(URGENCIES)}, "action": TEXT, "holds": target},
            ["urgency", "action"],
        ),
        "derivation": object_schema({"concludes": ID}, ["concludes"]),
    }


def _rule_properties() -> dict[str, Any]:
    position = object_schema({"says": TEXT, "cites": ID, "confidence": CONFIDENCE}, ["says"])
    parameter = object_schema(
        {
            "value": {"type": ["string", "integer"]},
            "cites": ID,
            "confidence": CONFIDENCE,
        },
        ["value", "confidence"],
    )
    case = object_schema(
        {
            "name": TEXT,
            "given": {"type": "object"},
            "opposite": {"type": "object"},
            "expect": {"enum": ["met", "not-met", "unknown"]},
        },
        ["name", "given", "expect"],
    )
    return {
        "id": RULE_ID,
        "version": {"type": "integer", "minimum": 1},
        "status": {"enum": list(STATUSES)},
        "kind": {"enum": list(KINDS)},
        "title": TEXT,
        "statement": TEXT,
        "parameters": {"type": "object", "propertyNames": ID, "additionalProperties": parameter},
        "raised_by": list_schema({"$ref": "#/$defs/raise"}),
        "screen": ID,
        "when": {"$ref": "#/$defs/condition"},
        "then": {"type": "object"},
        "grade": object_schema(
            {
                "recommendation": {"enum": ["A", "B", "C", "I"]},
                "scheme": {"enum": ["wright-2005"]},
                "direction": {"enum": ["for", "against", "none"]},
                "note": TEXT,
            },
            ["recommendation", "scheme", "direction"],
        ),
        "sources": list_schema(object_schema({"id": ID, "supports": TEXT}, ["id", "supports"])),
        "confidence": CONFIDENCE,
        "dispute": object_schema(
            {"question": TEXT, "positions": list_schema(position, 2)}, ["question", "positions"]
        ),
        "rationale": TEXT,
        "review": object_schema({"last": DATE, "next": DATE}, ["last", "next"]),
        "cases": list_schema(case, 2),
        "waivers": list_schema(
            object_schema({"mutant": TEXT, "reason": TEXT}, ["mutant", "reason"])
        ),
    }


def rule_schema(vocabulary: Vocabulary) -> dict[str, Any]:
    """Return the schema of a rule file for this vocabulary."""
    required = ["id", "version", "status", "kind", "title", "statement", "when", "then"]
    required += ["sources", "confidence", "rationale", "review", "cases"]
    by_kind = [
        {
            "if": {"properties": {"kind": {"const": kind}}, "required": ["kind"]},
            "then": {"properties": {"then": effect}, "required": _also_required(kind)},
        }
        for kind, effect in _effect_schemas().items()
    ]
    return {
        "$schema": DIALECT,
        "title": "A rule",
        "$defs": _condition_schemas(vocabulary),
        **object_schema(_rule_properties(), required),
        "allOf": by_kind,
    }


def _also_required(kind: str) -> list[str]:
    extra = {"indication": ["grade"], "red-flag": ["raised_by", "screen"]}
    return ["then", *extra.get(kind, [])]


def option_schema(vocabulary: Vocabulary) -> dict[str, Any]:
    """Return the schema of an option file for this vocabulary."""
    line = {
        **object_schema(
            {
                "says": TEXT,
                "cites": ID,
                "confidence": CONFIDENCE,
                "basis": {"const": "common-practice"},
            },
            ["says"],
        ),
        "anyOf": [{"required": ["confidence"]}, {"required": ["basis"]}],
    }
    card = {
        part: list_schema(line) for part in ("position", "portals", "scope", "at_risk", "aftercare")
    }
    alternative = {
        **object_schema({**line["properties"], "option": ID}, []),
        "anyOf": [{"required": ["option"]}, {"required": ["says"]}],
    }
    return {
        "$schema": DIALECT,
        "title": "An option",
        "$defs": _condition_schemas(vocabulary),
        **object_schema(
            {
                "id": ID,
                "title": TEXT,
                "summary": TEXT,
                "region": {"enum": ["ankle", "hindfoot", "forefoot", "tendon", "elsewhere"]},
                "zone": {"enum": list(ZONES)},
                "traits": list_schema({"enum": list(TRAITS)}, 0),
                "raised_by": list_schema({"$ref": "#/$defs/raise"}),
                "alternatives": list_schema(alternative, 0),
                "approach": object_schema(dict(card), []),
                "outcomes": list_schema(line),
                "codes": object_schema(
                    {
                        system: list_schema({"type": "string"})
                        for system in ("icd-10-cm", "icd-10-pcs")
                    },
                    [],
                ),
            },
            ["id", "title", "summary", "region", "traits", "raised_by"],
        ),
        "if": {"properties": {"traits": {"contains": {"const": "arthroscopic"}}}},
        "then": {
            "required": ["approach"],
            "properties": {"approach": {"required": list(card)}},
        },
    }


#: What a source can be, and the fields of it that are plain text (CSL-JSON names).
SOURCE_TYPES = [
    "article-journal",
    "article-magazine",
    "book",
    "chapter",
    "paper-conference",
    "report",
    "standard",
    "thesis",
    "webpage",
]
SOURCE_TEXTS = [
    "container-title",
    "volume",
    "issue",
    "page",
    "publisher",
    "number",
    "note",
    "edition",
    "genre",
    "event-title",
    "ISBN",
]


def _author() -> dict[str, Any]:
    names = {name: {"type": "string"} for name in ("family", "given", "literal")}
    return object_schema(names, [], minProperties=1)


def _issued() -> dict[str, Any]:
    parts = {"type": "array", "items": {"type": "integer"}, "minItems": 1}
    dates = {"type": "array", "items": parts, "minItems": 1, "maxItems": 1}
    return object_schema({"date-parts": dates}, ["date-parts"])


def source_schema() -> dict[str, Any]:
    """Return the schema of a sources file: the CSL-JSON items and fields this project uses."""
    item = object_schema(
        {
            "id": ID,
            "type": {"enum": SOURCE_TYPES},
            "title": TEXT,
            "author": {"type": "array", "items": _author(), "minItems": 1},
            "issued": _issued(),
            "DOI": {"type": "string", "pattern": r"^10\.\d{4,9}/\S+$"},
            "PMID": {"type": "string", "pattern": r"^\d{1,8}$"},
            "PMCID": {"type": "string", "pattern": r"^PMC\d+$"},
            "URL": {"type": "string", "pattern": r"^https?://\S+$"},
            **{name: {"type": "string"} for name in SOURCE_TEXTS},
        },
        ["id", "type", "title"],
    )
    return {
        "$schema": DIALECT,
        "title": "Sources (CSL-JSON)",
        "type": "array",
        "items": item,
        "minItems": 1,
    }


def rulebook_schema() -> dict[str, Any]:
    """Return the schema of rulebook.yaml."""
    return {
        "$schema": DIALECT,
        "title": "The rulebook: version, scope, notice",
        **object_schema(
            {
                "version": {"type": "string", "pattern": r"^\d{4}\.\d+\.\d+$"},
                "title": TEXT,
                "covers": TEXT,
                "scope": object_schema(
                    {"finding": ID, "statement": TEXT}, ["finding", "statement"]
                ),
                "complaints": list_schema(
                    object_schema({"finding": ID, "ask": list_schema(ID)}, ["finding", "ask"]), 0
                ),
                "notice": TEXT,
            },
            ["version", "title", "covers", "scope", "complaints", "notice"],
        ),
    }


def schemas(vocabulary: Vocabulary) -> dict[str, dict[str, Any]]:
    """Return every schema by the stem of its file in `knowledge/schema/`."""
    return {
        "vocabulary": vocabulary_schema(),
        "letters": modifier_schema(),
        "option": option_schema(vocabulary),
        "rule": rule_schema(vocabulary),
        "sources": source_schema(),
        "rulebook": rulebook_schema(),
    }
