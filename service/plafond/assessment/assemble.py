"""From the answers of the sides to the assessment of a document: triage, sources, what was read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from plafond.assessment.answers import Assessment, Check, SideAnswer, SideFacts
from plafond.assessment.side import Side
from plafond.findings import Findings
from plafond.inference.explain import Explainer
from plafond.rulebook import Rulebook

ACT_NOW = ("immediate", "same-day")


def assemble(
    rulebook: Rulebook,
    explainer: Explainer,
    findings: Findings,
    facts: Mapping[str, SideFacts],
    *,
    assessment: str,
    at: str,
    everything: bool = False,
) -> Assessment:
    """Return the assessment of a document from the facts of each of its sides.

    `everything` also lists options and red flags that nothing points at.
    """
    sides = {
        name: Side(rulebook, explainer, side, everything).answer() for name, side in facts.items()
    }
    triage, reason = triage_of(findings, sides, rulebook.covers)
    return Assessment(
        assessment=assessment,
        at=at,
        reference=findings.reference,
        release={
            "version": rulebook.version,
            "digest": rulebook.digest,
            "signed": rulebook.signed,
        },
        triage=triage,
        triage_reason=reason,
        sides=sides,
        understood=_understood(rulebook, findings, facts),
        not_understood=findings.not_understood,
        sources=_cited(rulebook, sides),
        notice=rulebook.notice,
    )


def triage_of(findings: Findings, sides: Mapping[str, SideAnswer], covers: str) -> tuple[str, str]:
    """Return the triage of a document and the reason in a few words.

    Where nothing is in play the reason says what these rules cover, so that silence about a
    region nobody wrote rules for is not taken for an answer.
    """
    flags = [flag for side in sides.values() for flag in side.red_flags]
    urgent = [flag for flag in flags if flag.urgency in ACT_NOW]
    if urgent:
        return "act-now", f"{urgent[0].title} ({urgent[0].state})"
    if flags:
        return "soon", f"{flags[0].title} ({flags[0].state})"
    options = [one for side in sides.values() for one in side.options if one.arthroscopic]
    for option in options:
        if option.standing == "indicated" and not _serious(option.checks):
            return "ready", f"{option.title} is indicated and no serious check is open"
    waiting = [one for one in options if one.standing in ("indicated", "undetermined")]
    if waiting:
        return "ask-referrer", f"{waiting[0].title} is {waiting[0].standing}; facts are missing"
    if any(side.scope and side.options for side in sides.values()):
        return "ask-referrer", "outside the scope of these rules, which leave it to a person"
    if any(side.ask and not side.options for side in sides.values()):
        return "ask-referrer", "a complaint is recorded, and nothing that tells what kind it is"
    if not findings.records:
        return "ask-referrer", "nothing was recorded"
    if any(side.options for side in sides.values()):
        return "not-arthroscopic", "no keyhole procedure is open; see what is done otherwise"
    return "not-arthroscopic", f"nothing recorded points to what these rules cover: {covers}"


def _serious(checks: Iterable[Check]) -> bool:
    return any(check.severity in ("red-flag", "absolute", "scope") for check in checks)


def _understood(
    rulebook: Rulebook, findings: Findings, facts: Mapping[str, SideFacts]
) -> dict[str, dict[str, Any]]:
    understood: dict[str, dict[str, Any]] = {side: {} for side in (*facts, "person")}
    for record in findings.records:
        line: dict[str, Any] = {"value": record.shown, "origin": record.origin.pointer}
        if record.origin.on:
            line["on"] = record.origin.on
        if not record.sure:
            line["sure"] = False
        understood[record.side].setdefault(record.id, []).append(line)
    for side, one in facts.items():
        for definition in rulebook.vocabulary.computed:
            worked = one.known.records.get(definition.id)
            if worked is not None and worked.origin.how != "recorded":
                line = {"value": worked.shown, "origin": worked.origin.pointer}
                understood[side][definition.id] = [{**line, "how": worked.origin.how}]
    return understood


def _cited(rulebook: Rulebook, sides: Mapping[str, SideAnswer]) -> dict[str, Any]:
    """Return the sources that anything in the answer names, each once."""
    names: set[str] = set()
    for side in sides.values():
        verdicts = [flag.because for flag in side.red_flags]
        for option in side.options:
            verdicts += [*option.because, *option.against, *option.cautions]
            names |= _cites(option.approach) | _cites(list(option.alternatives))
        for verdict in verdicts:
            names |= set(verdict.sources) | _cites(verdict.trace) | _cites(list(verdict.disputes))
        for line in side.set_aside:
            names |= set(rulebook.rules[line.rule].sources)
    return {name: rulebook.sources[name] for name in sorted(names)}


def _cites(data: Any) -> set[str]:
    """Return the sources cited anywhere in plain data."""
    if isinstance(data, list):
        return set().union(*map(_cites, data))
    if not isinstance(data, dict):
        return set()
    here = {data["cites"]} if "cites" in data else set()
    return here.union(*map(_cites, data.values()))
