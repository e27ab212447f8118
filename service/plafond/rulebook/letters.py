"""How letters are worded, as knowledge: the `letter` block of a finding and the modifier files.

Gives the schemas of both and what the files say as frozen values. Knows no letter: what the words
do to a text is the business of `intake.letter`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from plafond.rulebook.shapes import DIALECT, ID, TEXT, list_schema, object_schema
from plafond.vocabulary import Definition, Measure, Vocabulary, Wording

#: What the words of a modifier file do.
DOES = (
    "negation",
    "uncertain",
    "historical",
    "resolved",
    "hypothetical",
    "other-person",
    "terminator",
    "pseudo",
    "result",
    "side",
    "heading",
    "part",
    "abbreviation",
)
#: What `says` may be, for those that say something.
SAYS = {
    "result": ("positive", "negative", "unclear"),
    "side": ("left", "right", "both", "other"),
    "heading": (
        "complaint", "past", "family", "social", "medication", "examination", "imaging",
        "bloods", "impression", "plan", "goal", "allergies", "reference", "other",
    ),
}  # fmt: skip
REACHES = ("after", "before", "both")
TIMES = ("for", "history", "since", "ago", "after", "of", "age")
PHRASE = {"type": "string", "minLength": 1, "maxLength": 80}
PHRASES = list_schema(PHRASE)
NAMED = {"type": "object", "minProperties": 1}


@dataclass(frozen=True, slots=True)
class Modifier:
    """Words that change what is said of a finding, or where it is said; `id` is group.entry.

    `reach` and `words` say where it looks for findings and how far; `closes` what a terminator
    ends, everything where it is empty; `lists` whether it runs through a list without "or".
    """

    id: str
    does: str
    phrases: tuple[str, ...]
    says: str = ""
    reach: str = "after"
    words: int = 0
    closes: tuple[str, ...] = ()
    lists: bool = False


def wording_schema() -> dict[str, Any]:
    """Return the schema of a finding's `letter` block."""
    by_value = {**NAMED, "propertyNames": ID, "additionalProperties": PHRASES}
    return object_schema(
        {
            "at": {**NAMED, "propertyNames": ID, "additionalProperties": PHRASES},
            "variants": PHRASES,
            "abbreviations": {
                **NAMED,
                "propertyNames": {"minLength": 1, "maxLength": 40},
                "additionalProperties": list_schema(PHRASE, 0),
            },
            "not_in": PHRASES,
            "near": PHRASES,
            "not_near": PHRASES,
            "results": by_value,
            "says": by_value,
            "absent": PHRASES,
            "chronic": {"const": True},
            "past": ID,
            "dimensions": list_schema(ID),
            "largest": ID,
            "measure": object_schema(
                {
                    "times": list_schema({"enum": list(TIMES)}),
                    "beside": PHRASES,
                    "bare": {"const": True},
                },
                [],
                minProperties=1,
            ),
            "exact": {"const": True},
            "few_words": TEXT,
        },
        [],
        minProperties=1,
    )


def modifier_schema() -> dict[str, Any]:
    """Return the schema of a file of modifiers under `letters/`."""
    entry = object_schema(
        {
            "phrases": PHRASES,
            "says": ID,
            "reach": {"enum": list(REACHES)},
            "words": {"type": "integer", "minimum": 1, "maximum": 60},
            "closes": list_schema({"enum": list(DOES[:6])}),
            "lists": {"const": True},
        },
        ["phrases"],
    )
    rules = [
        {
            "if": {"properties": {"does": {"const": does}}, "required": ["does"]},
            "then": _each_entry({"properties": {"says": {"enum": list(says)}}}, "says"),
        }
        for does, says in SAYS.items()
    ]
    return {
        "$schema": DIALECT,
        "title": "Words that change what a letter says of a finding",
        **object_schema(
            {
                "group": ID,
                "title": TEXT,
                "does": {"enum": list(DOES)},
                "entries": {
                    "type": "object",
                    "propertyNames": ID,
                    "additionalProperties": entry,
                    "minProperties": 1,
                },
            },
            ["group", "title", "does", "entries"],
        ),
        "allOf": rules,
    }


def _each_entry(shape: Mapping[str, Any], required: str) -> dict[str, Any]:
    entry = {**shape, "required": [required]}
    return {"properties": {"entries": {"additionalProperties": entry}}}


def wording_of(data: Mapping[str, Any]) -> Wording:
    """Make the wording of a finding out of its `letter` block, which has passed its schema."""
    measure = data.get("measure", {})
    says = _by_name(data.get("says", {}))
    if "absent" in data:
        says["absent"] = tuple(data["absent"])
    return Wording(
        at=_by_name(data.get("at", {})),
        variants=tuple(data.get("variants", ())),
        abbreviations=_by_name(data.get("abbreviations", {})),
        not_in=tuple(data.get("not_in", ())),
        near=tuple(data.get("near", ())),
        not_near=tuple(data.get("not_near", ())),
        results=_by_name(data.get("results", {})),
        says=says,
        chronic=data.get("chronic", False),
        past=data.get("past", ""),
        dimensions=tuple(data.get("dimensions", ())),
        largest=data.get("largest", ""),
        measure=Measure(
            tuple(measure.get("times", ())),
            tuple(measure.get("beside", ())),
            measure.get("bare", False),
        ),
        exact=data.get("exact", False),
        few_words=data.get("few_words", ""),
    )


def _by_name(data: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    return {name: tuple(phrases) for name, phrases in data.items()}


def modifiers_of(data: Mapping[str, Any]) -> Iterator[Modifier]:
    """Yield the modifiers of one file that has passed its schema."""
    for name, entry in data["entries"].items():
        yield Modifier(
            id=f"{data['group']}.{name}",
            does=data["does"],
            phrases=tuple(entry["phrases"]),
            says=entry.get("says", name if data["does"] == "part" else ""),
            reach=entry.get("reach", "after"),
            words=entry.get("words", 0),
            closes=tuple(entry.get("closes", ())),
            lists=entry.get("lists", False),
        )


def misfits(
    definition: Definition, vocabulary: Vocabulary, parts: frozenset[str]
) -> Iterator[tuple[str, str]]:
    """Yield pointer and words for whatever in a wording names what does not exist."""
    wording = definition.letter
    for key, named in (("results", wording.results), ("says", wording.says)):
        for value in named:
            if value not in definition.values:
                yield f"/letter/{key}", f"{value!r} is no value of {definition.id}"
    for part in wording.at:
        if part not in parts:
            yield f"/letter/at/{part}", f"no part of the body goes by {part!r}"
    others = [*wording.dimensions, *filter(None, (wording.largest, wording.past))]
    for other in others:
        if other not in vocabulary:
            yield "/letter", f"no finding goes by {other!r}"
        elif vocabulary[other].derived:
            yield "/letter", f"{other} is derived, so no letter can state it"
    for other in (*wording.dimensions, *filter(None, (wording.largest,))):
        if other in vocabulary and vocabulary[other].kind != "quantity":
            yield "/letter", f"{other} is no quantity"
