"""The words a reader sees for the codes of an answer: one place, so that every page says the same.

Takes codes, verdicts and values; gives plain text. Knows no layout.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from plafond.assessment import SideAnswer, Verdict
from plafond.rulebook.loading import walk

TRIAGE = {
    "act-now": "ACT NOW",
    "soon": "SOON",
    "ready": "READY",
    "ask-referrer": "ASK THE REFERRER",
    "not-arthroscopic": "NO KEYHOLE PROCEDURE IN PLAY",
}
STANDINGS = {
    "indicated": "INDICATED",
    "on-hold": "ON HOLD",
    "contraindicated": "CONTRAINDICATED",
    "undetermined": "UNDETERMINED: facts are missing",
    "not-indicated": "NOT INDICATED",
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
_QUANTITY = re.compile(
    r"(?<![\w.])(-?\d+(?:\.\d+)?) (" + "|".join(map(re.escape, UNITS)) + r")(?=$|[;,)])"
)


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


def grounds(line: Mapping[str, Any], marks: str) -> str:
    """Return what a line of an approach card rests on: its marks, a word where it is weaker."""
    word = str(line.get("basis", line.get("confidence", ""))).replace("-", " ")
    weak = f"({word})" if word not in ("", "verified") else ""
    return " ".join(part for part in (weak, marks) if part)


def values_behind(verdict: Verdict) -> list[str]:
    """Return the findings that suffice for a verdict with their values, as short phrases."""
    return [phrase for name, phrase in _recorded(verdict.trace) if name in verdict.suffices]


def values_so_far(verdict: Verdict) -> list[str]:
    """Return the recorded findings that speak for a verdict which is still open."""
    return [phrase for name, phrase in _recorded(verdict.trace, met_only=True) if name is not None]


def _recorded(trace: Mapping[str, Any], met_only: bool = False) -> Iterator[tuple[str, str]]:
    """Yield each recorded finding of a trace once, in the order of the condition."""
    seen = set()
    for clause, wanted in _clauses(trace, "met"):
        name = clause["finding"]
        if "value" in clause and name not in seen and (clause["truth"] == wanted or not met_only):
            seen.add(name)
            yield name, _phrase(clause["title"], clause["value"])


def _phrase(title: str, value: str) -> str:
    return title if value == "present" else f"{title} {spoken(value)}"


def _clauses(node: Mapping[str, Any], wanted: str) -> Iterator[tuple[Mapping[str, Any], str]]:
    """Yield each clause with the truth that speaks for the whole.

    A derived finding is left out for the clauses behind it. Under `not`, and behind a derived
    finding that must be absent, the wanted truth turns.
    """
    turned = "not-met" if wanted == "met" else "met"
    if "because" in node:
        yield from _clauses(node["because"], turned if node["clause"] == "absent" else wanted)
    elif "finding" in node:
        yield node, wanted
    for key in ("all", "any", "of"):
        for part in node.get(key, ()):
            yield from _clauses(part, wanted)
    for part in node.get("not", ()):
        yield from _clauses(part, turned)


def rules_behind(verdict: Verdict) -> list[str]:
    """Return the rule of a verdict and the rules that derived what it tests, each once."""
    derived = [str(value) for _, key, value in walk(verdict.trace) if key == "derived_by"]
    return list(dict.fromkeys([verdict.rule, *derived]))


def counts_of_side(side: SideAnswer) -> str:
    """Return what a side holds in a few words: `1 red flag met, 2 options indicated`."""
    flags = Counter(flag.state for flag in side.red_flags)
    options = Counter(option.standing for option in side.options)
    parts = [
        f"{flags[state]} red flag{'s' if flags[state] > 1 else ''} {state}"
        for state in ("met", "possible")
        if flags[state]
    ]
    parts += [f"{options[one]} {one.replace('-', ' ')}" for one in STANDINGS if options[one]]
    return ", ".join(parts) or "nothing in play"


def joined(words: Sequence[str]) -> str:
    """Return words as a reader lists them: `a, b and c`."""
    return " and ".join(part for part in (", ".join(words[:-1]), words[-1]) if part)


def alternative_in_words(line: Mapping[str, Any], marks: str) -> str:
    """Return what else can be done: an option by its title, or what the line says, with marks."""
    said = str(line.get("title", ""))
    if "says" in line:
        said = f"{said}, {line['says']}" if said else str(line["says"])
    return f"{said} {marks}".strip()


def doubted(line: Mapping[str, Any]) -> str:
    """Return a recorded value in words, with a question mark where it is only suspected."""
    return spoken(line["value"]) + ("" if line.get("sure", True) else "?")


def conflict_in_words(conflict: Mapping[str, Any]) -> str:
    """Return what two records of one finding say against each other, with both origins."""
    claims = [
        f"{doubted(one)} ({one['origin']}{', ' + one['on'] if one['on'] else ''})"
        for one in conflict["records"]
    ]
    return f"{conflict['title']} is {' and '.join(claims)}; counted as unknown until settled."
