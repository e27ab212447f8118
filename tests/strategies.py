"""Everything random the tests are made of: vocabularies, conditions, cases, rulebooks, mutants.

One generator for two uses. `Drawn` lets Hypothesis choose (and shrink what fails); `Seeded` takes
the choices from a seeded `random.Random`, for runs of ten thousand that must be the same tomorrow.
Knows the rulebook's shapes, and no interpreter.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Protocol, TypeVar

from hypothesis import strategies as st

from plafond.quantities import SPELLINGS, UNITS, plain
from plafond.rulebook import (
    All,
    AnyOf,
    AtLeast,
    Between,
    Clause,
    Compare,
    Condition,
    Effect,
    Is,
    Not,
    OneOf,
    Rule,
    Rulebook,
    Scope,
    clauses,
)
from plafond.rulebook.conditions import COMPARISONS
from plafond.vocabulary import Definition, Value, Vocabulary

T = TypeVar("T")

#: Quantities of the made-up vocabulary: unit and plausible range, in that unit.
QUANTITIES = (
    ("mm", 0, 20), ("wk", 0, 60), ("deg", -10, 10), ("1", 0, 2), ("cm", 1, 9), ("/mm3", 0, 800),
)  # fmt: skip
CHOICES = ("north", "east", "south", "west", "middle")
DENSITIES = tuple(step / 10 for step in range(11))


class Choices(Protocol):
    """Where choices come from."""

    def whole(self, low: int, high: int) -> int:
        """Return a whole number, both ends included."""

    def one(self, items: Sequence[T]) -> T:
        """Return one of the items; the first is the simplest."""


class Seeded:
    """Choices of a seeded random number generator."""

    def __init__(self, seed: int) -> None:
        self.random = random.Random(seed)

    def whole(self, low: int, high: int) -> int:
        return self.random.randint(low, high)

    def one(self, items: Sequence[T]) -> T:
        return self.random.choice(items)


class Drawn:
    """Choices of Hypothesis."""

    def __init__(self, draw: Callable[[Any], Any]) -> None:
        self._draw = draw

    def whole(self, low: int, high: int) -> int:
        return int(self._draw(st.integers(low, high)))

    def one(self, items: Sequence[T]) -> T:
        return items[self.whole(0, len(items) - 1)]


def some(choices: Choices, items: Sequence[T], count: int) -> list[T]:
    """Return so many different items, in the order drawn."""
    left = list(items)
    return [left.pop(choices.whole(0, len(left) - 1)) for _ in range(count)]


# -- vocabularies ---------------------------------------------------------------------


def definitions(choices: Choices, size: int) -> dict[str, Definition]:
    """Return so many findings that somebody can record; the first three kinds are always there."""
    made = {}
    for index in range(size):
        kind = ("presence", "quantity", "choice")[index] if index < 3 else choices.one(_KINDS)
        definition = _definition(choices, kind, index)
        made[definition.id] = definition
    return made


_KINDS = ("presence", "quantity", "choice", "count")


def _definition(choices: Choices, kind: str, index: int) -> Definition:
    values: tuple[str, ...] = ()
    unit, low, high = "", 0, 0
    if kind == "presence":
        values = ("present", "absent")
    elif kind == "choice":
        values = CHOICES[: choices.whole(2, len(CHOICES))]
    elif kind == "count":
        high = choices.whole(1, 6)
    else:
        unit, low, high = choices.one(QUANTITIES)
    factor = UNITS[unit][1] if unit else Decimal(1)
    return Definition(
        id=f"{kind}-{index}",
        title=f"Title of {kind} {index}",
        kind=kind,
        sided=bool(index % 4),
        group="made-up",
        question=f"What of {kind} {index}?",
        values=values,
        unit=unit,
        low=low * factor,
        high=high * factor,
    )


def derived_definition(index: int) -> Definition:
    return Definition(
        id=f"derived-{index}",
        title=f"Title of derived {index}",
        kind="presence",
        sided=True,
        group="made-up",
        values=("present", "absent"),
        derived=True,
    )


# -- conditions -----------------------------------------------------------------------


def condition(choices: Choices, known: Sequence[Definition], depth: int) -> Condition:
    """Return a condition over these findings, at most so many groups deep."""
    shape = choices.one(_SHAPES) if depth else "clause"
    match shape:
        case "clause":
            return clause(choices, choices.one(known))
        case "not":
            return Not(condition(choices, known, depth - 1))
        case "many":
            parts = tuple(clause(choices, choices.one(known)) for _ in range(choices.whole(5, 9)))
            return AtLeast(choices.whole(1, len(parts)), parts)
        case _:
            size = choices.whole(1, 3)
            parts = tuple(condition(choices, known, depth - 1) for _ in range(size))
            if shape == "all":
                return All(parts)
            return AnyOf(parts) if shape == "any" else AtLeast(choices.whole(1, size), parts)


_SHAPES = ("clause", "all", "any", "not", "at-least", "all", "any", "many")


def clause(choices: Choices, definition: Definition) -> Clause:
    """Return one test of a finding, with any word its kind allows."""
    if definition.derived:
        return Is(definition.id, choices.one(definition.values))
    if definition.numeric:
        word = choices.one(("at_least", "above", "at_most", "below", "between"))
        if word == "between":
            low, high = sorted((number(choices, definition), number(choices, definition)))
            return Between(definition.id, low, high)
        return Compare(definition.id, word, number(choices, definition))
    if definition.kind == "choice" and choices.whole(0, 2) == 0:
        size = choices.whole(1, len(definition.values))
        return OneOf(definition.id, tuple(some(choices, definition.values, size)))
    return Is(definition.id, choices.one(definition.values))


def number(choices: Choices, definition: Definition) -> Decimal:
    """Return a number of a finding's range on a grid so coarse that limits are often hit."""
    low, high = definition.from_base(definition.low), definition.from_base(definition.high)
    if definition.kind == "count":
        return Decimal(choices.whole(int(low), int(high)))
    return definition.to_base(low + (high - low) * choices.whole(0, 8) / 8)


# -- cases ----------------------------------------------------------------------------


def case(choices: Choices, known: Sequence[Definition], percent: int) -> dict[str, Value]:
    """Return a value for each finding, each known with so many per cent."""
    return {
        one.id: value(choices, one)
        for one in known
        if not one.derived and choices.whole(1, 100) <= percent
    }


def value(choices: Choices, definition: Definition) -> Value:
    return number(choices, definition) if definition.numeric else choices.one(definition.values)


def shuffled(choices: Choices, items: Mapping[str, T]) -> dict[str, T]:
    """Return the same mapping in another order."""
    return {name: items[name] for name in some(choices, list(items), len(items))}


def shuffled_parts(choices: Choices, tree: Condition) -> Condition:
    """Return the same condition with the parts of every group in another order."""
    match tree:
        case All(parts) | AnyOf(parts) | AtLeast(_, parts):
            mixed = [shuffled_parts(choices, part) for part in parts]
            return replace(tree, parts=tuple(some(choices, mixed, len(mixed))))
        case Not(part):
            return Not(shuffled_parts(choices, part))
        case OneOf(_, values):
            return replace(tree, values=tuple(some(choices, values, len(values))))
        case _:
            return tree


# -- rulebooks ------------------------------------------------------------------------


def rule(name: str, tree: Condition, concludes: str = "", **fields: Any) -> Rule:
    """Return a rule that is nothing but its condition (and the finding it derives)."""
    kind = "derivation" if concludes else "caution"
    plain_fields: dict[str, Any] = {
        "id": name, "version": 1, "status": "active", "kind": kind, "title": f"Title of {name}",
        "statement": f"Statement of {name}.", "condition": tree,
        "effect": Effect(concludes=concludes), "confidence": "judgement", "grade": {},
        "sources": (), "parameters": {}, "raised_by": (), "screen": "", "cases": (),
        "data": {"id": name, "then": {"concludes": concludes} if concludes else {}},
    }  # fmt: skip
    return Rule(**{**plain_fields, **fields})


def rulebook_of(
    known: Mapping[str, Definition], rules: Sequence[Rule], digest: str = ""
) -> Rulebook:
    """Return a rulebook of these rules and nothing else."""
    return Rulebook(
        version="2026.1.0",
        title="Made up",
        covers="nothing",
        notice="Made up for a test.",
        scope=Scope(finding="", statement=""),
        complaints=(),
        vocabulary=Vocabulary(known),
        options={},
        sources={},
        rules={one.id: one for one in rules},
        digest=digest,
    )


def rulebook(choices: Choices, *, rules: int, findings: int, depth: int = 3) -> Rulebook:
    """Return a rulebook in which about a fifth of the rules derive what others test.

    A derivation tests only findings derived before it; ids and order say nothing about that.
    """
    known = definitions(choices, findings)
    count = max(1, rules // 5)
    usable = list(known.values())
    made = []
    numbers = some(choices, range(count), count)
    for index in numbers:
        conclusion = derived_definition(index)
        tree = condition(choices, usable, choices.whole(0, 2))
        made.append(rule(f"made.d{index}", tree, conclusion.id))
        known[conclusion.id] = conclusion
        usable.append(conclusion)
    for index in range(rules - count):
        made.append(rule(f"made.r{index}", condition(choices, usable, choices.whole(0, depth))))
    return rulebook_of(known, some(choices, made, len(made)))


# -- mutants --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Mutant:
    """One slip somebody could make in a condition, and in words what it is."""

    what: str
    tree: Condition


def mutants(tree: Condition, vocabulary: Mapping[str, Definition]) -> Iterator[Mutant]:
    """Yield every condition that differs from this one by one slip at one place."""
    yield Mutant("negated", Not(tree))
    match tree:
        case All(parts) | AnyOf(parts) | AtLeast(_, parts):
            yield from _of_group(tree)
            for index, part in enumerate(parts):
                for mutant in mutants(part, vocabulary):
                    kept = (*parts[:index], mutant.tree, *parts[index + 1 :])
                    yield Mutant(mutant.what, replace(tree, parts=kept))
        case Not(part):
            yield Mutant("not dropped", part)
            for mutant in mutants(part, vocabulary):
                yield Mutant(mutant.what, Not(mutant.tree))
        case _:
            yield from _of_clause(tree, vocabulary[tree.finding])


def _of_clause(clause: Clause, definition: Definition) -> Iterator[Mutant]:
    match clause:
        case Compare(_, word, limit):
            for other in (one for one in COMPARISONS if one != word):
                yield Mutant("word changed", replace(clause, word=other))
            for moved in _moved(definition, limit):
                yield Mutant("limit changed", replace(clause, limit=moved))
        case Between(_, low, high):
            for moved in (one for one in _moved(definition, high) if one >= low):
                yield Mutant("limit changed", replace(clause, high=moved))
        case Is(_, value):
            for other in (one for one in definition.values if one != value):
                yield Mutant("value changed", replace(clause, value=other))
        case OneOf(_, values):
            for index in range(len(values) if len(values) > 1 else 0):
                kept = (*values[:index], *values[index + 1 :])
                yield Mutant("value dropped", replace(clause, values=kept))


def _of_group(tree: All | AnyOf | AtLeast) -> Iterator[Mutant]:
    parts = tree.parts
    if isinstance(tree, All):
        yield Mutant("all turned into any", AnyOf(parts))
    elif isinstance(tree, AnyOf):
        yield Mutant("any turned into all", All(parts))
    else:
        if tree.count > 1:
            yield Mutant("count lowered", replace(tree, count=tree.count - 1))
        if tree.count < len(parts):
            yield Mutant("count raised", replace(tree, count=tree.count + 1))
    least = tree.count if isinstance(tree, AtLeast) else 1
    for index in range(len(parts)):
        kept = (*parts[:index], *parts[index + 1 :])
        if len(kept) >= least:
            yield Mutant("part dropped", replace(tree, parts=kept))


def _moved(definition: Definition, limit: Decimal) -> list[Decimal]:
    whole = definition.kind == "count"
    step = Decimal(1) if whole else (definition.high - definition.low) / 8
    moved = (limit - step, limit + step)
    return [one for one in moved if definition.low <= one <= definition.high]


# -- rule-file data -------------------------------------------------------------------


def dump(tree: Condition, vocabulary: Mapping[str, Definition]) -> Any:
    """Return a condition as a rule file writes it: what `read_condition` reads back."""
    match tree:
        case All(parts):
            return {"all": [dump(part, vocabulary) for part in parts]}
        case AnyOf(parts):
            return {"any": [dump(part, vocabulary) for part in parts]}
        case AtLeast(count, parts):
            return {"at_least": count, "of": [dump(part, vocabulary) for part in parts]}
        case Not(part):
            return {"not": dump(part, vocabulary)}
        case Is(finding, value):
            return {finding: _cited(tree, "is", value)}
        case OneOf(finding, values):
            return {finding: _cited(tree, "is_one_of", list(values))}
        case Between(finding, low, high):
            ends = [_limit(vocabulary[finding], one) for one in (low, high)]
            return {finding: _cited(tree, "between", ends)}
        case Compare(finding, word, limit):
            return {finding: _cited(tree, word, _limit(vocabulary[finding], limit))}


def _cited(tree: Clause, word: str, raw: Any) -> dict[str, Any]:
    return {word: raw, "cites": tree.cites} if tree.cites else {word: raw}


def _limit(definition: Definition, limit: Decimal) -> Any:
    if definition.kind == "count":
        return int(limit)
    return f"{plain(definition.from_base(limit))} {definition.unit}"


# -- for Hypothesis -------------------------------------------------------------------

Book = tuple[Rulebook, list[dict[str, Value]]]


@st.composite
def vocabularies(draw: Callable[[Any], Any], most: int = 6) -> dict[str, Definition]:
    choices = Drawn(draw)
    return definitions(choices, choices.whole(3, most))


@st.composite
def conditions(
    draw: Callable[[Any], Any], most: int = 6, depth: int = 3
) -> tuple[dict[str, Definition], Condition]:
    """A vocabulary and a condition over it."""
    choices = Drawn(draw)
    known = definitions(choices, choices.whole(3, most))
    return known, condition(choices, list(known.values()), choices.whole(0, depth))


@st.composite
def conditions_and_cases(
    draw: Callable[[Any], Any], most: int = 6, depth: int = 3
) -> tuple[dict[str, Definition], Condition, dict[str, Value]]:
    """A vocabulary, a condition over it, and what is known of one patient."""
    known, tree = draw(conditions(most, depth))
    return known, tree, draw(cases(known))


@st.composite
def cases(draw: Callable[[Any], Any], known: Mapping[str, Definition]) -> dict[str, Value]:
    """What is known of one patient, from nothing to everything."""
    choices = Drawn(draw)
    return case(choices, list(known.values()), choices.one(range(0, 101, 10)))


@st.composite
def rulebooks(
    draw: Callable[[Any], Any], most_rules: int = 8, most_findings: int = 6, depth: int = 2
) -> Rulebook:
    """A rulebook with derivations."""
    choices = Drawn(draw)
    return rulebook(
        choices,
        rules=choices.whole(2, most_rules),
        findings=choices.whole(3, most_findings),
        depth=depth,
    )


def shapes(tree: Condition) -> Iterator[str]:
    """Yield the name of every node and, for a comparison, its word."""
    yield tree.word if isinstance(tree, Compare) else type(tree).__name__
    match tree:
        case All(parts) | AnyOf(parts) | AtLeast(_, parts):
            for part in parts:
                yield from shapes(part)
        case Not(part):
            yield from shapes(part)
        case _:
            return


def support(tree: Condition) -> tuple[str, ...]:
    """Return the findings a condition tests, each once."""
    return tuple(dict.fromkeys(one.finding for one in clauses(tree)))


# -- documents ------------------------------------------------------------------------

DATES = ("2024-02-29", "2026-01-01", "2026-11-20")


@st.composite
def documents(draw: Callable[[Any], Any], known: Mapping[str, Definition]) -> dict[str, Any]:
    """A document in the native form over these findings, in every way a value may be written."""
    choices = Drawn(draw)
    document: dict[str, Any] = {}
    if choices.whole(0, 1):
        document["reference"] = choices.one(("r-1", "2026:a/7", "X"))
    if choices.whole(0, 1):
        document["recorded"] = choices.one(DATES)
    for place in some(choices, ("left", "right", "unspecified", "person"), choices.whole(0, 4)):
        fitting = [one for one in known.values() if one.sided == (place != "person")]
        said = some(choices, fitting, choices.whole(0, len(fitting)))
        document[place] = {one.id: _said(choices, one) for one in said}
    return document


def _said(choices: Choices, definition: Definition) -> Any:
    if choices.whole(0, 2):
        return _record(choices, definition)
    return [_record(choices, definition) for _ in range(choices.whole(1, 3))]


def _record(choices: Choices, definition: Definition) -> Any:
    raw = _raw(choices, definition)
    if choices.whole(0, 1):
        raw = raw if isinstance(raw, dict) else {"value": raw}
        if choices.whole(0, 1):
            raw["on"] = choices.one(DATES)
    return raw


def _raw(choices: Choices, definition: Definition) -> Any:
    held = value(choices, definition)
    if isinstance(held, str):
        return held
    if definition.kind == "count":
        return int(held)
    unit = choices.one(definition.units)
    written = round(held / UNITS[unit][1], 6)
    if not definition.low <= written * UNITS[unit][1] <= definition.high:
        unit, written = definition.unit, definition.from_base(held)
    word = choices.one([unit, *(word for word, code in SPELLINGS.items() if code == unit)])
    match choices.whole(0, 3):
        case 0:
            return f"{plain(written)} {word}"
        case 1 if word[0].isalpha():
            return f" {plain(written)}{word}"
        case 2 if written == written.to_integral_value():
            return {"value": int(written), "unit": word}
        case _:
            return {"value": float(written), "unit": f" {word}"}
