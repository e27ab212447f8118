"""Checks the knowledge as a whole: loads it, runs every case, looks for what a reviewer would.

Gives every issue with file and line. Errors stop a release; warnings and notes are for people.
What is asked of cases, of numbers, of rules together and of options stands in the files beside.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path

from plafond.errors import Issue
from plafond.governance import cases, completeness, lexicon, mutation, numbers, reasoning
from plafond.governance.cases import Shown, case_known, case_truth
from plafond.governance.places import Places, places_of
from plafond.rulebook import Rule, Rulebook, load_release, read_directory, releases
from plafond.rulebook.loading import assemble

__all__ = ["case_known", "case_truth", "verify"]

SEVERITIES = ("error", "warning", "note")


def verify(folder: Path, today: date, *, thorough: bool = False) -> list[Issue]:
    """Return every issue of the knowledge files under a folder, errors first.

    Thorough also mutates every rule: a mutant that no case kills is a warning.
    """
    knowledge, issues = read_directory(folder)
    rulebook, more = assemble(knowledge)
    issues += more
    if rulebook is not None and not any(issue.severity == "error" for issue in issues):
        places = places_of(knowledge)
        issues += _of_rules(rulebook, places, today, thorough)
        issues += _of_the_whole(rulebook, places)
        issues += _versions(rulebook, folder, places)
    return sorted(
        issues, key=lambda issue: (SEVERITIES.index(issue.severity), issue.file, issue.line)
    )


def _of_rules(rulebook: Rulebook, places: Places, today: date, thorough: bool) -> Iterator[Issue]:
    for rule in rulebook.rules.values():
        shown = cases.shown_by(rulebook, rule)
        yield from cases.failing(shown, places)
        yield from cases.unshown_limits(shown, places)
        yield from cases.undecided(shown, places)
        yield from _mutants(shown, places, thorough)
        yield from reasoning.dead(rulebook, rule, places)
        yield from numbers.unsourced(rulebook, rule, places)
        yield from numbers.disagreeing(rulebook, rule, places)
        yield from _overdue(rule, places, today)
        yield from _weak(rule, places)


def _mutants(shown: Shown, places: Places, thorough: bool) -> Iterator[Issue]:
    if thorough:
        yield from mutation.survivors(mutation.mutate_rule(shown), places)


def _of_the_whole(rulebook: Rulebook, places: Places) -> Iterator[Issue]:
    yield from reasoning.doubles(rulebook, places)
    yield from reasoning.always_forbidden(rulebook, places)
    yield from completeness.unused(rulebook, places)
    yield from completeness.unreached(rulebook, places)
    yield from lexicon.few_words(rulebook, places)
    yield from lexicon.shared_phrases(rulebook, places)
    yield from lexicon.no_findings_words(rulebook, places)
    yield from lexicon.doubled_modifiers(places)
    yield from completeness.malformed_codes(rulebook, places)
    yield from completeness.half_described(rulebook, places)
    yield from completeness.unasked_flags(rulebook, places)


def _overdue(rule: Rule, places: Places, today: date) -> Iterator[Issue]:
    due: Mapping[str, str] = rule.data["review"]
    if due["next"] < today.isoformat():
        text = f"its review was due on {due['next']}"
        yield places.rule(rule.id, "/review", text, "warning", "review it, then move the date")


def _weak(rule: Rule, places: Places) -> Iterator[Issue]:
    grave = rule.kind == "red-flag" or rule.effect.strength == "absolute"
    if grave and rule.confidence in ("memory", "judgement"):
        text = f"a grave rule rests on {rule.confidence}; every answer says so"
        yield places.rule(rule.id, "/confidence", text, "note")


def _versions(rulebook: Rulebook, folder: Path, places: Places) -> Iterator[Issue]:
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
                yield places.rule(rule.id, "/version", text, "error", mend)
