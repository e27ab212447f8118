"""What a letter says: mentions with their evidence, facts made of them, findings for the pipeline.

Every fact has mentions and every mention a stretch of the raw text. Values that disagree stay side
by side. Refuses to choose between them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from plafond.findings import SIDES, Finding, Findings, Origin
from plafond.vocabulary import Vocabulary

PLACES = (*SIDES, "person")
#: A doubtful "absent" is no news: it neither settles nor raises anything.
NOTHING = ("absent", "negative")


@dataclass(frozen=True, slots=True)
class Mention:
    """One place where a letter speaks of a finding; `start` and `end` are offsets in the raw text.

    `value` is as the native form writes it. `rules` names the phrase, the modifiers and the side
    rule by which it was read; `match` is exact, variant or fuzzy.
    """

    finding: str
    side: str
    value: str
    status: str
    start: int
    end: int
    section: str
    rules: tuple[str, ...]
    match: str = "exact"
    on: str = ""

    @property
    def sure(self) -> bool:
        """Say whether this mention gives its finding a value."""
        return self.status == "stated" and self.match != "fuzzy"


@dataclass(frozen=True, slots=True)
class Fact:
    """One value of one finding on one side, and which mentions (by index) say so."""

    finding: str
    side: str
    value: str
    sure: bool
    mentions: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of the raw text under one heading."""

    kind: str
    title: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Unread:
    """A stretch that looks like a finding's value and was not taken for one, and why."""

    start: int
    end: int
    why: str
    finding: str = ""


@dataclass(frozen=True)
class Letter:
    """What one letter says. Holds offsets and codes, never the text."""

    mentions: tuple[Mention, ...]
    facts: tuple[Fact, ...]
    sections: tuple[Section, ...]
    not_understood: tuple[Unread, ...]
    written: str
    vocabulary: Vocabulary

    @property
    def conflicts(self) -> tuple[tuple[str, str], ...]:
        """Return the findings and sides of which the letter states more than one value."""
        seen: dict[tuple[str, str], set[str]] = {}
        for fact in self.facts:
            if fact.sure:
                seen.setdefault((fact.finding, fact.side), set()).add(fact.value)
        return tuple(key for key, values in seen.items() if len(values) > 1)

    def findings(self, reference: str = "") -> Findings:
        """Return what rules may use; unsure facts raise, and settle nothing.

        Pointers are those the native form has for the same facts, so that what is written out
        and read again is the same.
        """
        counts: dict[tuple[str, str], int] = {}
        for fact in self.facts:
            counts[fact.side, fact.finding] = counts.get((fact.side, fact.finding), 0) + 1
        records = []
        seen: dict[tuple[str, str], int] = {}
        for fact in self.facts:
            key = (fact.side, fact.finding)
            index = seen.get(key, 0)
            seen[key] = index + 1
            listed = f"/{index}" if counts[key] > 1 else ""
            records.append(self._record(fact, f"/{fact.side}/{fact.finding}{listed}"))
        return Findings(tuple(records), reference)

    def _record(self, fact: Fact, pointer: str) -> Finding:
        definition = self.vocabulary[fact.finding]
        raw = Decimal(fact.value) if definition.kind == "count" else fact.value
        dates = {self.mentions[index].on for index in fact.mentions}
        on = dates.pop() if len(dates) == 1 else ""
        value = definition.read(raw)
        return Finding(
            fact.finding, fact.side, value, Origin(pointer, on), fact.value, sure=fact.sure
        )


def facts_of(mentions: tuple[Mention, ...]) -> tuple[Fact, ...]:
    """Return the facts that mentions make, by place and finding, a sure one before an unsure one.

    Only what is stated or doubted of the patient now makes a fact.
    """
    grouped: dict[tuple[int, str, str], list[int]] = {}
    for index, mention in enumerate(mentions):
        if mention.status not in ("stated", "uncertain"):
            continue
        if not mention.sure and mention.value in NOTHING:
            continue
        key = (PLACES.index(mention.side), mention.finding, mention.value)
        grouped.setdefault(key, []).append(index)
    facts = []
    for (place, finding, value), indices in grouped.items():
        sure = any(mentions[index].sure for index in indices)
        facts.append(Fact(finding, PLACES[place], value, sure, tuple(indices)))
    return tuple(sorted(facts, key=lambda one: (PLACES.index(one.side), one.finding, not one.sure)))


def resided(mentions: Iterable[Mention], single: str) -> tuple[Mention, ...]:
    """Give mentions without a side the letter's single side, and say that it was that rule."""
    return tuple(
        replace(one, side=single, rules=(*one.rules, "side:letter"))
        if single and one.side == "unspecified"
        else one
        for one in mentions
    )
