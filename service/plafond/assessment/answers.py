"""The shapes of an answer: what an assessment is made of, frozen.

Field names are those of the answer; what a reader or another system gets is these, as they are.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from plafond.findings import Known, Truth

#: How serious an open check is, most serious first.
SEVERITIES = ("red-flag", "absolute", "scope", "screening", "relative", "caution")
#: How an option can stand, in the order they are listed.
STANDINGS = ("indicated", "on-hold", "contraindicated", "undetermined", "not-indicated")
#: What a document asks of who handles it, most pressing first.
TRIAGES = ("act-now", "soon", "ready", "ask-referrer", "not-arthroscopic")


@dataclass(frozen=True, slots=True)
class Verdict:
    """What one rule says: its truth, its sentence, its evidence, and the tree behind it.

    `sources` and `disputes` take in those of the rules that derive what it tests.
    """

    rule: str
    version: int
    kind: str
    title: str
    truth: str
    statement: str
    grade: Mapping[str, Any]
    confidence: str
    sources: Sequence[str]
    suffices: Sequence[str]
    trace: Mapping[str, Any]
    advice: str = ""
    caveat: str = ""
    disputes: Sequence[Mapping[str, Any]] = ()


@dataclass(frozen=True, slots=True)
class Check:
    """One thing to make sure of before an option is chosen, most serious first."""

    finding: str
    question: str
    rule: str
    title: str
    severity: str


@dataclass(frozen=True, slots=True)
class Ask:
    """One question, and the options and red flags whose verdict hangs on it."""

    finding: str
    question: str
    for_: Sequence[str]


@dataclass(frozen=True, slots=True)
class RedFlag:
    """A danger that is met, or raised and not yet ruled out (possible)."""

    rule: str
    version: int
    title: str
    state: str
    urgency: str
    action: str
    holds: Sequence[str]
    because: Verdict
    raised_by: Sequence[str] = ()
    settles: Sequence[Sequence[str]] = ()


@dataclass(frozen=True, slots=True)
class OptionAnswer:
    """How one option stands on one side, and everything behind it."""

    option: str
    title: str
    summary: str
    arthroscopic: bool
    standing: str
    grade: Mapping[str, Any]
    because: Sequence[Verdict]
    against: Sequence[Verdict]
    cautions: Sequence[Verdict]
    checks: Sequence[Check]
    settles: Sequence[Sequence[str]]
    alternatives: Sequence[Mapping[str, Any]]
    approach: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class SetAside:
    """An option that something pointed at and that the rules do not support: one line."""

    option: str
    title: str
    rule: str
    reason: str
    lacks: Sequence[str]


@dataclass(frozen=True, slots=True)
class SideAnswer:
    """The answer for one side."""

    red_flags: Sequence[RedFlag]
    options: Sequence[OptionAnswer]
    set_aside: Sequence[SetAside]
    ask: Sequence[Ask]
    ruled_out: Sequence[str]
    not_screened: Sequence[str]
    considered: int
    conflicts: Sequence[Mapping[str, Any]]
    scope: str = ""


@dataclass(frozen=True, slots=True)
class Assessment:
    """The answer to one document."""

    assessment: str
    at: str
    reference: str
    release: Mapping[str, Any]
    triage: str
    triage_reason: str
    sides: Mapping[str, SideAnswer]
    understood: Mapping[str, Mapping[str, Any]]
    not_understood: Sequence[str]
    sources: Mapping[str, Any]
    notice: str


@dataclass(frozen=True, slots=True)
class SideFacts:
    """What is known of one side, and what the rules make of it."""

    known: Known
    truths: Mapping[str, Truth]
    literals: set[int]
