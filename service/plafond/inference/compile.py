"""Compiles a rulebook into negation-free logic over literals.

Each rule becomes two positive forms, one for "definitely met", one for "definitely not met";
neither holding is unknown. A literal is one ground test of one finding, known true or known
false: an unknown finding gives no literal at all. Rules that derive findings run in strata.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import assert_never

from plafond.inference.limits import BLOCK_LITERALS, RULE_GROUPS
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
)
from plafond.vocabulary import Value


@dataclass(frozen=True, slots=True)
class Atom:
    """One ground test: the finding is this value, or its number is at least or above a limit."""

    finding: str
    word: str
    value: Value


@dataclass(frozen=True, slots=True)
class Lit:
    """A literal: two numbers an atom, even for known true, odd for known false."""

    code: int


@dataclass(frozen=True, slots=True)
class And:
    """Every part holds."""

    parts: tuple[Form, ...]


@dataclass(frozen=True, slots=True)
class Or:
    """Some part holds."""

    parts: tuple[Form, ...]


Form = Lit | And | Or


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to conclude: the literal `code` holds where `form` does.

    `name` is the rule it belongs to. A step whose code is no outcome of a rule is a part of a
    larger form, taken out because the engine bears only so many groups in one rule.
    """

    code: int
    form: Form
    stratum: int
    name: str


class Program:
    """A compiled rulebook: atoms, rules by stratum, and the values that become literals."""

    def __init__(self, rulebook: Rulebook) -> None:
        self.digest = rulebook.digest
        self._rulebook = rulebook
        self._codes: dict[Atom, int] = {}
        self._outcomes: dict[str, int] = {}
        for rule in rulebook.rules.values():
            self._collect(rule.condition)
        first = 2 * len(self._codes)
        for index, name in enumerate(rulebook.rules):
            self._outcomes[name] = first + 2 * index
        self._strata: dict[int, int] = {}
        self._parts: dict[Form, int] = {}
        self._next = first + 2 * len(self._outcomes)
        self._steps: list[Step] = []
        for rule in rulebook.rules.values():
            self._compile(rule)
        #: What to conclude, in an order in which everything needed stands before.
        self.steps = tuple(sorted(self._steps, key=lambda step: (step.stratum, step.code)))

    @property
    def atoms(self) -> Mapping[Atom, int]:
        """Return every atom and the code of its known-true literal."""
        return self._codes

    def outcome(self, rule: str) -> int:
        """Return the literal that stands for "this rule is met"; the next one is "not met"."""
        return self._outcomes[rule]

    def rule_of(self, code: int) -> str:
        """Return the rule whose outcome a literal stands for."""
        return self._names[code - code % 2]

    def literals(self, values: Mapping[str, Value]) -> set[int]:
        """Return the literals known values give. What is unknown gives none."""
        known: set[int] = set()
        for finding, value in values.items():
            tests = self._tests.get(finding)
            if tests is None:
                continue
            if isinstance(value, Decimal):
                tests.add_number(value, known)
            else:
                for wanted, code in tests.choices:
                    known.add(code if value == wanted else code + 1)
        return known

    def _collect(self, condition: Condition) -> None:
        match condition:
            case All(parts) | AnyOf(parts) | AtLeast(_, parts):
                for part in parts:
                    self._collect(part)
            case Not(part):
                self._collect(part)
            case Is() | OneOf() | Compare() | Between():
                if condition.finding not in self._rulebook.derived_by:
                    for atom in _atoms(condition):
                        self._codes.setdefault(atom, 2 * len(self._codes))
            case _ as never:
                assert_never(never)

    @cached_property
    def _names(self) -> Mapping[int, str]:
        return {code: name for name, code in self._outcomes.items()}

    @cached_property
    def _tests(self) -> Mapping[str, _Tests]:
        tests: dict[str, _Tests] = {}
        for atom, code in self._codes.items():
            tests.setdefault(atom.finding, _Tests()).add(atom, code)
        return tests

    def _compile(self, rule: Rule) -> None:
        code = self._outcomes[rule.id]
        if code in self._strata:
            return
        for finding in rule.findings:
            if finding in self._rulebook.derived_by:
                self._compile(self._rulebook.derived_by[finding])
        for met in (True, False):
            form = self._fit(self.form(rule.condition, met), rule.id)
            self._add(code + (0 if met else 1), form, rule.id)

    def _add(self, code: int, form: Form, name: str) -> None:
        below = [self._strata[one] for one in form_literals(form) if one in self._strata]
        self._strata[code] = max(below, default=-1) + 1
        self._steps.append(Step(code, form, self._strata[code], name))

    def _fit(self, form: Form, name: str) -> Form:
        """Take parts out of a form until the engine can bear it; equal parts are shared."""
        if isinstance(form, Lit):
            return form
        parts = [self._fit(part, name) for part in form.parts]
        while _too_rich(fitted := type(form)(tuple(parts))):
            index = max(range(len(parts)), key=lambda one: _weight(parts[one]))
            if isinstance(parts[index], Lit):
                half = len(parts) // 2
                parts = [type(form)(tuple(parts[:half])), type(form)(tuple(parts[half:]))]
                continue
            parts[index] = self._part(parts[index], name)
        return fitted

    def _part(self, form: Form, name: str) -> Lit:
        if form not in self._parts:
            self._parts[form] = self._next
            self._next += 2
            self._add(self._parts[form], form, name)
        return Lit(self._parts[form])

    def form(self, condition: Condition, met: bool) -> Form:
        """Return the positive form of "definitely met" or "definitely not met"."""
        match condition:
            case Not(part):
                return self.form(part, not met)
            case All(parts):
                return self._threshold(len(parts), parts, met)
            case AnyOf(parts):
                return self._threshold(1, parts, met)
            case AtLeast(count, parts):
                return self._threshold(count, parts, met)
            case Is(finding, value) if finding in self._rulebook.derived_by:
                outcome = self._outcomes[self._rulebook.derived_by[finding].id]
                return Lit(outcome if (value == "present") == met else outcome + 1)
            case Is() | OneOf() | Compare() | Between():
                return self._clause(condition, met)
            case _ as never:
                assert_never(never)

    def _threshold(self, count: int, parts: Sequence[Condition], met: bool) -> Form:
        forms = tuple(self.form(part, met) for part in parts)
        return threshold(count if met else len(parts) - count + 1, forms)

    def _clause(self, clause: Is | OneOf | Compare | Between, met: bool) -> Form:
        match clause:
            case Is(finding, value):
                return self._lit(Atom(finding, "is", value), met)
            case OneOf(finding, values):
                lits = tuple(self._lit(Atom(finding, "is", value), met) for value in values)
                return Or(lits) if met else And(lits)
            case Compare():
                atom, positive = _comparison(clause)
                return self._lit(atom, met == positive)
            case Between(finding, low, high):
                ends = (
                    self._lit(Atom(finding, "at_least", low), met),
                    self._lit(Atom(finding, "above", high), not met),
                )
                return And(ends) if met else Or(ends)
            case _ as never:
                assert_never(never)

    def _lit(self, atom: Atom, true: bool) -> Lit:
        return Lit(self._codes[atom] + (0 if true else 1))


class _Tests:
    """The tests of one finding, sorted so that a number settles them with two look-ups."""

    def __init__(self) -> None:
        self.choices: list[tuple[Value, int]] = []
        self._limits: dict[str, list[tuple[Decimal, int]]] = {"at_least": [], "above": []}

    def add(self, atom: Atom, code: int) -> None:
        if isinstance(atom.value, Decimal):
            self._limits[atom.word].append((atom.value, code))
            self._limits[atom.word].sort()
        else:
            self.choices.append((atom.value, code))

    def add_number(self, number: Decimal, known: set[int]) -> None:
        for word, find in (("at_least", bisect_right), ("above", bisect_left)):
            limits = self._limits[word]
            reached = find([limit for limit, _ in limits], number)
            known.update(code for _, code in limits[:reached])
            known.update(code + 1 for _, code in limits[reached:])


def _atoms(clause: Is | OneOf | Compare | Between) -> Iterable[Atom]:
    match clause:
        case Is(finding, value):
            yield Atom(finding, "is", value)
        case OneOf(finding, values):
            for value in values:
                yield Atom(finding, "is", value)
        case Compare():
            yield _comparison(clause)[0]
        case Between(finding, low, high):
            yield Atom(finding, "at_least", low)
            yield Atom(finding, "above", high)
        case _ as never:
            assert_never(never)


def _comparison(clause: Compare) -> tuple[Atom, bool]:
    """Return the atom of a comparison, and whether the comparison is it or its opposite."""
    word = "at_least" if clause.word in ("at_least", "below") else "above"
    return Atom(clause.finding, word, clause.limit), clause.word in ("at_least", "above")


def threshold(count: int, forms: tuple[Form, ...]) -> Form:
    """Return the form "at least so many of these hold", without negation."""
    if count > len(forms):
        raise AssertionError("a threshold above the number of parts is never met")
    if len(forms) == 1:
        return forms[0]
    if count == len(forms):
        return _flat(And, forms)
    if count == 1:
        return _flat(Or, forms)
    first, rest = forms[0], forms[1:]
    with_first = _flat(And, (first, threshold(count - 1, rest)))
    return _flat(Or, (with_first, threshold(count, rest)))


def _flat(kind: type[And] | type[Or], forms: tuple[Form, ...]) -> Form:
    parts: list[Form] = []
    for form in forms:
        parts.extend(form.parts if isinstance(form, kind) else (form,))
    return kind(tuple(parts))


def form_literals(form: Form) -> set[int]:
    """Return every literal a form mentions."""
    match form:
        case Lit(code):
            return {code}
        case And(parts) | Or(parts):
            return set().union(*(form_literals(part) for part in parts))
        case _ as never:
            assert_never(never)


def _groups(form: Form) -> int:
    return 0 if isinstance(form, Lit) else 1 + sum(_groups(part) for part in form.parts)


def _weight(form: Form) -> tuple[int, int]:
    return _groups(form), len(form_literals(form))


def _too_rich(form: Form) -> bool:
    return _groups(form) > RULE_GROUPS or len(form_literals(form)) > BLOCK_LITERALS
