"""Checks the knowledge as a whole: loads it, runs every case, looks for what a reviewer would.

Gives every issue with file and line. Errors stop a release; warnings and notes are for people.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from plafond.errors import Issue
from plafond.findings import Finding, Findings, Known, Origin, Truth
from plafond.inference.evaluate import evaluate_rulebook
from plafond.rulebook import (
    Between,
    Case,
    Compare,
    Rule,
    Rulebook,
    clauses,
    load_directory,
    load_release,
    read_directory,
    releases,
)
from plafond.rulebook.loading import walk
from plafond.vocabulary import Vocabulary, written


def verify(folder: Path, today: date) -> list[Issue]:
    """Return every issue of the knowledge files under a folder, errors first."""
    rulebook, issues = load_directory(folder)
    if rulebook is not None:
        lines = _Lines(folder)
        issues += _failing_cases(rulebook, lines)
        issues += _unshown_thresholds(rulebook, lines)
        issues += _unused(rulebook)
        issues += _lonely_options(rulebook)
        issues += _overdue(rulebook, lines, today)
        issues += _versions(rulebook, folder, lines)
        issues += _weak(rulebook, lines)
    rank = {"error": 0, "warning": 1, "note": 2}
    return sorted(issues, key=lambda issue: (rank[issue.severity], issue.file, issue.line))


class _Lines:
    """Where things stand in the files, for issues found after loading."""

    def __init__(self, folder: Path) -> None:
        knowledge, _ = read_directory(folder)
        self._rules = {source.data["id"]: source for source in knowledge.rules}

    def issue(self, rule: str, pointer: str, message: str, severity: str, mend: str = "") -> Issue:
        return self._rules[rule].issue(pointer, message, mend, severity)


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


def case_truth(rulebook: Rulebook, rule: Rule, case: Case) -> Truth:
    """Return what a rule says to one of its cases, by the oracle, through the whole rulebook."""
    known = case_known(case, rulebook.vocabulary)
    return evaluate_rulebook(rulebook, known.values)[rule.id]


def _failing_cases(rulebook: Rulebook, lines: _Lines) -> Iterator[Issue]:
    for rule in rulebook.rules.values():
        for index, case in enumerate(rule.cases):
            truth = case_truth(rulebook, rule, case)
            if truth.value != case.expect:
                message = f"the case {case.name!r} gives {truth.value}, not {case.expect}"
                yield lines.issue(rule.id, f"/cases/{index}", message, "error")


def _unshown_thresholds(rulebook: Rulebook, lines: _Lines) -> Iterator[Issue]:
    """Every limit should be shown exactly on it, and with the finding unrecorded."""
    for rule in rulebook.rules.values():
        shown: dict[str, list[Any]] = {}
        cases = [case_known(case, rulebook.vocabulary).values for case in rule.cases]
        for clause in clauses(rule.condition):
            if isinstance(clause, Compare | Between):
                shown.setdefault(clause.finding, []).extend(_limits(clause))
        for finding, limits in shown.items():
            values = [known.get(finding) for known in cases]
            definition = rulebook.vocabulary[finding]
            for limit in limits:
                if limit not in values:
                    text = f"no case has {finding} exactly at {definition.show(limit)}"
                    yield lines.issue(rule.id, "/cases", text, "warning")
            if None not in values:
                text = f"no case leaves {finding} unrecorded"
                yield lines.issue(rule.id, "/cases", text, "warning")


def _limits(clause: Compare | Between) -> list[Any]:
    return [clause.limit] if isinstance(clause, Compare) else [clause.low, clause.high]


def _unused(rulebook: Rulebook) -> Iterator[Issue]:
    used = {name for rule in rulebook.rules.values() for name in (*rule.findings, rule.screen)}
    raising = [one for rule in rulebook.rules.values() for one in rule.raised_by]
    raising += [one for option in rulebook.options.values() for one in option.raised_by]
    used |= {clause.finding for one in raising for clause in clauses(one)}
    used |= {name for one in rulebook.vocabulary.computed for name in _inputs(one.computed)}
    for definition in rulebook.vocabulary:
        if definition.id not in used | {rulebook.scope.finding}:
            file = f"vocabulary/{definition.group}.yaml"
            yield Issue("warning", file, 1, f"nothing uses the finding {definition.id}")
    cited = set(_cited(rulebook))
    for name in rulebook.sources:
        if name not in cited:
            yield Issue("warning", "sources", 1, f"nothing cites the source {name}")


def _inputs(computed: Any) -> tuple[str, ...]:
    return tuple(computed.inputs)


def _cited(rulebook: Rulebook) -> Iterator[str]:
    files = [rule.data for rule in rulebook.rules.values()]
    files += [option.data for option in rulebook.options.values()]
    for data in files:
        for pointer, key, value in walk(data):
            if key == "cites" or (key == "id" and pointer.startswith("/sources/")):
                yield value


def _lonely_options(rulebook: Rulebook) -> Iterator[Issue]:
    for option in rulebook.options.values():
        if not rulebook.indications[option.id]:
            file = f"options/{option.id}.yaml"
            yield Issue("warning", file, 1, f"no rule supports {option.id}")


def _overdue(rulebook: Rulebook, lines: _Lines, today: date) -> Iterator[Issue]:
    for rule in rulebook.rules.values():
        due: Mapping[str, str] = rule.data["review"]
        if due["next"] < today.isoformat():
            text = f"its review was due on {due['next']}"
            yield lines.issue(rule.id, "/review", text, "warning", "review it, then move the date")


def _versions(rulebook: Rulebook, folder: Path, lines: _Lines) -> Iterator[Issue]:
    """A rule whose meaning changed since an earlier release must carry a higher version."""
    for file in releases(folder):
        if file.version == rulebook.version:
            continue
        earlier = load_release(file).rules
        for rule in rulebook.rules.values():
            before = earlier.get(rule.id)
            if before and before.digest != rule.digest and before.version >= rule.version:
                text = f"its meaning changed since {file.version}, its version did not rise"
                mend = f"set version: {before.version + 1}"
                yield lines.issue(rule.id, "/version", text, "error", mend)


def _weak(rulebook: Rulebook, lines: _Lines) -> Iterator[Issue]:
    for rule in rulebook.rules.values():
        grave = rule.kind == "red-flag" or rule.effect.strength == "absolute"
        if grave and rule.confidence in ("memory", "judgement"):
            text = f"a grave rule rests on {rule.confidence}; every answer says so"
            yield lines.issue(rule.id, "/confidence", text, "note")
