"""Rules, options, sources: the parts of a rulebook, frozen.

A `Rulebook` is what the interpreters run: a vocabulary, options, sources and active rules, with
the digest of the release they came from. Knows no patient.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import rfc8785

from plafond.errors import NotKnownError
from plafond.rulebook.conditions import Condition, Parameter, clauses, write_condition
from plafond.rulebook.letters import Modifier
from plafond.vocabulary import Vocabulary, nearest

KINDS = ("indication", "contraindication", "caution", "red-flag", "derivation")
STATUSES = ("draft", "active", "retired")
TRAITS = ("arthroscopic", "elective", "fusion", "implant", "debridement")
URGENCIES = ("immediate", "same-day", "two-weeks", "soon")
CONFIDENCES = ("verified", "secondary", "memory", "judgement")


@dataclass(frozen=True, slots=True)
class Target:
    """Which options a rule speaks about: those named, or those that have all the traits."""

    options: tuple[str, ...] = ()
    traits: tuple[str, ...] = ()

    def hits(self, option: Option) -> bool:
        """Say whether this target includes an option."""
        if option.id in self.options:
            return True
        return bool(self.traits) and set(self.traits) <= set(option.traits)


@dataclass(frozen=True, slots=True)
class Option:
    """A procedure, or what to do instead. `data` is the whole file, for views."""

    id: str
    title: str
    summary: str
    traits: tuple[str, ...]
    raised_by: tuple[Condition, ...]
    alternatives: tuple[Mapping[str, Any], ...]
    approach: Mapping[str, Any]
    data: Mapping[str, Any]

    @property
    def arthroscopic(self) -> bool:
        """Say whether this is done through keyholes."""
        return "arthroscopic" in self.traits


@dataclass(frozen=True, slots=True)
class Effect:
    """What a rule does when its condition is met; which fields are used depends on its kind."""

    supports: str = ""
    target: Target = field(default_factory=Target)
    strength: str = ""
    advice: str = ""
    urgency: str = ""
    action: str = ""
    concludes: str = ""


@dataclass(frozen=True, slots=True)
class Case:
    """One shown case of a rule: what is given of this side and the other, and what follows."""

    name: str
    given: Mapping[str, Any]
    opposite: Mapping[str, Any]
    expect: str


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule. `data` is the whole file, for views."""

    id: str
    version: int
    status: str
    kind: str
    title: str
    statement: str
    condition: Condition
    effect: Effect
    confidence: str
    grade: Mapping[str, Any]
    sources: tuple[str, ...]
    parameters: Mapping[str, Parameter]
    raised_by: tuple[Condition, ...]
    screen: str
    cases: tuple[Case, ...]
    data: Mapping[str, Any]

    @property
    def findings(self) -> tuple[str, ...]:
        """Return the ids of the findings the condition tests, each once, in order."""
        return tuple(dict.fromkeys(clause.finding for clause in clauses(self.condition)))

    @property
    def digest(self) -> str:
        """Return the SHA-256 of the rule's meaning: its condition and what follows from it.

        Wording, order and citations do not change it.
        """
        meaning = {
            "kind": self.kind,
            "when": write_condition(self.condition),
            "then": _canonical(self.data["then"]),
            "raised_by": sorted((write_condition(one) for one in self.raised_by), key=repr),
        }
        return "sha256:" + hashlib.sha256(rfc8785.dumps(meaning)).hexdigest()


def _canonical(then: Mapping[str, Any]) -> Any:
    """Return the effect without its sentences, lists sorted."""
    kept: dict[str, Any] = {}
    for key, value in then.items():
        if key in ("action", "advice"):
            continue
        is_target = isinstance(value, Mapping)
        kept[key] = {name: sorted(ids) for name, ids in value.items()} if is_target else value
    return kept


@dataclass(frozen=True, slots=True)
class Scope:
    """Whom the rules speak of: outside it, options are held and only red flags stand."""

    finding: str
    statement: str


@dataclass(frozen=True, slots=True)
class Complaint:
    """A complaint too bare to point at an option, and what to ask so that it does."""

    finding: str
    ask: tuple[str, ...]


@dataclass(frozen=True)
class Rulebook:
    """A release as the interpreters run it."""

    version: str
    title: str
    covers: str
    notice: str
    scope: Scope
    complaints: tuple[Complaint, ...]
    vocabulary: Vocabulary
    options: Mapping[str, Option]
    sources: Mapping[str, Mapping[str, Any]]
    rules: Mapping[str, Rule]
    digest: str
    signed: bool = False
    modifiers: tuple[Modifier, ...] = ()

    def rule(self, name: str) -> Rule:
        """Return a rule; raises NotKnownError with the nearest ids."""
        try:
            return self.rules[name]
        except KeyError:
            raise NotKnownError("rule", name, nearest(name, list(self.rules))) from None

    def option(self, name: str) -> Option:
        """Return an option; raises NotKnownError with the nearest ids."""
        try:
            return self.options[name]
        except KeyError:
            raise NotKnownError("option", name, nearest(name, list(self.options))) from None

    def of_kind(self, kind: str) -> tuple[Rule, ...]:
        """Return the rules of one kind, by id."""
        return self._by_kind.get(kind, ())

    @cached_property
    def _by_kind(self) -> Mapping[str, tuple[Rule, ...]]:
        return {
            kind: tuple(rule for rule in self.rules.values() if rule.kind == kind) for kind in KINDS
        }

    @cached_property
    def derived_by(self) -> Mapping[str, Rule]:
        """Return the derivation rule of each derived finding."""
        return {rule.effect.concludes: rule for rule in self.of_kind("derivation")}

    @cached_property
    def indications(self) -> Mapping[str, tuple[Rule, ...]]:
        """Return the indication rules of each option."""
        return {
            option: tuple(
                rule for rule in self.of_kind("indication") if rule.effect.supports == option
            )
            for option in self.options
        }

    @cached_property
    def against(self) -> Mapping[str, tuple[Rule, ...]]:
        """Return the contraindications and cautions that speak about each option."""
        speaking = self.of_kind("contraindication") + self.of_kind("caution")
        return {
            option.id: tuple(rule for rule in speaking if rule.effect.target.hits(option))
            for option in self.options.values()
        }

    @cached_property
    def holding(self) -> Mapping[str, tuple[Rule, ...]]:
        """Return the red flags that hold each option."""
        return {
            option.id: tuple(
                rule for rule in self.of_kind("red-flag") if rule.effect.target.hits(option)
            )
            for option in self.options.values()
        }
