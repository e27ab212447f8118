"""What is wrong with the words that read letters: too few, shared, or no finding's words at all.

Looks at phrases as they are matched, so two spellings of one phrase are the same phrase.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from plafond.errors import Issue
from plafond.governance.completeness import used_findings
from plafond.governance.places import Places
from plafond.intake.letter.text import fold
from plafond.rulebook import Rulebook
from plafond.rulebook.strict_yaml import Source
from plafond.vocabulary import Definition

FEWEST = 3


def few_words(rulebook: Rulebook, places: Places) -> Iterator[Issue]:
    """Yield every finding a rule uses that fewer than three phrasings reach, and no reason why."""
    used = used_findings(rulebook)
    for definition in rulebook.vocabulary:
        if definition.derived or definition.id not in used or definition.letter.few_words:
            continue
        count = len({phrase for phrase, _ in _phrasings(definition)})
        if count < FEWEST:
            message = f"{count} phrasings reach {definition.id} in a letter"
            mend = f"give it {FEWEST}, or say why not in `few_words`"
            yield places.finding(definition.id, "", message, "warning", mend)


def _phrasings(definition: Definition) -> Iterator[tuple[str, frozenset[str]]]:
    """Yield every phrase that leads to a finding, as it is matched, and where it counts."""
    letter = definition.letter
    anywhere: frozenset[str] = frozenset()
    for phrase in (*definition.phrases, *letter.variants, *letter.abbreviations):
        yield fold(phrase), anywhere
    for phrases in letter.says.values():
        yield from ((fold(phrase), anywhere) for phrase in phrases)
    for part, phrases in letter.at.items():
        yield from ((fold(phrase), frozenset({part})) for phrase in phrases)
    if definition.numeric:
        yield from ((fold(phrase), anywhere) for phrase in letter.measure.beside)


def shared_phrases(rulebook: Rulebook, places: Places) -> Iterator[Issue]:
    """Yield every phrase that two findings have: a letter with it says either, or both."""
    holders: dict[str, list[tuple[str, frozenset[str]]]] = defaultdict(list)
    for definition in rulebook.vocabulary:
        beside = {fold(phrase) for phrase in definition.letter.measure.beside}
        for phrase, at in sorted(set(_phrasings(definition)), key=str):
            if phrase not in beside:
                holders[phrase].append((definition.id, at))
    for phrase, found in sorted(holders.items()):
        for index, (other, at) in enumerate(found):
            for first, where in found[:index]:
                if first != other and (at & where or not (at and where)):
                    message = f"{first} has the phrase {phrase!r} too"
                    yield places.finding(other, "/phrases", message, "note")


def no_findings_words(rulebook: Rulebook, places: Places) -> Iterator[Issue]:
    """Yield every phrase that only denies, or names a side or a part: it is no finding's own."""
    taken = {
        fold(phrase): one.id
        for one in rulebook.modifiers
        if one.does in ("negation", "side", "part")
        for phrase in one.phrases
    }
    for definition in rulebook.vocabulary:
        for phrase in sorted({phrase for phrase, _ in _phrasings(definition)}):
            if phrase in taken:
                message = f"{phrase!r} is what {taken[phrase]} is known by"
                mend = "say more words"
                yield places.finding(definition.id, "/phrases", message, "error", mend)


def doubled_modifiers(places: Places) -> Iterator[Issue]:
    """Yield every phrase that stands twice among modifiers that do the same the same way."""
    seen: dict[tuple[str, str, str], str] = {}
    for source in places.letters:
        yield from _doubled(source, seen)


def _doubled(source: Source, seen: dict[tuple[str, str, str], str]) -> Iterator[Issue]:
    does = source.data["does"]
    for name, entry in source.data["entries"].items():
        for index, phrase in enumerate(entry["phrases"]):
            key = (does, entry.get("reach", "after"), fold(phrase))
            where = f"{source.data['group']}.{name}"
            if key in seen and does not in ("terminator", "part", "heading"):
                at = f"/entries/{name}/phrases/{index}"
                yield source.issue(at, f"{seen[key]} has {phrase!r} too", "drop one", "note")
            seen.setdefault(key, where)
