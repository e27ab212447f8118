"""What is missing: a finding nothing reaches, an option half described, a code that is none.

Looks at the vocabulary, the options and the red flags of a whole rulebook, not at what a condition
means.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from plafond.errors import Issue
from plafond.governance.places import Places
from plafond.rulebook import Option, Rulebook, clauses
from plafond.rulebook.loading import walk

CARD = ("position", "portals", "scope", "at_risk", "aftercare")
CODES = {
    "icd-10-cm": re.compile(r"[A-Z][0-9][0-9A-Z](\.[0-9A-Z]{1,4})?"),
    "icd-10-pcs": re.compile(r"[0-9A-HJ-NP-Z]{7}"),
    "loinc": re.compile(r"[0-9]{1,6}-[0-9]"),
}
LIKE = {"icd-10-cm": "M25.371", "icd-10-pcs": "0MQQ4ZZ", "loinc": "4548-4"}


def used_findings(rulebook: Rulebook) -> set[str]:
    """Return the ids of all findings that a rule, an option or another finding needs."""
    used = {name for rule in rulebook.rules.values() for name in (*rule.findings, rule.screen)}
    raising = [one for rule in rulebook.rules.values() for one in rule.raised_by]
    raising += [one for option in rulebook.options.values() for one in option.raised_by]
    used |= {clause.finding for one in raising for clause in clauses(one)}
    used |= {
        name
        for one in rulebook.vocabulary.computed
        if one.computed is not None
        for name in one.computed.inputs
    }
    used.add(rulebook.scope.finding)
    return used | {name for one in rulebook.complaints for name in (one.finding, *one.ask)}


def unused(rulebook: Rulebook, places: Places) -> Iterator[Issue]:
    """Yield every finding nothing tests and every source nothing cites."""
    used = used_findings(rulebook)
    for definition in rulebook.vocabulary:
        if definition.id not in used:
            message = f"nothing uses the finding {definition.id}"
            yield places.finding(definition.id, "", message, "warning")
    cited = set(_cited(rulebook))
    for name in rulebook.sources:
        if name not in cited:
            yield places.source(name, f"nothing cites the source {name}", "warning")


def _cited(rulebook: Rulebook) -> Iterator[str]:
    for rule in rulebook.rules.values():
        yield from sources_in(rule.data)
    for option in rulebook.options.values():
        yield from sources_in(option.data)


def sources_in(data: Mapping[str, Any]) -> Iterator[str]:
    """Yield every source a rule or an option file cites, as often as it does."""
    for pointer, key, value in walk(data):
        if key == "cites" or (key == "id" and pointer.startswith("/sources/")):
            yield value


# -- findings -----------------------------------------------------------------------------


def unreached(rulebook: Rulebook, places: Places) -> Iterator[Issue]:
    """Yield every finding that neither a question of a form nor a phrase of a letter reaches."""
    for definition in rulebook.vocabulary:
        reached = definition.question or definition.phrases or definition.derived
        if not reached:
            message = f"neither a question nor a phrase reaches {definition.id}"
            yield places.finding(definition.id, "", message, "warning", "give it a question")


def malformed_codes(rulebook: Rulebook, places: Places) -> Iterator[Issue]:
    """Yield every code that is not written as its system writes codes."""
    for definition in rulebook.vocabulary:
        for at, message, mend in _malformed(definition.codes):
            yield places.finding(definition.id, at, message, "error", mend)
    for option in rulebook.options.values():
        for at, message, mend in _malformed(option.data.get("codes", {})):
            yield places.option(option.id, at, message, "error", mend)


def _malformed(codes: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    for system, listed in codes.items():
        for index, code in enumerate(listed):
            if not CODES[system].fullmatch(code):
                message = f"{code!r} is no {system} code"
                yield f"/codes/{system}/{index}", message, f"write it like {LIKE[system]}"


# -- options and red flags ----------------------------------------------------------------


def half_described(rulebook: Rulebook, places: Places) -> Iterator[Issue]:
    """Yield what an option lacks: rules for it, rules against it, alternatives, card, outcomes.

    An option that is no keyhole operation needs only a rule that supports it.
    """
    for option in rulebook.options.values():
        for at, missing in _missing(rulebook, option):
            yield places.option(option.id, at, missing, "warning")


def _missing(rulebook: Rulebook, option: Option) -> Iterator[tuple[str, str]]:
    if not rulebook.indications[option.id]:
        yield "/id", f"no rule supports {option.id}"
    if not option.arthroscopic:
        return
    if not any(rule.kind == "contraindication" for rule in rulebook.against[option.id]):
        yield "/traits", f"nothing speaks against {option.id}, by its id or by its traits"
    if not option.alternatives:
        yield "/alternatives", f"{option.id} names no alternative"
    lacking = [part for part in CARD if not option.approach.get(part)]
    if lacking:
        yield "/approach", f"the approach card of {option.id} lacks {', '.join(lacking)}"
    if not option.data.get("outcomes"):
        yield "/outcomes", f"{option.id} gives no outcomes (what a patient is told, with its n)"


def unasked_flags(rulebook: Rulebook, places: Places) -> Iterator[Issue]:
    """Yield every red flag whose screening finding has no question to ask."""
    for rule in rulebook.of_kind("red-flag"):
        if not rulebook.vocabulary[rule.screen].question:
            message = f"{rule.screen} has no question, so nobody can be asked about this red flag"
            yield places.rule(rule.id, "/screen", message, "error", "screen for what can be asked")
