"""Truth tables: every combination of what may be known of a few findings, one bit each.

Proves things of conditions without a solver: that two are the same, that one can never be met,
that a part never matters. Takes the values of each finding that the conditions tell apart (and
"not recorded"), so a table is exact for the values the vocabulary allows, in Kleene's logic.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from itertools import pairwise
from math import prod
from typing import assert_never

from plafond.governance.limits import Limit, beside, limits_of
from plafond.rulebook import (
    All,
    AnyOf,
    AtLeast,
    Between,
    Clause,
    Compare,
    Condition,
    Is,
    Not,
    OneOf,
    clauses,
    holds,
)
from plafond.vocabulary import Definition, Value, Vocabulary

#: The most combinations a table may have: two million bits are a quarter of a megabyte.
MOST = 2_000_000


@dataclass(frozen=True, slots=True)
class Choice:
    """One thing that may be known of a finding, and how to write it; no value: not recorded."""

    value: Value | None
    shown: str


@dataclass(frozen=True, slots=True)
class Row:
    """What a condition says over a whole table: the combinations that make it met, and not met."""

    met: int
    failed: int


def domains(
    vocabulary: Vocabulary, conditions: Iterable[Condition]
) -> dict[str, tuple[Choice, ...]]:
    """Return, for each finding tested, one value of each kind the conditions tell apart.

    The last choice of each is that nothing is recorded. Numbers stand on a limit or just beside
    one where they can.
    """
    tests: dict[str, dict[Clause, None]] = {}
    for condition in conditions:
        for clause in clauses(condition):
            tests.setdefault(clause.finding, {})[clause] = None
    return {
        finding: (*_told_apart(vocabulary[finding], list(found)), Choice(None, "not recorded"))
        for finding, found in tests.items()
    }


def _told_apart(definition: Definition, tests: Sequence[Clause]) -> list[Choice]:
    kept: dict[tuple[bool, ...], Choice] = {}
    for choice in _choices(definition, tests):
        assert choice.value is not None
        answers = tuple(holds(clause, choice.value) for clause in tests)
        kept.setdefault(answers, choice)
    return list(kept.values())


def _choices(definition: Definition, tests: Sequence[Clause]) -> list[Choice]:
    if not definition.numeric:
        return [Choice(value, value) for value in definition.values]
    written = [limit for clause in tests for limit in limits_of(clause, definition)]
    near = [beside(limit, definition, step) for limit in written for step in (-1, 1)]
    ends = [Limit("", end, definition.show(end)) for end in (definition.low, definition.high)]
    marks = [
        mark for mark in (*written, *near, *ends) if definition.low <= mark.value <= definition.high
    ]
    between = [(one + two) / 2 for one, two in pairwise(sorted({mark.value for mark in marks}))]
    if definition.kind == "count":
        # every whole number next to a limit is a mark already
        between = [value for value in between if value == int(value)]
    return [
        *(Choice(mark.value, mark.shown) for mark in marks),
        *(Choice(value, definition.show(value)) for value in between),
    ]


class Table:
    """Every combination of the choices of some findings."""

    def __init__(self, choices: Mapping[str, Sequence[Choice]]) -> None:
        self._choices = dict(choices)
        self.size = prod(len(values) for values in self._choices.values())
        self.everything = _ones(self.size)
        self._strides: dict[str, int] = {}
        stride = 1
        for finding, values in self._choices.items():
            self._strides[finding] = stride
            stride *= len(values)
        self._rows: dict[Clause, Row] = {}

    def row(self, condition: Condition) -> Row:
        """Return where a condition is met and where it is not met; elsewhere it is unknown."""
        match condition:
            case Is() | OneOf() | Compare() | Between():
                if condition not in self._rows:
                    self._rows[condition] = self._clause(condition)
                return self._rows[condition]
            case Not(part):
                inner = self.row(part)
                return Row(inner.failed, inner.met)
            case All(parts):
                return self._at_least(len(parts), parts)
            case AnyOf(parts):
                return self._at_least(1, parts)
            case AtLeast(count, parts):
                return self._at_least(count, parts)
            case _ as never:
                assert_never(never)

    def suppose(self, clause: Clause, met: bool) -> None:
        """Take a clause as met, or as not met, in every combination from now on."""
        self._rows[clause] = Row(self.everything, 0) if met else Row(0, self.everything)

    def at(self, combinations: int) -> dict[str, Choice]:
        """Return the first of some combinations: what is known of each finding there."""
        index = (combinations & -combinations).bit_length() - 1
        return {
            finding: values[index // self._strides[finding] % len(values)]
            for finding, values in self._choices.items()
        }

    def _clause(self, clause: Clause) -> Row:
        met: list[int] = []
        failed: list[int] = []
        for index, choice in enumerate(self._choices[clause.finding]):
            if choice.value is not None:
                (met if holds(clause, choice.value) else failed).append(index)
        return Row(self._spread(clause.finding, met), self._spread(clause.finding, failed))

    def _spread(self, finding: str, indexes: Sequence[int]) -> int:
        """Return the combinations in which a finding has one of these choices."""
        stride = self._strides[finding]
        block = reduce(int.__or__, (_ones(stride) << stride * index for index in indexes), 0)
        width = stride * len(self._choices[finding])
        while width < self.size:
            block |= block << width
            width *= 2
        return block & self.everything

    def _at_least(self, count: int, parts: Sequence[Condition]) -> Row:
        rows = [self.row(part) for part in parts]
        met = self._reached(count, [row.met for row in rows])
        return Row(met, self._reached(len(parts) - count + 1, [row.failed for row in rows]))

    def _reached(self, count: int, sets: Sequence[int]) -> int:
        """Return the combinations that stand in at least so many of the sets."""
        if count == 1:
            return reduce(int.__or__, sets)
        if count == len(sets):
            return reduce(int.__and__, sets)
        reached = [self.everything, *([0] * count)]
        for one in sets:
            for level in range(count, 0, -1):
                reached[level] |= reached[level - 1] & one
        return reached[count]


def _ones(width: int) -> int:
    return (1 << width) - 1


def table_of(vocabulary: Vocabulary, *conditions: Condition) -> Table | None:
    """Return a table that tells these conditions apart wherever they differ.

    None where it would be too large.
    """
    choices = domains(vocabulary, conditions)
    if prod(len(values) for values in choices.values()) > MOST:
        return None
    return Table(choices)
