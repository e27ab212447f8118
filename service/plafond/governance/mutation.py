"""Mutation of the knowledge: would the cases of a rule notice if one thing in it were wrong?

Takes a rulebook; gives the fate of every slip of every rule: killed by a case, equivalent (proved:
no patient could tell), waived in the rule's file with a reason, or survived. Only the rule's own
cases count, through the oracle.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from plafond.errors import Issue
from plafond.governance.cases import Shown, Values, differing, hint_of, shown_by
from plafond.governance.mutants import Mutant, mutants_of
from plafond.governance.places import Places
from plafond.governance.tables import table_of
from plafond.governance.trees import apart, expanded
from plafond.inference.evaluate import evaluate
from plafond.rulebook import Condition, Rule, Rulebook

FATES = ("killed", "survived", "equivalent", "waived")


@dataclass(frozen=True, slots=True)
class Fate:
    """What became of one mutant.

    `because` is the name of the case that killed it, the reason of its waiver, or, where it
    survived, the case that would kill it if one could be found.
    """

    mutant: Mutant
    fate: str
    because: str = ""


@dataclass(frozen=True)
class Tally:
    """How many mutants met each fate."""

    killed: int = 0
    survived: int = 0
    equivalent: int = 0
    waived: int = 0

    @property
    def score(self) -> float:
        """Return the share of the mutants that could be told apart which a case does kill."""
        told = self.killed + self.survived + self.waived
        return self.killed / told if told else 1.0


@dataclass(frozen=True)
class Mutated:
    """One rule with the fate of each of its mutants."""

    rule: Rule
    fates: tuple[Fate, ...]

    @cached_property
    def tally(self) -> Tally:
        """Return how many mutants of this rule met each fate."""
        return _tally(self.fates)

    def of(self, fate: str) -> tuple[Fate, ...]:
        """Return the mutants that met one fate."""
        return tuple(one for one in self.fates if one.fate == fate)


@dataclass(frozen=True)
class Mutation:
    """The fate of every mutant of every rule of a rulebook."""

    rules: tuple[Mutated, ...]

    @cached_property
    def tally(self) -> Tally:
        """Return how many mutants of all rules met each fate."""
        return _tally(tuple(one for rule in self.rules for one in rule.fates))


def _tally(fates: tuple[Fate, ...]) -> Tally:
    return Tally(**Counter(one.fate for one in fates))


def mutate(rulebook: Rulebook) -> Mutation:
    """Return the fate of every mutant of every rule; the rules' cases must come out as they say."""
    return Mutation(
        tuple(mutate_rule(shown_by(rulebook, rule)) for rule in rulebook.rules.values())
    )


def mutate_rule(shown: Shown) -> Mutated:
    """Return the fate of every mutant of one rule."""
    rule = shown.rule
    truths = [evaluate(rule.condition, values) for values in shown.values]
    waivers = waivers_of(rule)
    fates = []
    for mutant in mutants_of(rule, shown.rulebook.vocabulary):
        killer = next(
            (
                case.name
                for case, values, truth in zip(rule.cases, shown.values, truths, strict=True)
                if evaluate(mutant.tree, values) is not truth
            ),
            None,
        )
        if killer is not None:
            fates.append(Fate(mutant, "killed", killer))
        elif equivalent(shown.rulebook, rule.condition, mutant.tree):
            fates.append(Fate(mutant, "equivalent"))
        elif mutant.text in waivers:
            fates.append(Fate(mutant, "waived", waivers[mutant.text]))
        else:
            fates.append(Fate(mutant, "survived", _killing_case(shown, mutant.tree)))
    return Mutated(rule, tuple(fates))


def waivers_of(rule: Rule) -> dict[str, str]:
    """Return the mutants a rule's file waives, each with its reason."""
    return {
        " ".join(waiver["mutant"].split()): waiver["reason"]
        for waiver in rule.data.get("waivers", ())
    }


def equivalent(rulebook: Rulebook, one: Condition, two: Condition) -> bool:
    """Say whether two conditions are proved to have the same truth whatever is recorded.

    Tried first on the smallest parts that differ, then on the whole, then with derived findings
    replaced by what derives them. False where every table that would prove it is too large.
    """
    pairs = [apart(one, two), (one, two), (expanded(one, rulebook), expanded(two, rulebook))]
    for mine, theirs in pairs:
        table = table_of(rulebook.vocabulary, mine, theirs)
        if table is not None and not differing(table.row(mine), table.row(theirs)):
            return True
    return False


def _killing_case(shown: Shown, mutant: Condition) -> str:
    condition = shown.rule.condition

    def test(values: Values) -> bool:
        return evaluate(condition, values) is not evaluate(mutant, values)

    return hint_of(shown, test, (condition, mutant))


def survivors(mutated: Mutated, places: Places) -> Iterator[Issue]:
    """Yield every mutant no case kills, and every waiver that waives nothing."""
    rule = mutated.rule
    for one in mutated.of("survived"):
        message = f"no case would notice: {one.mutant.text}"
        mend = one.because or "add a case that does, or a waiver with its reason"
        yield places.condition(rule, one.mutant.way, message, "warning", mend)
    needed = {one.mutant.text for one in mutated.of("waived")}
    for index, text in enumerate(waivers_of(rule)):
        if text not in needed:
            message = f"waives what no longer needs it: {text}"
            yield places.rule(rule.id, f"/waivers/{index}", message, "warning", "take it out")
