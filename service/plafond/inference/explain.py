"""Why a verdict is what it is, and what would settle one that is open.

Works on the absorbed terms of each rule's two forms: a term is a smallest conjunction of literals
that makes the rule met (or not met). Over them, exactly: the smallest sets of findings that
suffice for a verdict, and the minimal sets of unrecorded findings that could settle it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise, product
from typing import Any, assert_never

from plafond.findings import Known, Truth
from plafond.inference.compile import And, Atom, Form, Lit, Or, Program
from plafond.inference.evaluate import evaluate
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
    Rulebook,
    say_clause,
)
from plafond.vocabulary import Definition, Value

Sets = tuple[frozenset[str], ...]


@dataclass(frozen=True, slots=True)
class _Term:
    """A conjunction of literals, also as a bit mask, and the findings it speaks of."""

    codes: frozenset[int]
    literals: int
    findings: frozenset[str]


class Explainer:
    """Explains the verdicts of one compiled release."""

    def __init__(self, rulebook: Rulebook, program: Program) -> None:
        self._rulebook = rulebook
        self._program = program
        self._atoms = {code // 2: atom for atom, code in program.atoms.items()}
        self._terms = lru_cache(maxsize=None)(self._terms_of)

    def suffices(self, rule: str, truth: Truth, literals: set[int]) -> frozenset[str]:
        """Return the smallest set of known findings that alone gives a decided verdict.

        Empty where the verdict is unknown. Among equals, the first by name.
        """
        if truth is Truth.UNKNOWN:
            return frozenset()
        known = _mask(literals)
        fitting = {
            term.findings
            for term in self._terms(rule, truth is Truth.MET)
            if term.literals & ~known == 0
        }
        return min(fitting, key=_by_size, default=frozenset())

    def settles(self, rule: str, literals: set[int], known: Iterable[str]) -> Sets:
        """Return every minimal set of unrecorded findings that could settle an open verdict."""
        return self._minimal(rule, literals, known, (True, False))

    def clears(self, rule: str, literals: set[int], known: Iterable[str]) -> Sets:
        """Return every minimal set of unrecorded findings that could make a rule not met."""
        return self._minimal(rule, literals, known, (False,))

    def meets(self, rule: str, literals: set[int], known: Iterable[str]) -> Sets:
        """Return every minimal set of unrecorded findings that could make a rule met."""
        return self._minimal(rule, literals, known, (True,))

    def settles_any(self, rules: Sequence[str], literals: set[int], known: Iterable[str]) -> Sets:
        """Return every minimal set of unrecorded findings that could settle "one of these is met".

        `rules` are the open ones of an option, none of which is met. One of them coming out met
        settles it, and so do all of them coming out not met at once.
        """
        recorded = frozenset(known)
        meeting = [one for rule in rules for one in self.meets(rule, literals, recorded)]
        failing: set[frozenset[int]] = {frozenset()}
        for rule in rules:
            joined = (
                one | other
                for one, other in product(failing, self._residual(rule, False, literals))
            )
            failing = set(absorb(term for term in joined if self._possible(term)))
        return absorb([*meeting, *(self._findings(term) - recorded for term in failing)])

    def _residual(self, rule: str, met: bool, literals: set[int]) -> set[frozenset[int]]:
        """Return what is still open of each term that nothing known contradicts."""
        false = _opposites(literals)
        return {
            term.codes - literals for term in self._terms(rule, met) if term.literals & false == 0
        }

    def _findings(self, term: frozenset[int]) -> frozenset[str]:
        return frozenset(self._atoms[code // 2].finding for code in term)

    def _minimal(
        self, rule: str, literals: set[int], known: Iterable[str], ways: tuple[bool, ...]
    ) -> Sets:
        true, false = _mask(literals), _opposites(literals)
        recorded = frozenset(known)
        sets = {
            term.findings - recorded
            for met in ways
            for term in self._terms(rule, met)
            if term.literals & false == 0 and term.literals & ~true
        }
        return absorb(sets)

    def _terms_of(self, rule: str, met: bool) -> tuple[_Term, ...]:
        condition = self._rulebook.rules[rule].condition
        terms = self._expand(self._program.form(condition, met))
        kept = []
        for term in absorb(one for one in terms if self._possible(one)):
            findings = self._findings(term)
            kept.append(_Term(term, _mask(term), findings))
        return tuple(kept)

    def _expand(self, form: Form) -> set[frozenset[int]]:
        """Return a form as a disjunction of conjunctions, derived findings worked in."""
        match form:
            case Lit(code):
                return self._expand_literal(code)
            case Or(parts):
                return set(absorb(term for part in parts for term in self._expand(part)))
            case And(parts):
                terms: set[frozenset[int]] = {frozenset()}
                for part in parts:
                    joined = (one | other for one, other in product(terms, self._expand(part)))
                    terms = set(absorb(term for term in joined if self._possible(term)))
                return terms
            case _ as never:
                assert_never(never)

    def _expand_literal(self, code: int) -> set[frozenset[int]]:
        if code // 2 in self._atoms:
            return {frozenset((code,))}
        rule = self._program.rule_of(code)
        condition = self._rulebook.rules[rule].condition
        return self._expand(self._program.form(condition, code % 2 == 0))

    def _possible(self, term: frozenset[int]) -> bool:
        """Say whether some value of each finding makes every literal of a term true at once."""
        by_finding: dict[str, list[tuple[Atom, bool]]] = {}
        for code in term:
            atom = self._atoms[code // 2]
            by_finding.setdefault(atom.finding, []).append((atom, code % 2 == 0))
        vocabulary = self._rulebook.vocabulary
        return all(_has_value(vocabulary[finding], tests) for finding, tests in by_finding.items())


def _has_value(definition: Definition, tests: list[tuple[Atom, bool]]) -> bool:
    return any(
        all(_passes(atom, candidate) == wanted for atom, wanted in tests)
        for candidate in candidates(definition, [atom for atom, _ in tests])
    )


def candidates(definition: Definition, atoms: Iterable[Atom]) -> list[Value]:
    """Return values of a finding that tell its tests apart: limits, between them, the ends."""
    if not definition.numeric:
        return list(definition.values)
    marks = {definition.low, definition.high}
    marks |= {atom.value for atom in atoms if not isinstance(atom.value, str)}
    ordered = sorted(mark for mark in marks if definition.low <= mark <= definition.high)
    between = [(one + two) / 2 for one, two in pairwise(ordered)]
    if definition.kind == "count":
        between = [value.to_integral_value() for value in between]
    return [*ordered, *between]


def _passes(atom: Atom, value: Value) -> bool:
    match atom.word:
        case "is":
            return value == atom.value
        case "at_least":
            return value >= atom.value  # type: ignore[operator]  # both are numbers here
        case _:
            return value > atom.value  # type: ignore[operator]


def absorb(sets: Iterable[frozenset[Any]]) -> tuple[frozenset[Any], ...]:
    """Return the sets that hold no other of them, smallest first, in a fixed order."""
    kept: list[frozenset[Any]] = []
    for one in sorted(set(sets), key=_by_size):
        if not any(other <= one for other in kept):
            kept.append(one)
    return tuple(kept)


def _by_size(one: frozenset[Any]) -> tuple[int, list[Any]]:
    return len(one), sorted(one)


def _mask(literals: Iterable[int]) -> int:
    mask = 0
    for code in literals:
        mask |= 1 << code
    return mask


def _opposites(literals: Iterable[int]) -> int:
    return _mask(code ^ 1 for code in literals)


def trace(
    rulebook: Rulebook, rule: Rule, known: Known, truths: Mapping[str, Truth]
) -> dict[str, Any]:
    """Return the condition of a rule as a tree: each clause with its truth, value and origin.

    Shape: {"all"|"any"|"not": [...], "truth"} or {"at_least": n, "of": [...], "truth"} or
    {"finding", "title", "clause", "truth", "value", "origin"}; a derived finding carries the
    rule that derives it.
    """
    return _Trace(rulebook, known, truths).of(rule.condition)


class _Trace:
    def __init__(self, rulebook: Rulebook, known: Known, truths: Mapping[str, Truth]) -> None:
        self._rulebook = rulebook
        self._known = known
        self._truths = truths
        self._values = dict(known.values)
        for finding, rule in rulebook.derived_by.items():
            truth = truths[rule.id]
            if truth is not Truth.UNKNOWN:
                self._values[finding] = "present" if truth is Truth.MET else "absent"

    def of(self, condition: Condition) -> dict[str, Any]:
        truth = evaluate(condition, self._values).value
        match condition:
            case All(parts):
                return {"all": [self.of(part) for part in parts], "truth": truth}
            case AnyOf(parts):
                return {"any": [self.of(part) for part in parts], "truth": truth}
            case AtLeast(count, parts):
                return {
                    "at_least": count,
                    "of": [self.of(part) for part in parts],
                    "truth": truth,
                }
            case Not(part):
                return {"not": [self.of(part)], "truth": truth}
            case Is() | OneOf() | Compare() | Between():
                return self._clause(condition, truth)
            case _ as never:
                assert_never(never)

    def _clause(self, clause: Clause, truth: str) -> dict[str, Any]:
        definition = self._rulebook.vocabulary[clause.finding]
        line: dict[str, Any] = {
            "finding": clause.finding,
            "title": definition.title,
            "clause": say_clause(clause, definition),
            "truth": truth,
        }
        record = self._known.records.get(clause.finding)
        if record is not None:
            line["value"] = record.shown
            line["origin"] = record.origin.pointer
        rule = self._rulebook.derived_by.get(clause.finding)
        if rule is not None:
            line["derived_by"] = rule.id
            line["because"] = self.of(rule.condition)
        if clause.cites:
            line["cites"] = clause.cites
        if isinstance(clause, Compare) and clause.parameter:
            line["parameter"] = clause.parameter
        if any(conflict.finding == clause.finding for conflict in self._known.conflicts):
            line["conflict"] = True
        return line


def in_words(rulebook: Rulebook, condition: Condition, depth: int = 0) -> list[str]:
    """Return a condition as indented lines a clinician can read."""
    pad = "  " * depth
    match condition:
        case All(parts):
            return [f"{pad}all of:", *_lines(rulebook, parts, depth)]
        case AnyOf(parts):
            return [f"{pad}any of:", *_lines(rulebook, parts, depth)]
        case AtLeast(count, parts):
            return [f"{pad}at least {count} of:", *_lines(rulebook, parts, depth)]
        case Not(part):
            return [f"{pad}not:", *_lines(rulebook, (part,), depth)]
        case Is() | OneOf() | Compare() | Between():
            definition = rulebook.vocabulary[condition.finding]
            cites = f"  [{condition.cites}]" if condition.cites else ""
            return [f"{pad}{definition.title}: {say_clause(condition, definition)}{cites}"]
        case _ as never:
            assert_never(never)


def _lines(rulebook: Rulebook, parts: tuple[Condition, ...], depth: int) -> list[str]:
    return [line for part in parts for line in in_words(rulebook, part, depth + 1)]
