"""The slips somebody could make in a rule: its condition with one thing changed, and in words what.

A number moved by one unit in its last place, a comparison taken for its neighbour or its opposite,
a value exchanged, let in or left out, all taken for any, a part or a `not` forgotten, a count one
off. A parameter moves wherever it is used.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

from plafond.governance.limits import Limit, beside, limits_of, moved
from plafond.governance.trees import Way, clause_places, nodes, parts_of, pointer, put, say
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
    Rule,
    say_clause,
)
from plafond.vocabulary import Definition, Vocabulary

#: Each comparison: the one that differs on the limit only, and the one that looks the other way.
NEIGHBOUR = {"at_least": "above", "above": "at_least", "at_most": "below", "below": "at_most"}
OPPOSITE = {"at_least": "at_most", "at_most": "at_least", "above": "below", "below": "above"}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One slip: what it is, in words that no other slip of the rule has; where; and the tree.

    `way` leads to the node that is changed, or forgotten, in the condition as written.
    """

    text: str
    way: Way
    tree: Condition


def mutants_of(rule: Rule, vocabulary: Vocabulary) -> list[Mutant]:
    """Return every slip of a rule's condition, in the order the condition is written."""
    found = [*_slips(rule.condition, vocabulary), *_moved_parameters(rule, vocabulary)]
    twice = {text for text, count in Counter(one.text for one in found).items() if count > 1}
    return [
        replace(one, text=f"{one.text} (in when{pointer(rule.condition, one.way)})")
        if one.text in twice
        else one
        for one in found
    ]


def _slips(tree: Condition, vocabulary: Vocabulary) -> Iterator[Mutant]:
    for way, node in nodes(tree):
        match node:
            case Is() | OneOf() | Compare() | Between():
                found = _of_clause(node, vocabulary[node.finding])
            case _:
                found = _of_group(node)
        for text, changed in found:
            yield Mutant(text, way, put(tree, way, changed))
        for index, text, changed in _without_a_part(node):
            yield Mutant(text, (*way, index), put(tree, way, changed))


def _of_clause(clause: Clause, definition: Definition) -> Iterator[tuple[str, Condition]]:
    for changed in _changed_clauses(clause, definition):
        old, new = say_clause(clause, definition), say_clause(changed, definition)
        yield f"{clause.finding}: {new} instead of {old}", changed


def _changed_clauses(clause: Clause, definition: Definition) -> Iterator[Clause]:
    match clause:
        case Is(_, value):
            yield from (
                replace(clause, value=other) for other in definition.values if other != value
            )
            if definition.kind == "choice":
                for wider in _wider(definition, (value,)):
                    yield OneOf(clause.finding, wider)
        case OneOf(_, values):
            for wider in _wider(definition, values):
                yield replace(clause, values=wider)
            for index in range(len(values)):
                yield replace(clause, values=(*values[:index], *values[index + 1 :]))
        case Compare(_, word, _):
            yield replace(clause, word=NEIGHBOUR[word])
            yield replace(clause, word=OPPOSITE[word])
            if not clause.parameter:
                yield from _moved_limits(clause, definition)
        case Between():
            yield from _moved_limits(clause, definition)


def _wider(definition: Definition, values: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    """Yield the values with one more: those that stand beside one of them in the vocabulary."""
    order = definition.values
    for index, value in enumerate(order):
        beside_it = {*order[max(index - 1, 0) : index], *order[index + 1 : index + 2]}
        if value not in values and beside_it & set(values):
            yield (*values, value)


def _moved_limits(clause: Clause, definition: Definition) -> Iterator[Clause]:
    for limit in limits_of(clause, definition):
        for steps in (-1, 1):
            yield moved(clause, limit, beside(limit, definition, steps))


def _of_group(group: Condition) -> Iterator[tuple[str, Condition]]:
    parts = parts_of(group)
    about = say(group)
    match group:
        case Not(part):
            yield f"`not` forgotten before {about}", part
        case All() if len(parts) > 1:
            yield f"any instead of all of {about}", AnyOf(parts)
        case AnyOf() if len(parts) > 1:
            yield f"all instead of any of {about}", All(parts)
        case AtLeast(count, _):
            for other in (count - 1, count + 1):
                if 1 <= other <= len(parts):
                    text = f"at least {other} instead of {count} of {about}"
                    yield text, replace(group, count=other)
        case _:
            pass


def _without_a_part(group: Condition) -> Iterator[tuple[int, str, Condition]]:
    if not isinstance(group, All | AnyOf | AtLeast):
        return
    least = group.count if isinstance(group, AtLeast) else 1
    for index, part in enumerate(group.parts):
        kept = (*group.parts[:index], *group.parts[index + 1 :])
        if len(kept) >= least:
            yield index, f"without the part on {say(part)}", replace(group, parts=kept)


def _moved_parameters(rule: Rule, vocabulary: Vocabulary) -> Iterator[Mutant]:
    """Yield the condition with a parameter moved, in every clause that uses it."""
    used: dict[str, list[tuple[Way, Compare]]] = {}
    for way, clause in clause_places(rule.condition):
        if isinstance(clause, Compare) and clause.parameter:
            used.setdefault(clause.parameter, []).append((way, clause))
    for name, places in used.items():
        for steps in (-1, 1):
            tree = rule.condition
            for way, clause in places:
                definition = vocabulary[clause.finding]
                (old,) = limits_of(clause, definition)
                new: Limit = beside(old, definition, steps)
                tree = put(tree, way, moved(clause, old, new))
            yield Mutant(f"{name}: {new.shown} instead of {old.shown}", places[0][0], tree)
