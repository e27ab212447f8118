"""The spine: one document in, one assessment out. Read this first.

read      document -> Findings                 (intake, before this module)
infer     Findings -> a truth for every rule   (two interpreters that agree)
assemble  truths -> Assessment                 (what wins, what is open, what to ask)
render    Assessment -> an answer              (views, after this module)
"""

from __future__ import annotations

from dataclasses import dataclass

from plafond.assessment import Assessment, SideFacts, assemble
from plafond.findings import Findings
from plafond.inference.crosscheck import EngineProcess, Inference
from plafond.inference.explain import Explainer
from plafond.rulebook import Rulebook


@dataclass(frozen=True)
class Release:
    """A rulebook that is ready to run: both interpreters built, explanations at hand."""

    rulebook: Rulebook
    inference: Inference
    explainer: Explainer


def ready(rulebook: Rulebook, engine: EngineProcess) -> Release:
    """Build the interpreters of a rulebook; raises EngineBuildError where it breaks a limit."""
    inference = Inference(rulebook, engine)
    return Release(rulebook, inference, Explainer(rulebook, inference.program))


def assess(
    findings: Findings, release: Release, *, assessment: str, at: str, everything: bool = False
) -> Assessment:
    """Assess what one document says, under one release, as of a time given by the caller.

    Raises EngineUnavailableError or InterpretersDisagreeError where there is no answer that two
    interpreters agree on. The same arguments give the same assessment, for ever.
    """
    facts = {}
    for side in findings.sides():
        known = findings.known(side, release.rulebook.vocabulary)
        truths = release.inference.truths(known.values, case=assessment)
        facts[side] = SideFacts(known, truths, release.inference.program.literals(known.values))
    return assemble(
        release.rulebook,
        release.explainer,
        findings,
        facts,
        assessment=assessment,
        at=at,
        everything=everything,
    )
