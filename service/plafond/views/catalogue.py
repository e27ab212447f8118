"""What a release is made of, to be looked up: findings, options, rules, sources, releases.

Takes a rulebook, gives plain records for lists and whole files by id. Raises NotKnownError with
the nearest known names. Knows no patient.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from plafond.errors import NotKnownError
from plafond.inference.explain import in_words
from plafond.rulebook import Option, Rule, Rulebook
from plafond.vocabulary import Definition, nearest


@dataclass(frozen=True, slots=True)
class FindingEntry:
    """What one finding is and how it is written; `allowed` says it in words."""

    id: str
    title: str
    kind: str
    group: str
    sided: bool
    derived: bool
    question: str
    allowed: str
    values: Sequence[str]
    units: Sequence[str]
    computed: Mapping[str, Any]
    codes: Mapping[str, Sequence[str]]


@dataclass(frozen=True, slots=True)
class OptionEntry:
    """One option in a line."""

    id: str
    title: str
    summary: str
    arthroscopic: bool
    traits: Sequence[str]


@dataclass(frozen=True, slots=True)
class RuleEntry:
    """One rule in a line; `digest` is that of its meaning."""

    id: str
    version: int
    kind: str
    title: str
    statement: str
    confidence: str
    digest: str


@dataclass(frozen=True, slots=True)
class ReleaseEntry:
    """One release on disk."""

    version: str
    digest: str
    in_service: bool


@dataclass(frozen=True, slots=True)
class ReleaseCard:
    """One release: what it says of itself, and how much is in it."""

    version: str
    digest: str
    in_service: bool
    signed: bool
    title: str
    notice: str
    scope: str
    findings: int
    options: int
    rules: int
    sources: int


def findings(rulebook: Rulebook, *, group: str = "", kind: str = "") -> list[FindingEntry]:
    """Return the findings, those of one group or kind where it is named."""
    _require("group", group, {one.group for one in rulebook.vocabulary})
    return [
        finding(one)
        for one in rulebook.vocabulary
        if group in ("", one.group) and kind in ("", one.kind)
    ]


def finding(definition: Definition) -> FindingEntry:
    """Return what one finding is."""
    computed = definition.computed
    return FindingEntry(
        id=definition.id,
        title=definition.title,
        kind=definition.kind,
        group=definition.group,
        sided=definition.sided,
        derived=definition.derived,
        question=definition.question,
        allowed=definition.allowed(),
        values=definition.values,
        units=definition.units,
        computed={"formula": computed.formula, "from": computed.inputs} if computed else {},
        codes=definition.codes,
    )


def options(rulebook: Rulebook, *, trait: str = "") -> list[OptionEntry]:
    """Return the options, those with one trait where it is named."""
    return [
        OptionEntry(one.id, one.title, one.summary, one.arthroscopic, one.traits)
        for one in rulebook.options.values()
        if not trait or trait in one.traits
    ]


def option_card(rulebook: Rulebook, name: str) -> dict[str, Any]:
    """Return the whole file of an option, and the rules that speak of it."""
    option = rulebook.option(name)
    return {**option.data, "rules": [rule.id for rule in _speaking_of(rulebook, option)]}


def rules(
    rulebook: Rulebook, *, kind: str = "", option: str = "", tests: str = ""
) -> list[RuleEntry]:
    """Return the rules, those of one kind, of one option, or that test one finding."""
    chosen: Iterable[Rule] = rulebook.rules.values()
    if option:
        chosen = _speaking_of(rulebook, rulebook.option(option))
    if tests:
        chosen = [rule for rule in chosen if rulebook.vocabulary[tests].id in rule.findings]
    return [
        RuleEntry(
            id=rule.id,
            version=rule.version,
            kind=rule.kind,
            title=rule.title,
            statement=rule.statement,
            confidence=rule.confidence,
            digest=rule.digest,
        )
        for rule in chosen
        if kind in ("", rule.kind)
    ]


def rule_card(rulebook: Rulebook, name: str) -> dict[str, Any]:
    """Return the whole file of a rule, the digest of its meaning, and its condition in words."""
    rule = rulebook.rule(name)
    words = in_words(rulebook, rule.condition)
    return {**rule.data, "digest": rule.digest, "in_words": words}


def _speaking_of(rulebook: Rulebook, option: Option) -> list[Rule]:
    speaking = (rulebook.indications, rulebook.against, rulebook.holding)
    return [rule for rules_of in speaking for rule in rules_of[option.id]]


def source_card(rulebook: Rulebook, name: str) -> Mapping[str, Any]:
    """Return a source (CSL-JSON); raises NotKnownError with the nearest ids."""
    _require("source", name, rulebook.sources)
    return rulebook.sources[name]


def release_card(rulebook: Rulebook, *, in_service: bool) -> ReleaseCard:
    """Return what a release says of itself."""
    return ReleaseCard(
        version=rulebook.version,
        digest=rulebook.digest,
        in_service=in_service,
        signed=rulebook.signed,
        title=rulebook.title,
        notice=rulebook.notice,
        scope=rulebook.scope.statement,
        findings=len(rulebook.vocabulary),
        options=len(rulebook.options),
        rules=len(rulebook.rules),
        sources=len(rulebook.sources),
    )


def _require(what: str, name: str, known: Iterable[str]) -> None:
    names = sorted(known)
    if name and name not in names:
        raise NotKnownError(what, name[:80], nearest(name, names))
