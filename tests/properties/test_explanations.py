"""Are the sets of findings that suffice for a verdict, or could settle one, exactly the right ones?

Against brute force on small rulebooks: every subset of the findings, every value that tells the
tests apart. Also: does the trace say at every node what the oracle says?
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations, product

from hypothesis import given
from hypothesis import strategies as st

from plafond.findings import Finding, Known, Origin, Truth
from plafond.inference.compile import Program
from plafond.inference.evaluate import evaluate, evaluate_rulebook
from plafond.inference.explain import Explainer, candidates, trace
from plafond.rulebook import All, AnyOf, AtLeast, Not, Rulebook
from plafond.vocabulary import Value
from strategies import Drawn, Seeded, case, rulebook, rulebooks

SETTLING: Mapping[str, tuple[Truth, ...]] = {
    "settles": (Truth.MET, Truth.NOT_MET),
    "meets": (Truth.MET,),
    "clears": (Truth.NOT_MET,),
}


@dataclass(frozen=True)
class Small:
    """A small rulebook and one patient, with everything tried out by hand."""

    book: Rulebook
    values: Mapping[str, Value]

    @cached_property
    def program(self) -> Program:
        return Program(self.book)

    def reach(self, rule: str) -> frozenset[str]:
        """Return the findings a rule tests, its derivations' ones too; no other can matter."""
        names = frozenset(self.book.rules[rule].findings)
        derived = [name for name in names if name in self.book.derived_by]
        below = (self.reach(self.book.derived_by[name].id) for name in derived)
        return names.difference(derived).union(*below)

    def truth(self, rule: str, values: Mapping[str, Value]) -> Truth:
        return evaluate_rulebook(self.book, values)[rule]

    def tried(self, rule: str, names: tuple[str, ...]) -> Iterator[Truth]:
        """Yield the truth of a rule for every way these findings could be recorded besides."""
        tests = self.program.atoms
        ways = [
            candidates(self.book.vocabulary[name], [one for one in tests if one.finding == name])
            for name in names
        ]
        for chosen in product(*ways):
            yield self.truth(rule, {**self.values, **dict(zip(names, chosen, strict=True))})

    def could_settle(self, rule: str, wanted: tuple[Truth, ...]) -> set[frozenset[str]]:
        """Return every minimal set of unrecorded findings that could make a rule one of these."""
        unrecorded = sorted(self.reach(rule) - set(self.values))
        found: set[frozenset[str]] = set()
        for size in range(1, len(unrecorded) + 1):
            for names in combinations(unrecorded, size):
                if any(one <= frozenset(names) for one in found):
                    continue
                if any(truth in wanted for truth in self.tried(rule, names)):
                    found.add(frozenset(names))
        return found

    def enough(self, rule: str) -> frozenset[str]:
        """Return the smallest set of recorded findings that decides; the first by name."""
        truth = self.truth(rule, self.values)
        for size in range(len(self.values) + 1):
            for names in combinations(sorted(self.values), size):
                if self.truth(rule, {name: self.values[name] for name in names}) is truth:
                    return frozenset(names)
        raise AssertionError("all that is recorded decides, for it did")


def compare(small: Small, counted: Counter[str]) -> None:
    """Assert that the explainer says of every rule what brute force says."""
    program = small.program
    explainer = Explainer(small.book, program)
    literals = program.literals(small.values)
    for name in small.book.rules:
        truth = small.truth(name, small.values)
        if truth is not Truth.UNKNOWN:
            assert explainer.suffices(name, truth, literals) == small.enough(name)
            counted["decided"] += 1
            continue
        assert explainer.suffices(name, truth, literals) == frozenset()
        counted["open"] += 1
        for what, wanted in SETTLING.items():
            sets = getattr(explainer, what)(name, literals, small.values)
            assert len(sets) == len(set(sets))
            assert [len(one) for one in sets] == sorted(len(one) for one in sets)
            assert set(sets) == small.could_settle(name, wanted), (what, name)
            counted["sets"] += len(sets)


@given(rulebooks(most_rules=4, most_findings=4, depth=2), st.data())
def test_explanations_are_what_brute_force_finds(book, data):
    choices = Drawn(data.draw)
    values = case(choices, list(book.vocabulary), choices.one((0, 25, 50, 75, 100)))
    compare(Small(book, values), Counter())


def test_explanations_of_two_hundred_small_rulebooks_are_what_brute_force_finds(measured):
    counted: Counter[str] = Counter()
    for seed in range(200):
        choices = Seeded(seed)
        book = rulebook(choices, rules=4, findings=3 + seed % 3, depth=2)
        values = case(choices, list(book.vocabulary), choices.one((20, 40, 60, 80)))
        compare(Small(book, values), counted)
    assert counted["decided"] > 200
    assert counted["open"] > 200
    assert counted["sets"] > 500
    measured(
        f"explanations equal to brute force: {counted['decided']} decided verdicts,"
        f" {counted['open']} open ones with {counted['sets']} minimal sets"
    )


# -- traces ----------------------------------------------------------------------------


def known_of(values: Mapping[str, Value]) -> Known:
    records = {
        name: Finding(name, "left", value, Origin(f"/left/{name}"), str(value))
        for name, value in values.items()
    }
    return Known("left", values, records)


def nodes(line: Mapping[str, object]) -> list[Mapping[str, object]]:
    """Return the parts of a line of a trace."""
    for word in ("all", "any", "not", "of"):
        if word in line:
            return line[word]  # type: ignore[return-value]
    return []


def check_trace(book, tree, line, values, truths) -> int:
    """Assert that each node says what the oracle says of it; return how many there were."""
    settled = dict(values)
    for finding, rule in book.derived_by.items():
        if truths[rule.id] is not Truth.UNKNOWN:
            settled[finding] = "present" if truths[rule.id] is Truth.MET else "absent"
    assert line["truth"] == evaluate(tree, settled).value
    match tree:
        case All(parts) | AnyOf(parts) | AtLeast(_, parts):
            inner = parts
        case Not(part):
            inner = (part,)
        case _:
            return 1 + check_clause(book, tree, line, values, truths)
    below = nodes(line)
    assert len(below) == len(inner)
    return 1 + sum(
        check_trace(book, part, one, values, truths) for part, one in zip(inner, below, strict=True)
    )


def check_clause(book, clause, line, values, truths) -> int:
    assert line["finding"] == clause.finding
    assert line["title"] == book.vocabulary[clause.finding].title
    recorded = clause.finding in values
    assert ("value" in line, "origin" in line) == (recorded, recorded)
    if recorded:
        assert line["origin"] == f"/left/{clause.finding}"
    deriving = book.derived_by.get(clause.finding)
    assert line.get("derived_by") == (deriving.id if deriving else None)
    if deriving is None:
        return 0
    assert line["because"]["truth"] == truths[deriving.id].value
    return check_trace(book, deriving.condition, line["because"], values, truths)


def test_a_trace_says_at_every_node_what_the_oracle_says(measured):
    checked = derived = 0
    for seed in range(120):
        choices = Seeded(seed)
        book = rulebook(choices, rules=12, findings=6, depth=3)
        values = case(choices, list(book.vocabulary), choices.whole(0, 100))
        truths = evaluate_rulebook(book, values)
        for name, rule in book.rules.items():
            line = trace(book, rule, known_of(values), truths)
            assert line["truth"] == truths[name].value
            checked += check_trace(book, rule.condition, line, values, truths)
            derived += "derived_by" in str(line)
    assert checked > 10_000
    assert derived > 100
    measured(f"{checked} nodes of traces say what the oracle says")
