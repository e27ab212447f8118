"""The condition of a rule: a small tree of typed clauses, frozen and hashable.

Reads a tree from the plain data of a rule file, gives it back in canonical form, and says it in
words. Every interpreter matches over `Condition` and ends in `assert_never`, so a new node shows
the type checker each place that has to handle it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, assert_never

from plafond.errors import QuantityError
from plafond.quantities import plain
from plafond.vocabulary import Definition, Value, Vocabulary, written

#: Words that compare numbers, and how a reader says them.
COMPARISONS = {
    "at_least": "at least",
    "above": "above",
    "at_most": "at most",
    "below": "below",
}
CLAUSE_WORDS = ("is", "is_one_of", *COMPARISONS, "between")
GROUP_WORDS = ("all", "any", "not", "at_least ... of")


@dataclass(frozen=True, slots=True)
class Is:
    """The finding has this value."""

    finding: str
    value: str
    cites: str = ""


@dataclass(frozen=True, slots=True)
class OneOf:
    """The finding has one of these values."""

    finding: str
    values: tuple[str, ...]
    cites: str = ""


@dataclass(frozen=True, slots=True)
class Compare:
    """The finding's number stands so to the limit; `word` is one of COMPARISONS."""

    finding: str
    word: str
    limit: Decimal
    cites: str = ""
    parameter: str = ""
    shown: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class Between:
    """The finding's number lies between two limits, both included."""

    finding: str
    low: Decimal
    high: Decimal
    cites: str = ""
    shown: tuple[str, ...] = field(default=(), compare=False)


@dataclass(frozen=True, slots=True)
class All:
    """Every part is met."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class AnyOf:
    """At least one part is met."""

    parts: tuple[Condition, ...]


@dataclass(frozen=True, slots=True)
class Not:
    """The part is not met."""

    part: Condition


@dataclass(frozen=True, slots=True)
class AtLeast:
    """So many of the parts are met."""

    count: int
    parts: tuple[Condition, ...]


Clause = Is | OneOf | Compare | Between
Condition = Is | OneOf | Compare | Between | All | AnyOf | Not | AtLeast


@dataclass(frozen=True, slots=True)
class Parameter:
    """A named threshold: a value somebody published, and where."""

    name: str
    value: str
    cites: str
    confidence: str


def read_condition(
    data: Any, vocabulary: Vocabulary, parameters: Mapping[str, Parameter]
) -> Condition:
    """Read a condition from the plain data of a rule file.

    A bare finding id means "is present". Raises QuantityError for a value that does not fit its
    finding and NotKnownError for an unknown finding or parameter; the shape itself is checked by
    the JSON Schema before.
    """
    if isinstance(data, str):
        return Is(data, str(vocabulary[data].read("present")))
    if "of" in data:
        count, of = int(data["at_least"]), data["of"]
        if count > len(of):
            raise QuantityError(f"at least {count} of {len(of)} parts can never be met")
        return AtLeast(count, _parts(of, vocabulary, parameters))
    ((key, inner),) = data.items()
    match key:
        case "all":
            return All(_parts(inner, vocabulary, parameters))
        case "any":
            return AnyOf(_parts(inner, vocabulary, parameters))
        case "not":
            return Not(read_condition(inner, vocabulary, parameters))
        case _:
            return _read_clause(vocabulary[key], inner, parameters)


def _parts(
    items: list[Any], vocabulary: Vocabulary, parameters: Mapping[str, Parameter]
) -> tuple[Condition, ...]:
    return tuple(read_condition(item, vocabulary, parameters) for item in items)


def _read_clause(
    definition: Definition, data: Mapping[str, Any], parameters: Mapping[str, Parameter]
) -> Clause:
    cites = str(data.get("cites", ""))
    words = [word for word in data if word != "cites"]
    if len(words) != 1:
        raise QuantityError("one clause, one word", found=" and ".join(words) or "none")
    word, raw = words[0], data[words[0]]
    match word:
        case "is":
            return Is(definition.id, str(definition.read(raw)), cites)
        case "is_one_of":
            return OneOf(definition.id, tuple(str(definition.read(item)) for item in raw), cites)
        case "between":
            low, high = (_number(definition, item) for item in raw)
            if low > high:
                between = f"{written(raw[0])} and {written(raw[1])}"
                raise QuantityError(f"between {between} there is nothing")
            return Between(definition.id, low, high, cites, tuple(map(written, raw)))
        case _:
            if isinstance(raw, Mapping):
                parameter = parameters[raw["parameter"]]
                limit = _number(definition, _plain_value(parameter.value))
                return Compare(
                    definition.id, word, limit, parameter.cites, parameter.name, parameter.value
                )
            limit = _number(definition, raw)
            return Compare(definition.id, word, limit, cites, shown=written(raw))


def _plain_value(text: str) -> object:
    return int(text) if text.isdecimal() else text


def _number(definition: Definition, raw: object) -> Decimal:
    value = definition.read(raw)
    assert isinstance(value, Decimal)
    return value


def write_condition(condition: Condition) -> Any:
    """Return the meaning of a condition as plain data: no citations, parts in a fixed order.

    Two conditions that differ only in wording, order or source give the same data.
    """
    match condition:
        case Is(finding, value):
            return {"finding": finding, "is": value}
        case OneOf(finding, values):
            return {"finding": finding, "is_one_of": sorted(values)}
        case Compare(finding, word, limit):
            return {"finding": finding, word: plain(limit)}
        case Between(finding, low, high):
            return {"finding": finding, "between": [plain(low), plain(high)]}
        case All(parts):
            return {"all": _sorted(parts)}
        case AnyOf(parts):
            return {"any": _sorted(parts)}
        case Not(part):
            return {"not": write_condition(part)}
        case AtLeast(count, parts):
            return {"at_least": count, "of": _sorted(parts)}
        case _ as never:
            assert_never(never)


def _sorted(parts: tuple[Condition, ...]) -> list[Any]:
    return sorted((write_condition(part) for part in parts), key=repr)


def clauses(condition: Condition) -> Iterator[Clause]:
    """Yield every clause of a condition, in the order it is written."""
    match condition:
        case Is() | OneOf() | Compare() | Between():
            yield condition
        case All(parts) | AnyOf(parts) | AtLeast(_, parts):
            for part in parts:
                yield from clauses(part)
        case Not(part):
            yield from clauses(part)
        case _ as never:
            assert_never(never)


def holds(clause: Clause, value: Value) -> bool:
    """Say whether a clause holds for a known value of its finding."""
    match clause:
        case Is(_, wanted):
            return value == wanted
        case OneOf(_, values):
            return value in values
        case Between(_, low, high):
            return low <= _decimal(value) <= high
        case Compare(_, word, limit):
            return compare(word, _decimal(value), limit)
        case _ as never:
            assert_never(never)


def compare(word: str, number: Decimal, limit: Decimal) -> bool:
    """Say whether a number stands to a limit as the word says."""
    match word:
        case "at_least":
            return number >= limit
        case "above":
            return number > limit
        case "at_most":
            return number <= limit
        case _:
            return number < limit


def _decimal(value: Value) -> Decimal:
    assert isinstance(value, Decimal)
    return value


def say_clause(clause: Clause, definition: Definition) -> str:
    """Return what a clause asks of its finding, in words: `at least 9 deg`."""
    match clause:
        case Is(_, value):
            return value
        case OneOf(_, values):
            return " or ".join(values)
        case Between(_, low, high):
            ends = clause.shown or (definition.show(low), definition.show(high))
            return f"from {_bare(ends[0])} to {_bare(ends[1])}"
        case Compare(_, word, limit):
            return f"{COMPARISONS[word]} {_bare(clause.shown or definition.show(limit))}"
        case _ as never:
            assert_never(never)


def _bare(shown: str) -> str:
    """Return a ratio without its unit "1"; other quantities as they are written."""
    return shown.removesuffix(" 1")
