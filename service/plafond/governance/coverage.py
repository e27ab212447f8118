"""The map of the field: what the knowledge says of each option, counted.

Takes a rulebook; gives a row an option, totals, and a line a region, as data. `drawing` makes a
picture of it. Pure: no file, no web.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from plafond.governance.completeness import sources_in
from plafond.rulebook import Option, Rule, Rulebook
from plafond.rulebook.rules import CONFIDENCES, KINDS

REGIONS = ("ankle", "hindfoot", "tendon", "forefoot", "elsewhere")


@dataclass(frozen=True, slots=True)
class Count:
    """How many rules speak about an option by its own id, and how many through its traits."""

    own: int
    shared: int

    @property
    def total(self) -> int:
        """Return both together."""
        return self.own + self.shared


@dataclass(frozen=True, slots=True)
class OptionRow:
    """One option, counted.

    `cases` are those of its own rules; `sources` those that its file and its own rules cite, each
    once; `grade` is the best of its indications with the `direction` that goes with it (empty
    where none is graded); `confidence` is the weakest of its own rules.
    """

    id: str
    title: str
    region: str
    zone: str
    arthroscopic: bool
    indications: int
    absolute: Count
    relative: Count
    cautions: Count
    red_flags: Count
    sources: int
    grade: str
    direction: str
    cases: int
    confidence: str


@dataclass(frozen=True, slots=True)
class Region:
    """The options of one region, counted together; each rule, case and source once."""

    name: str
    options: int
    arthroscopic: int
    rules: int
    cases: int
    sources: int


@dataclass(frozen=True, slots=True)
class Coverage:
    """The map of the field: rows by region and title, regions, and what there is in all.

    `kinds` counts the rules of each kind; `findings` those of the vocabulary.
    """

    version: str
    digest: str
    rows: tuple[OptionRow, ...]
    regions: tuple[Region, ...]
    kinds: tuple[tuple[str, int], ...]
    rules: int
    cases: int
    sources: int
    findings: int


def coverage(rulebook: Rulebook) -> Coverage:
    """Return the map of the field that a rulebook covers."""
    ordered = sorted(rulebook.options.values(), key=_order)
    regions = dict.fromkeys(str(option.data["region"]) for option in ordered)
    return Coverage(
        version=rulebook.version,
        digest=rulebook.digest,
        rows=tuple(_row(rulebook, option) for option in ordered),
        regions=tuple(_region(rulebook, name) for name in regions),
        kinds=tuple((kind, len(rulebook.of_kind(kind))) for kind in KINDS),
        rules=len(rulebook.rules),
        cases=_cases(rulebook.rules.values()),
        sources=len(rulebook.sources),
        findings=len(rulebook.vocabulary),
    )


def _order(option: Option) -> tuple[int, str, bool, str]:
    region = str(option.data["region"])
    place = REGIONS.index(region) if region in REGIONS else len(REGIONS)
    return place, region, not option.arthroscopic, option.title


def own_rules(rulebook: Rulebook, option: Option) -> list[Rule]:
    """Return the rules that name an option: for it, against it, or holding it."""
    speaking = (*rulebook.against[option.id], *rulebook.holding[option.id])
    naming = [rule for rule in speaking if option.id in rule.effect.target.options]
    return [*rulebook.indications[option.id], *naming]


def _row(rulebook: Rulebook, option: Option) -> OptionRow:
    own = own_rules(rulebook, option)
    against = rulebook.against[option.id]
    grade, direction = _best_grade(rulebook.indications[option.id])
    return OptionRow(
        id=option.id,
        title=option.title,
        region=str(option.data["region"]),
        zone=str(option.data.get("zone", "")),
        arthroscopic=option.arthroscopic,
        indications=len(rulebook.indications[option.id]),
        absolute=_count(option, (one for one in against if one.effect.strength == "absolute")),
        relative=_count(option, (one for one in against if one.effect.strength == "relative")),
        cautions=_count(option, (one for one in against if one.kind == "caution")),
        red_flags=_count(option, rulebook.holding[option.id]),
        sources=len(_sources([option], own)),
        grade=grade,
        direction=direction,
        cases=_cases(own),
        confidence=max((rule.confidence for rule in own), key=CONFIDENCES.index, default=""),
    )


def _count(option: Option, rules: Iterable[Rule]) -> Count:
    own = [option.id in rule.effect.target.options for rule in rules]
    return Count(own.count(True), own.count(False))


def _best_grade(rules: Iterable[Rule]) -> tuple[str, str]:
    """Return the best recommendation; among equals one that speaks for the option."""
    graded = [
        (str(one.grade["recommendation"]), str(one.grade["direction"]))
        for one in rules
        if one.grade
    ]
    return min(graded, key=lambda grade: (grade[0], grade[1] != "for"), default=("", ""))


def _sources(options: Iterable[Option], rules: Iterable[Rule]) -> set[str]:
    files = [one.data for one in options] + [one.data for one in rules]
    return {name for data in files for name in sources_in(data)}


def _cases(rules: Iterable[Rule]) -> int:
    return sum(len(rule.cases) for rule in rules)


def _region(rulebook: Rulebook, name: str) -> Region:
    options = [one for one in rulebook.options.values() if one.data["region"] == name]
    rules = {rule.id: rule for option in options for rule in own_rules(rulebook, option)}
    return Region(
        name=name,
        options=len(options),
        arthroscopic=sum(option.arthroscopic for option in options),
        rules=len(rules),
        cases=_cases(rules.values()),
        sources=len(_sources(options, rules.values())),
    )
