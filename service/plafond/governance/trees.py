"""Places in a condition: every node with the way to it, and a tree with one node exchanged.

A way is a tuple of part numbers from the root. Knows the shape of conditions and nothing of what
they mean, except that a derived finding stands for the condition that derives it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import assert_never

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
    Rulebook,
)

Way = tuple[int, ...]


def parts_of(condition: Condition) -> tuple[Condition, ...]:
    """Return the parts of a node; a clause has none."""
    match condition:
        case All(parts) | AnyOf(parts) | AtLeast(_, parts):
            return parts
        case Not(part):
            return (part,)
        case Is() | OneOf() | Compare() | Between():
            return ()
        case _ as never:
            assert_never(never)


def nodes(condition: Condition, way: Way = ()) -> Iterator[tuple[Way, Condition]]:
    """Yield every node with the way to it, the root first, in the order they are written."""
    yield way, condition
    for index, part in enumerate(parts_of(condition)):
        yield from nodes(part, (*way, index))


def clause_places(condition: Condition) -> Iterator[tuple[Way, Clause]]:
    """Yield every clause with the way to it, in the order they are written."""
    for way, node in nodes(condition):
        if isinstance(node, Is | OneOf | Compare | Between):
            yield way, node


def put(condition: Condition, way: Way, new: Condition) -> Condition:
    """Return the tree with the node at the end of a way exchanged for another."""
    if not way:
        return new
    match condition:
        case All(parts) | AnyOf(parts) | AtLeast(_, parts):
            first, rest = way[0], way[1:]
            part = put(parts[first], rest, new)
            return replace(condition, parts=(*parts[:first], part, *parts[first + 1 :]))
        case Not(part):
            return Not(put(part, way[1:], new))
        case _:
            raise AssertionError("a clause has no parts")


def pointer(condition: Condition, way: Way) -> str:
    """Return the JSON pointer of a node, from the root of the condition: `/all/1/any/0/age`."""
    words = {All: "all", AnyOf: "any", AtLeast: "of"}
    text, node = "", condition
    for index in way:
        text += "/not" if isinstance(node, Not) else f"/{words[type(node)]}/{index}"
        node = parts_of(node)[index]
    if isinstance(node, Is | OneOf | Compare | Between):
        text += f"/{node.finding}"
    return text


def apart(one: Condition, two: Condition) -> tuple[Condition, Condition]:
    """Return the smallest pair of parts, at one place of two trees, in which all they differ lies.

    What makes these parts equal makes the trees equal.
    """
    if isinstance(one, AtLeast) and isinstance(two, AtLeast) and one.count != two.count:
        return one, two
    mine, theirs = parts_of(one), parts_of(two)
    if type(one) is not type(two) or not mine or len(mine) != len(theirs):
        return one, two
    differing = [pair for pair in zip(mine, theirs, strict=True) if pair[0] != pair[1]]
    return apart(*differing[0]) if len(differing) == 1 else (one, two)


def expanded(condition: Condition, rulebook: Rulebook) -> Condition:
    """Return the condition with every derived finding replaced by what derives it."""
    match condition:
        case Is(finding, value) if finding in rulebook.derived_by:
            inner = expanded(rulebook.derived_by[finding].condition, rulebook)
            return inner if value == "present" else Not(inner)
        case All(parts) | AnyOf(parts) | AtLeast(_, parts):
            return replace(condition, parts=tuple(expanded(part, rulebook) for part in parts))
        case Not(part):
            return Not(expanded(part, rulebook))
        case _:
            return condition


def say(condition: Condition) -> str:
    """Return a node in a few words: a clause as its finding, a group as the findings it tests."""
    names = list(dict.fromkeys(clause.finding for _, clause in clause_places(condition)))
    few = names if len(names) <= 4 else [*names[:3], "..."]
    return ", ".join(few)
