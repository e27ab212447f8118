"""What the checks against published sources share: one patient in, what is said of the left out.

`tell` takes findings as a flat mapping, puts each where it belongs and runs the whole pipeline, so
that what is checked is what a reader would be told. `truths` stops at the rules, for tables of
thousands of rows; function and engine have to agree there too. "Fact sheet" means the published
facts kept beside the project (shared/clinical); their figures stand in the tests, nothing reads
them. Confidence is said in the words of the rules: verified, secondary, memory, judgement.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import pytest

from plafond.assessment import Assessment, OptionAnswer, SideAnswer
from plafond.findings import Findings, Truth
from plafond.intake.structured import findings_of
from plafond.pipeline import Release, assess

Facts = Mapping[str, Any]


@dataclass(frozen=True)
class Told:
    """What the service says about the left side of one patient."""

    whole: Assessment

    @property
    def side(self) -> SideAnswer:
        return self.whole.sides["left"]

    def option(self, name: str) -> OptionAnswer:
        """Return a listed option; a KeyError says that it is not listed."""
        return {one.option: one for one in self.side.options}[name]

    def standing(self, name: str) -> str:
        """Return the standing of an option, `set-aside`, or `not-mentioned`."""
        if any(one.option == name for one in self.side.set_aside):
            return "set-aside"
        listed = {one.option: one.standing for one in self.side.options}
        return listed.get(name, "not-mentioned")

    def set_aside_by(self, name: str) -> str:
        """Return the rule that is named where an option is set aside."""
        return {one.option: one.rule for one in self.side.set_aside}[name]

    def grade(self, name: str) -> str:
        return str(self.option(name).grade["recommendation"])

    def cautions(self, name: str) -> set[str]:
        """Return the cautions and relative contraindications that stand beside an option."""
        return {verdict.rule for verdict in self.option(name).cautions}

    def against(self, name: str) -> set[str]:
        return {verdict.rule for verdict in self.option(name).against}

    def checks(self, name: str) -> set[tuple[str, str]]:
        """Return the open checks of an option as severity and finding."""
        return {(check.severity, check.finding) for check in self.option(name).checks}

    def flag(self, rule: str) -> str:
        """Return `met`, `possible`, or nothing where a red flag is not raised."""
        return {one.rule: one.state for one in self.side.red_flags}.get(rule, "")

    def asked(self) -> set[str]:
        return {one.finding for one in self.side.ask}

    def understood(self, finding: str) -> str:
        """Return a finding of the left side as it was understood, the computed ones too."""
        lines = self.whole.understood["left"].get(finding, [])
        return ", ".join(line["value"] for line in lines)


@pytest.fixture(scope="session")
def record(release: Release) -> Callable[..., Findings]:
    """Return what reads facts of the left side (and the right one) through intake."""

    def read(facts: Facts, right: Facts | None = None) -> Findings:
        document: dict[str, dict[str, Any]] = {"left": {}, "person": {}}
        for name, value in facts.items():
            sided = release.rulebook.vocabulary[name].sided
            document["left" if sided else "person"][name] = value
        if right is not None:
            document["right"] = dict(right)
        return findings_of(document, release.rulebook.vocabulary)

    return read


@pytest.fixture(scope="session")
def tell(release: Release, record: Callable[..., Findings]) -> Callable[..., Told]:
    """Return what tells everything about the left side, given one finding of it or more."""

    def told(facts: Facts, right: Facts | None = None) -> Told:
        findings = record(facts, right)
        whole = assess(findings, release, assessment="published", at="2026-11-25T09:00:00Z")
        return Told(whole)

    return told


@pytest.fixture(scope="session")
def truths(release: Release, record: Callable[..., Findings]) -> Callable[..., Mapping[str, Truth]]:
    """Return what gives the truth of every rule, on which function and engine agree."""

    def of(facts: Facts, right: Facts | None = None) -> Mapping[str, Truth]:
        known = record(facts, right).known("left", release.rulebook.vocabulary)
        return release.inference.truths(known.values)

    return of
