"""What another release makes of the same findings: the difference, and nothing that is the same.

Takes two readings of one document, each an assessment and the truth of every rule behind it;
gives which options, red flags and verdicts changed, side by side.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from plafond.assessment import Assessment, SideAnswer
from plafond.findings import Findings
from plafond.pipeline import Release


@dataclass(frozen=True, slots=True)
class Reading:
    """One document under one release. `truths` holds a truth for every rule of every side."""

    assessment: Assessment
    truths: Mapping[str, Mapping[str, str]]
    titles: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Change:
    """What one thing was and what it would be; null where that answer does not list it."""

    id: str
    title: str
    from_: str | None
    to: str | None


@dataclass(frozen=True, slots=True)
class SideDifference:
    """What changed on one side: standings of options, states of red flags, truths of rules."""

    red_flags: Sequence[Change]
    options: Sequence[Change]
    verdicts: Sequence[Change]


@dataclass(frozen=True, slots=True)
class TriageChange:
    """The triage under one release and under the other; they may be the same."""

    from_: str
    to: str


@dataclass(frozen=True, slots=True)
class Difference:
    """The difference between the answer that was given and what another release would say."""

    assessment: str
    at: str
    from_: Mapping[str, Any]
    to: Mapping[str, Any]
    triage: TriageChange
    sides: Mapping[str, SideDifference]


def reading(assessment: Assessment, findings: Findings, release: Release) -> Reading:
    """Return an assessment with the truth of every rule; raises EngineError."""
    truths = {}
    for side in findings.sides():
        known = findings.known(side, release.rulebook.vocabulary)
        found = release.inference.truths(known.values, case=assessment.assessment)
        truths[side] = {rule: truth.value for rule, truth in found.items()}
    titles = {rule.id: rule.title for rule in release.rulebook.rules.values()}
    return Reading(assessment, truths, titles)


def difference(before: Reading, after: Reading) -> Difference:
    """Return what changes from one reading of a document to another."""
    old, new = before.assessment, after.assessment
    return Difference(
        assessment=old.assessment,
        at=old.at,
        from_=old.release,
        to=new.release,
        triage=TriageChange(old.triage, new.triage),
        sides={
            side: SideDifference(
                red_flags=_changes(_flags(old.sides[side]), _flags(new.sides[side])),
                options=_changes(_options(old.sides[side]), _options(new.sides[side])),
                verdicts=list(_verdicts(before, after, side)),
            )
            for side in old.sides
        },
    )


_States = Mapping[str, tuple[str, str]]  # id -> title, state


def _flags(side: SideAnswer) -> _States:
    return {flag.rule: (flag.title, flag.state) for flag in side.red_flags}


def _options(side: SideAnswer) -> _States:
    """Return each option the answer speaks of; one that is set aside is not indicated."""
    aside = {one.option: (one.title, "not-indicated") for one in side.set_aside}
    return aside | {one.option: (one.title, one.standing) for one in side.options}


def _changes(before: _States, after: _States) -> list[Change]:
    changes = []
    for name in sorted({*before, *after}):
        title, old = before.get(name, ("", None))
        newer, new = after.get(name, (title, None))
        if old != new:
            changes.append(Change(name, newer, old, new))
    return changes


def _verdicts(before: Reading, after: Reading, side: str) -> Iterator[Change]:
    """Yield rules whose truth changed; one that only one release has counts unless not met."""
    old, new = before.truths[side], after.truths[side]
    for rule in sorted({*old, *new}):
        pair = (old.get(rule), new.get(rule))
        if pair[0] != pair[1] and set(pair) != {None, "not-met"}:
            title = after.titles.get(rule) or before.titles[rule]
            yield Change(rule, title, *pair)
