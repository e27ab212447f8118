"""What the rules say together, proved by truth tables: dead rules, dead parts, doubles.

A rule that can never be met or never fail; a part that can never be met, or changes nothing beside
the other parts of its group; two rules that say the same; an indication that an absolute
contraindication always forbids. Where a table would be too large nothing is said.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from plafond.errors import Issue
from plafond.governance.cases import differing
from plafond.governance.places import Places
from plafond.governance.tables import Table, table_of
from plafond.governance.trees import Way, expanded, nodes, parts_of, say
from plafond.rulebook import All, AnyOf, Condition, Rule, Rulebook, clauses, write_condition


def dead(rulebook: Rulebook, rule: Rule, places: Places) -> Iterator[Issue]:
    """Yield a rule, or the parts of one, that can never be met, never fail, or never matter."""
    constant = _constant(rulebook, rule.condition)
    if constant:
        severity = "error" if constant == "be met" else "warning"
        yield places.condition(rule, (), f"this rule can never {constant}", severity)
        return
    quiet: list[Way] = []
    for way, node in nodes(rule.condition):
        if way and not any(way[: len(above)] == above for above in quiet):
            constant = _constant(rulebook, node)
            if constant:
                quiet.append(way)
                message = f"the part on {say(node)} can never {constant}"
                yield places.condition(rule, way, message, "warning", "take it out")
    for way, node in nodes(rule.condition):
        if isinstance(node, All | AnyOf) and not any(way[: len(one)] == one for one in quiet):
            spare = _spare(rulebook, node, {one[-1] for one in quiet if one[:-1] == way})
            if spare is not None:
                message = f"the part on {say(node.parts[spare])} changes nothing beside the others"
                yield places.condition(rule, (*way, spare), message, "warning", "take it out")


def _table(rulebook: Rulebook, *conditions: Condition) -> tuple[Table | None, list[Condition]]:
    """Return a table over what is recorded; derived findings are worked in."""
    wholes = [expanded(condition, rulebook) for condition in conditions]
    return table_of(rulebook.vocabulary, *wholes), wholes


def _constant(rulebook: Rulebook, condition: Condition) -> str:
    """Return what a condition can never do: "be met" or "fail"; nothing where it can do both."""
    table, (whole,) = _table(rulebook, condition)
    if table is None:
        return ""
    row = table.row(whole)
    return "" if row.met and row.failed else "be met" if not row.met else "fail"


def _spare(rulebook: Rulebook, group: All | AnyOf, told: set[int]) -> int | None:
    """Return a part without which a group says the same; the last of them, not told already."""
    table, (whole,) = _table(rulebook, group)
    if table is None or len(group.parts) < 2:
        return None
    row, parts = table.row(whole), parts_of(whole)
    for index in reversed(range(len(parts))):
        kept = (*parts[:index], *parts[index + 1 :])
        without = table.row(type(group)(kept))
        if index not in told and not differing(row, without):
            return index
    return None


def doubles(rulebook: Rulebook, places: Places) -> Iterator[Issue]:
    """Yield every rule that says what another says: the same meaning, or the same condition."""
    by_meaning: dict[str, str] = {}
    by_condition: dict[str, list[Rule]] = {}
    for rule in rulebook.rules.values():
        same = by_meaning.setdefault(rule.digest, rule.id)
        if same != rule.id:
            message = f"means exactly what {same} means"
            yield places.rule(rule.id, "/id", message, "error", "keep one of them")
            continue
        by_condition.setdefault(repr(write_condition(rule.condition)), []).append(rule)
    for rules in by_condition.values():
        for one, two in combinations(rules, 2):
            if _aim(rulebook, one) & _aim(rulebook, two):
                message = f"has the condition of {one.id} and speaks of the same"
                yield places.condition(two, (), message, "warning", "join them, or tell them apart")


def _aim(rulebook: Rulebook, rule: Rule) -> set[str]:
    """Return the options a rule speaks about, or the finding it derives."""
    effect = rule.effect
    named = {effect.supports, effect.concludes} - {""}
    return named | {one.id for one in rulebook.options.values() if effect.target.hits(one)}


def always_forbidden(rulebook: Rulebook, places: Places) -> Iterator[Issue]:
    """Yield every indication that is met only where an absolute contraindication is met too."""
    for option in rulebook.options:
        bars = [rule for rule in rulebook.against[option] if rule.effect.strength == "absolute"]
        for rule in rulebook.indications[option]:
            for bar in bars:
                if _follows(rulebook, rule, bar):
                    message = f"supports {option} only where {bar.id} forbids it"
                    yield places.condition(rule, (), message, "warning")


def _follows(rulebook: Rulebook, rule: Rule, other: Rule) -> bool:
    """Say whether it is proved that one rule is met only where another is."""
    wholes = [expanded(one.condition, rulebook) for one in (rule, other)]
    tested = [{clause.finding for clause in clauses(whole)} for whole in wholes]
    table = table_of(rulebook.vocabulary, *wholes) if tested[0] & tested[1] else None
    if table is None:
        return False
    first, second = (table.row(whole) for whole in wholes)
    return bool(first.met) and not first.met & ~second.met
