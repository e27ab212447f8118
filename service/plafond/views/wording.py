"""The words a reader sees for the codes of an answer: one place, so that every page says the same.

Takes codes, verdicts and values; gives plain text. Knows no layout.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from plafond.assessment import Verdict
from plafond.rulebook.loading import walk

TRIAGE = {
    "act-now": "ACT NOW",
    "soon": "SOON",
    "ready": "READY",
    "ask-referrer": "ASK THE REFERRER",
    "not-arthroscopic": "NOT FOR ARTHROSCOPY",
}
URGENCY = {
    "immediate": "immediately",
    "same-day": "the same day",
    "two-weeks": "within two weeks",
    "soon": "soon",
}
SIDE = {"left": "LEFT", "right": "RIGHT", "unspecified": "SIDE NOT SAID"}
CARD = {
    "position": "Position",
    "portals": "Portals",
    "scope": "Scope",
    "at_risk": "At risk",
    "aftercare": "Aftercare",
}
UNITS = {
    "a": "years",
    "mo": "months",
    "wk": "weeks",
    "d": "days",
    "h": "hours",
    "min": "minutes",
    "deg": "degrees",
    "mm[Hg]": "mmHg",
    "Cel": "degrees C",
    "10*3/uL": "x 10^9/L",
}
_QUANTITY = re.compile(r"(?<![\w.])(-?\d+(?:\.\d+)?) (" + "|".join(map(re.escape, UNITS)) + r")$")


def spoken(value: str) -> str:
    """Return a value as a reader says it: `12 weeks` for `12 wk`; other text as it is."""
    return _QUANTITY.sub(_say_quantity, value)


def _say_quantity(match: re.Match[str]) -> str:
    unit = UNITS[match[2]]
    single = match[1] == "1" and unit.endswith("s")
    return f"{match[1]} {unit[:-1] if single else unit}"


def grade_in_words(grade: Mapping[str, Any]) -> str:
    """Return a grade with its scheme, such as `grade C for (Wright 2005)`; nothing for none."""
    if not grade:
        return ""
    way = {"none": "neither for nor against"}.get(grade["direction"], grade["direction"])
    scheme = str(grade["scheme"]).replace("-", " ").capitalize()
    return f"grade {grade['recommendation']} {way} ({scheme})"


def values_behind(verdict: Verdict) -> list[str]:
    """Return the findings that suffice for a verdict with their values, as short phrases."""
    return [phrase for name, phrase in _recorded(verdict.trace) if name in verdict.suffices]


def values_so_far(verdict: Verdict) -> list[str]:
    """Return the recorded findings that speak for a verdict which is still open."""
    return [phrase for name, phrase in _recorded(verdict.trace, met_only=True) if name is not None]


def _recorded(trace: Mapping[str, Any], met_only: bool = False) -> Iterator[tuple[str, str]]:
    """Yield each recorded finding of a trace once, in the order of the condition."""
    seen = set()
    for clause in _clauses(trace):
        name = clause["finding"]
        if "value" in clause and name not in seen and (clause["truth"] == "met" or not met_only):
            seen.add(name)
            yield name, f"{clause['title']} {spoken(clause['value'])}"


def _clauses(node: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """Yield the clauses of a trace, those behind derived findings in place of these."""
    if "finding" in node:
        if "because" in node:
            yield from _clauses(node["because"])
        else:
            yield node
        return
    for key in ("all", "any", "of", "not"):
        for part in node.get(key, ()):
            yield from _clauses(part)


def rules_behind(verdict: Verdict) -> list[str]:
    """Return the rule of a verdict and the rules that derived what it tests, each once."""
    derived = [str(value) for _, key, value in walk(verdict.trace) if key == "derived_by"]
    return list(dict.fromkeys([verdict.rule, *derived]))
