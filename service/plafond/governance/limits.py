"""The numbers a condition tests, as they are written, and the numbers just beside them.

"Just beside" is one unit in the last place of the number as its author wrote it: beside `12 wk`
stand 11 wk and 13 wk, beside `0.40` stand 0.39 and 0.41.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from plafond.quantities import Quantity, plain, read_quantity
from plafond.rulebook import Between, Clause, Compare, Condition
from plafond.vocabulary import Definition


@dataclass(frozen=True, slots=True)
class Limit:
    """One number of a clause: in base units, and as written.

    `end` is the field of the clause it stands in: limit, low or high. A ratio has no unit.
    """

    end: str
    value: Decimal
    shown: str


def limits_of(clause: Condition, definition: Definition) -> tuple[Limit, ...]:
    """Return the numbers of a clause; none for a clause of words or a group."""
    match clause:
        case Compare(_, _, limit):
            return (Limit("limit", limit, _bare(clause.shown or definition.show(limit))),)
        case Between(_, low, high):
            shown = clause.shown or (definition.show(low), definition.show(high))
            return (Limit("low", low, _bare(shown[0])), Limit("high", high, _bare(shown[1])))
        case _:
            return ()


def _bare(shown: str) -> str:
    """Return a ratio without its unit "1"; other quantities as they are written."""
    return shown.removesuffix(" 1")


def beside(limit: Limit, definition: Definition, steps: int) -> Limit:
    """Return the number so many units in the last place above (or below, negative) a limit."""
    quantity = as_written(limit, definition)
    step = Decimal(1).scaleb(min(int(quantity.value.as_tuple().exponent), 0))
    moved = quantity.value + step * steps
    if definition.kind == "count":
        return replace(limit, value=moved, shown=plain(moved))
    there = Quantity(moved, quantity.unit)
    return replace(limit, value=definition.base_of(there), shown=str(there))


def as_written(limit: Limit, definition: Definition) -> Quantity:
    """Return a limit as a quantity in the unit it was written in; a count has unit 1."""
    if definition.kind == "count":
        return Quantity(Decimal(limit.shown), "1")
    return read_quantity(limit.shown)


def moved(clause: Clause, old: Limit, new: Limit) -> Clause:
    """Return a clause with one of its numbers exchanged for another."""
    match clause:
        case Compare():
            return replace(clause, limit=new.value, shown=new.shown)
        case Between(_, low, high) if old.end == "low":
            shown = (new.shown, clause.shown[1]) if clause.shown else ()
            return replace(clause, low=new.value, high=high, shown=shown)
        case Between(_, low, high):
            shown = (clause.shown[0], new.shown) if clause.shown else ()
            return replace(clause, low=low, high=new.value, shown=shown)
        case _:
            raise AssertionError("a clause of words has no number to move")
