"""The oracle: strong Kleene logic, straight down the tree.

Shares no pass with the compiler, the function or the engine. Slow and plain on purpose; the
other interpreters are tested against it. Source of the tables: CQL and SQL three-valued logic.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import assert_never

from plafond.findings import Truth
from plafond.rulebook import (
    All,
    AnyOf,
    AtLeast,
    Between,
    Compare,
    Condition,
    Is,
    Not,
    OneOf,
    Rule,
    Rulebook,
    holds,
)
from plafond.vocabulary import Value


def evaluate(condition: Condition, values: Mapping[str, Value]) -> Truth:
    """Return the truth of a condition over the known values; a finding left out is unknown."""
    match condition:
        case Is() | OneOf() | Compare() | Between():
            value = values.get(condition.finding)
            return Truth.UNKNOWN if value is None else Truth.of(holds(condition, value))
        case All(parts):
            return _at_least(len(parts), [evaluate(part, values) for part in parts])
        case AnyOf(parts):
            return _at_least(1, [evaluate(part, values) for part in parts])
        case AtLeast(count, parts):
            return _at_least(count, [evaluate(part, values) for part in parts])
        case Not(part):
            return negate(evaluate(part, values))
        case _ as never:
            assert_never(never)


def _at_least(count: int, truths: list[Truth]) -> Truth:
    met = truths.count(Truth.MET)
    possible = met + truths.count(Truth.UNKNOWN)
    if met >= count:
        return Truth.MET
    return Truth.UNKNOWN if possible >= count else Truth.NOT_MET


def negate(truth: Truth) -> Truth:
    """Turn met and not-met round; leave unknown alone."""
    return {
        Truth.MET: Truth.NOT_MET,
        Truth.NOT_MET: Truth.MET,
        Truth.UNKNOWN: Truth.UNKNOWN,
    }[truth]


def evaluate_rulebook(rulebook: Rulebook, values: Mapping[str, Value]) -> dict[str, Truth]:
    """Return the truth of every rule; derived findings are worked out where they are needed."""
    truths: dict[str, Truth] = {}
    settled = dict(values)

    def settle(rule: Rule) -> Truth:
        if rule.id not in truths:
            for finding in rule.findings:
                if finding in rulebook.derived_by:
                    derived = settle(rulebook.derived_by[finding])
                    if derived is not Truth.UNKNOWN:
                        settled[finding] = "present" if derived is Truth.MET else "absent"
            truths[rule.id] = evaluate(rule.condition, settled)
        return truths[rule.id]

    for rule in rulebook.rules.values():
        settle(rule)
    return truths
