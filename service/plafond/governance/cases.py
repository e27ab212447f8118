"""What the cases of a rule show: whether each comes out as it says, and what none of them shows.

Every case goes through the oracle with the derivations of the whole rulebook. Asked of each rule:
is each limit shown on it, just beside it and unrecorded; does some case hang on each clause, both
ways round (masking MC/DC)?
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

from plafond.errors import Issue
from plafond.findings import Finding, Findings, Known, Origin, Truth
from plafond.governance.limits import Limit, beside, limits_of
from plafond.governance.places import Places
from plafond.governance.tables import Choice, Row, domains, table_of
from plafond.governance.trees import Way, clause_places, expanded, put
from plafond.inference.evaluate import evaluate
from plafond.rulebook import Case, Clause, Condition, Is, Rule, Rulebook, holds, say_clause
from plafond.vocabulary import Definition, Value, Vocabulary, written

#: Stands where a clause stood, so that its truth can be set.
FORCED = Is("what-is-forced", "present")

Values = Mapping[str, Value]
Test = Callable[[Values], bool]
Change = tuple[tuple[str, Choice], ...]


def case_known(case: Case, vocabulary: Vocabulary) -> Known:
    """Return what a rule's case gives, as if recorded of the left side."""
    records = []
    for side, given in (("left", case.given), ("right", case.opposite)):
        for name, raw in given.items():
            definition = vocabulary[name]
            where = side if definition.sided else "person"
            origin = Origin(f"/{where}/{name}")
            records.append(Finding(name, where, definition.read(raw), origin, written(raw)))
    return Findings(tuple(records)).known("left", vocabulary)


def with_derived(rulebook: Rulebook, rule: Rule, values: Values) -> dict[str, Value]:
    """Return known values with the derived findings a rule tests, worked out by the oracle."""
    settled = dict(values)
    for finding in rule.findings:
        deriving = rulebook.derived_by.get(finding)
        if deriving is not None:
            inner = with_derived(rulebook, deriving, values)
            truth = evaluate(deriving.condition, inner)
            if truth is not Truth.UNKNOWN:
                settled[finding] = "present" if truth is Truth.MET else "absent"
    return settled


def case_truth(rulebook: Rulebook, rule: Rule, case: Case) -> Truth:
    """Return what a rule says to one of its cases, by the oracle, derived findings worked out."""
    known = case_known(case, rulebook.vocabulary)
    return evaluate(rule.condition, with_derived(rulebook, rule, known.values))


@dataclass(frozen=True)
class Shown:
    """A rule with what its cases give: recorded values, and those with derived findings."""

    rulebook: Rulebook
    rule: Rule
    recorded: tuple[dict[str, Value], ...]
    values: tuple[dict[str, Value], ...]

    def with_derived(self, values: Values) -> dict[str, Value]:
        """Return recorded values with the derived findings the rule tests."""
        return with_derived(self.rulebook, self.rule, values)


def shown_by(rulebook: Rulebook, rule: Rule) -> Shown:
    """Return a rule with what its cases give."""
    recorded = tuple(dict(case_known(case, rulebook.vocabulary).values) for case in rule.cases)
    values = tuple(with_derived(rulebook, rule, one) for one in recorded)
    return Shown(rulebook, rule, recorded, values)


def failing(shown: Shown, places: Places) -> Iterator[Issue]:
    """Yield every case that does not come out as it says."""
    for index, (case, values) in enumerate(zip(shown.rule.cases, shown.values, strict=True)):
        truth = evaluate(shown.rule.condition, values)
        if truth.value != case.expect:
            message = f"the case {case.name!r} gives {truth.value}, not {case.expect}"
            yield places.rule(shown.rule.id, f"/cases/{index}", message, "error")


# -- limits: on, just beside, unrecorded --------------------------------------------------


def unshown_limits(shown: Shown, places: Places) -> Iterator[Issue]:
    """Yield every limit that no case stands on, or just beside, or leaves open."""
    said: set[str] = set()
    for way, clause in clause_places(shown.rule.condition):
        definition = shown.rulebook.vocabulary[clause.finding]
        values = [known.get(clause.finding) for known in shown.values]
        for limit in limits_of(clause, definition):
            for message in _unshown(clause, limit, definition, values):
                if message not in said:
                    said.add(message)
                    yield places.condition(shown.rule, way, message, "warning", "add a case")


def _unshown(
    clause: Clause, limit: Limit, definition: Definition, values: list[Value | None]
) -> Iterator[str]:
    if limit.value not in values:
        yield f"no case has {clause.finding} exactly at {limit.shown}"
    for step in (-1, 1):
        edge = beside(limit, definition, step)
        if holds(clause, edge.value) == holds(clause, limit.value):
            continue
        low, high = sorted((edge.value, limit.value))
        possible = definition.low <= edge.value <= definition.high
        near = [value for value in values if value is not None and value != limit.value]
        if possible and not any(low <= value <= high for value in near):  # type: ignore[operator]
            side = "below" if step < 0 else "above"
            yield f"no case has {clause.finding} just {side} {limit.shown}, as {edge.shown} is"
    if None not in values:
        yield f"no case leaves {clause.finding} unrecorded"


# -- clauses: does some case hang on each? ------------------------------------------------


def undecided(shown: Shown, places: Places) -> Iterator[Issue]:
    """Yield every clause on which no case hangs: forcing it the other way changes no outcome.

    A clause that cannot decide anything, whatever is recorded, is no missing case; `reasoning`
    speaks of it.
    """
    said: set[str] = set()
    for way, clause in clause_places(shown.rule.condition):
        definition = shown.rulebook.vocabulary[clause.finding]
        for wanted in (Truth.MET, Truth.NOT_MET):
            test = _decides(shown.rule.condition, way, clause, wanted)
            if any(test(values) for values in shown.values):
                continue
            if not _can_decide(shown, way, clause, wanted):
                continue
            words = f"`{clause.finding}: {say_clause(clause, definition)}`"
            message = f"no case hangs on {words} being {wanted.value}"
            if message not in said:
                said.add(message)
                hint = hint_of(shown, test, (shown.rule.condition,))
                yield places.condition(shown.rule, way, message, "warning", hint or "add a case")


def _decides(tree: Condition, way: Way, clause: Clause, wanted: Truth) -> Test:
    """Return the test: the clause has this truth, and the other would change the outcome."""
    forced = put(tree, way, FORCED)

    def test(values: Values) -> bool:
        if evaluate(clause, values) is not wanted:
            return False
        met = evaluate(forced, {**values, FORCED.finding: "present"})
        return met is not evaluate(forced, {**values, FORCED.finding: "absent"})

    return test


def _can_decide(shown: Shown, way: Way, clause: Clause, wanted: Truth) -> bool:
    """Say whether any combination of findings makes the outcome hang on a clause.

    True where the table would be too large to tell. Derived findings count as recorded.
    """
    tree = shown.rule.condition
    table = table_of(shown.rulebook.vocabulary, tree)
    if table is None:
        return True
    forced = put(tree, way, FORCED)
    rows = []
    for met in (True, False):
        table.suppose(FORCED, met)
        rows.append(table.row(forced))
    own = table.row(clause)
    hangs = differing(rows[0], rows[1])
    return bool(hangs & (own.met if wanted is Truth.MET else own.failed))


def differing(one: Row, two: Row) -> int:
    """Return the combinations in which two conditions have different truths."""
    return (one.met ^ two.met) | (one.failed ^ two.failed)


# -- hints: the case that would show it ---------------------------------------------------


def hint_of(shown: Shown, test: Test, trees: tuple[Condition, ...]) -> str:
    """Return in words a case that passes a test: one of the rule's own with a finding changed.

    One that the rule decides is preferred; two findings are changed where one will not do, and
    then a derived one, whatever derives it. Empty where none is found.
    """
    vocabulary = shown.rulebook.vocabulary
    singles = _singles(domains(vocabulary, [expanded(tree, shown.rulebook) for tree in trees]))
    pairs = [one + two for one, two in combinations(singles, 2)]
    derived = _singles(domains(vocabulary, trees))
    return (
        _nearest(shown, test, singles)
        or _nearest(shown, test, pairs)
        or _nearest(shown, test, derived, above=True)
    )


def _singles(choices: Mapping[str, tuple[Choice, ...]]) -> list[Change]:
    return [((finding, choice),) for finding, few in choices.items() for choice in few]


def _nearest(shown: Shown, test: Test, changes: list[Change], above: bool = False) -> str:
    """Return the first case that passes with one of the changes, made to what it records.

    With `above` the change is made after derived findings have been worked out.
    """
    second = ""
    for index, case in enumerate(shown.rule.cases):
        for change in changes:
            if above:
                values = _changed(shown.values[index], change)
            else:
                values = shown.with_derived(_changed(shown.recorded[index], change))
            if not test(values):
                continue
            told = " and ".join(f"{finding} {choice.shown}" for finding, choice in change)
            words = f"add a case like {case.name!r} with {told}"
            if evaluate(shown.rule.condition, values) is not Truth.UNKNOWN:
                return words
            second = second or words
    return second


def _changed(recorded: Values, change: Change) -> dict[str, Value]:
    values = dict(recorded)
    for finding, choice in change:
        values.pop(finding, None)
        if choice.value is not None:
            values[finding] = choice.value
    return values
