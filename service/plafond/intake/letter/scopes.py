"""What the words around a finding make of it: denied, doubted, past, planned, someone else's.

Takes one sentence's findings and modifiers; gives for each finding which modifiers reach it. A
modifier reaches from where it stands to the next word that ends its statement, and through a
comma only where the list shows that it goes on. Refuses to know what a finding means.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from plafond.intake.letter.lexicon import Hit
from plafond.rulebook import Modifier

SCOPED = ("negation", "uncertain", "historical", "resolved", "hypothetical", "other-person")
_FILLERS = frozenset(
    [
        "a",
        "an",
        "the",
        "any",
        "of",
        "in",
        "on",
        "at",
        "to",
        "over",
        "and",
        "or",
        "nor",
        "her",
        "his",
        "their",
        "its",
        "some",
        "mild",
        "slight",
        "obvious",
        "significant",
        "further",
        "other",
        "such",
        "as",
        "left",
        "right",
        "bilateral",
        "both",
        "active",
        "acute",
        "new",
        "overt",
        "gross",
        "current",
        "marked",
        "definite",
        "focal",
        "ankle",
        "foot",
        "heel",
        "achilles",
        "lt",
        "rt",
        "l",
        "r",
        "this",
        "that",
    ]
)
_JOINED = re.compile(r"[\s,/&+()-]*(?:(?:and|or|nor|the|of|any|both|in|on|at|her|his)[\s,/&+-]+)*")
_OR = re.compile(r"\b(?:or|nor)\b|(?<=[a-z])/(?=[a-z])")
_COPULA = re.compile(r"\s*(?:is|are|was|were|remains?|has|have|persists?|continues?)\b")
_PREDICATE = re.compile(
    r"(?:tender|painful|swollen|stiff|unable|walks?|positive|lax|unstable|gives|limp\w*|sore|red|hot)\b"
)
_NOT = re.compile(r"not|nor|neither|isn't|wasn't")
_ANAPHOR = re.compile(
    r"\s*(?:this|these|it|they|that|which|both|all)?\s*(?:has|have|had)?\s*(?:now|since|all|both)?\s*"
)
_VERB = re.compile(r"\b(?:is|are|was|were|has|have|had|remains?|shows?|showed|feels?)\b")
_AND = re.compile(r"\band\b|,")
_WORD = re.compile(r"[\w'+]+")
_HISTORY = re.compile(r"history|hx|h/o")
_TIMED = re.compile(
    r"(?:/(?:7|52|12)|\b(?:day|week|month|year|wk|mth|yr|hour)s?'?)[\s-]*(?:long )?$"
)
_LAST = re.compile(r"([a-z']+)[ ]*$")
_DENIALS = frozenset((
    "no", "not", "nil", "without", "denies", "denied", "any", "nor", "or", "and", "neither",
    "never", "for", "of", "evidence", "is", "was", "are", "were", "been", "complaints",
))  # fmt: skip
_NEXT_WORD = re.compile(r" ([a-z]+)")
#: Words that may follow an answer such as "absent" or "excluded" without being what it describes.
_FOLLOWS = frozenset((
    "and", "or", "but", "in", "on", "at", "of", "by", "to", "from", "with", "without", "as",
    "when", "while", "now", "today", "currently", "again", "here", "throughout", "bilaterally",
    "both", "left", "right", "either", "though", "although", "however", "which", "so",
    "because", "since", "clinically", "radiologically", "radiographically", "given", "despite",
    "following", "after", "before", "until", "this", "that", "for", "per", "via", "then",
    "also", "too",
))  # fmt: skip
_NEXT = 3  # words within which a modifier belongs to what follows rather than to what precedes


@dataclass(slots=True)
class Scope:
    """What reaches one finding: the ids of modifiers, by what they do."""

    by: dict[str, list[str]] = field(default_factory=dict)

    def add(self, does: str, modifier: str) -> None:
        """Note that a modifier reaches the finding."""
        found = self.by.setdefault(does, [])
        if modifier not in found:
            found.append(modifier)

    @property
    def negated(self) -> bool:
        """Say whether the finding is denied."""
        return "negation" in self.by

    @property
    def status(self) -> str:
        """Return the status that the modifiers make, the one furthest from a statement first."""
        for does in ("other-person", "hypothetical", "resolved", "historical", "uncertain"):
            if does in self.by:
                return does
        return "stated"

    @property
    def rules(self) -> tuple[str, ...]:
        """Return the ids of all modifiers that reach the finding."""
        return tuple(rule for found in self.by.values() for rule in found)


def plainly_denied(low: str, start: int, at: int) -> bool:
    """Say whether nothing but small words stands right before a word that is denied.

    A denial, a filler or another item of the list may: "no pain", "no obvious pain", "pain or
    swelling". Any other word makes it a special kind of the thing.
    """
    before = _LAST.search(low, start, at)
    return before is None or before[1] in _FILLERS or before[1] in _DENIALS


class Scopes:
    """Works out the scopes of one sentence (from `start` to `end` of the text to match)."""

    def __init__(
        self, low: str, start: int, end: int, targets: Sequence[Hit], hits: Sequence[Hit]
    ) -> None:
        self.low, self.start, self.end = low, start, end
        self.targets = targets
        self.hits = [hit for hit in hits if not (self._is_number_sign(hit) or self._timed(hit))]
        self.scopes = [Scope() for _ in targets]

    def read(self) -> list[Scope]:
        """Return the scope of each finding of the sentence."""
        for index, hit in enumerate(self.hits):
            pseudo = any(one.does == "pseudo" for one in hit.modifiers)
            if pseudo:
                continue
            ahead = self._belongs_ahead(hit)
            both_ways = {one.does for one in hit.modifiers if one.reach != "after"} & {
                one.does for one in hit.modifiers if one.reach != "before"
            }
            for modifier in hit.modifiers:
                if modifier.does not in SCOPED:
                    continue
                split = modifier.does in both_ways
                if modifier.reach != "before" and (ahead or not split):
                    self._forward(index, hit, modifier)
                if modifier.reach != "after" and not (ahead and split):
                    self._backward(index, hit, modifier)
        return self.scopes

    def _is_number_sign(self, hit: Hit) -> bool:
        """Say whether "No." here is the sign of a number."""
        return self.low[hit.start : hit.end] == "no" and bool(
            re.match(r"\.\s*\d", self.low[hit.end : hit.end + 4])
        )

    def _timed(self, hit: Hit) -> bool:
        """Say whether a history here is that of the complaint: "18 month history of"."""
        return _HISTORY.match(self.low, hit.start, hit.end) is not None and bool(
            _TIMED.search(self.low, max(self.start, hit.start - 16), hit.start)
        )

    def _belongs_ahead(self, hit: Hit) -> bool:
        """Say whether a modifier that looks both ways belongs to what follows it."""
        if self.low[hit.end - 1] == "?":
            return (
                hit.start == self.start
                or not self.low[hit.start - 1 : hit.start].strip()[-1:].isalnum()
            )
        for target in self.targets:
            if target.start >= hit.end:
                between = self.low[hit.end : target.start]
                near = between.count(" ") <= _NEXT
                return near and not set(between) & set(",;:") and not self._ended(hit, target)
        return False

    def _ended(self, hit: Hit, target: Hit) -> bool:
        """Say whether the statement ends between a modifier and a finding that follows it."""
        return any(
            one.does == "terminator" and not one.closes
            for other in self.hits
            if hit.end <= other.start < target.start
            for one in other.modifiers
        )

    # -- forward --------------------------------------------------------------------

    def _forward(self, index: int, hit: Hit, modifier: Modifier) -> None:
        stop, own = self._stop(index, modifier.does)
        limit = modifier.words or 12
        for target, scope in zip(self.targets, self.scopes, strict=True):
            if target.start < hit.end:
                continue
            if target.start >= stop or self.low.count(" ", hit.end, target.start) > limit:
                break
            reach = self._through(hit, target, stop, own, modifier)
            if reach == "new":
                break
            if reach:
                scope.add(modifier.does, modifier.id)
            if reach == "doubt" and modifier.does == "negation":
                scope.add("uncertain", f"{modifier.id}:list")

    def _stop(self, index: int, does: str) -> tuple[int, int]:
        """Return where a modifier's reach ends, and where another of its kind begins."""
        stop = own = self.end
        for hit in self.hits[index + 1 :]:
            for one in hit.modifiers:
                if one.does == "terminator" and (not one.closes or does in one.closes):
                    return hit.start, min(own, hit.start)
                if one.does == does and one.reach != "before" and own == self.end:
                    own = hit.start
                opens = self.low[self.start : hit.start].rstrip().endswith(",")
                if does == "negation" and one.does == "uncertain" and opens:
                    return hit.start, min(own, hit.start)
        return stop, own

    def _through(self, hit: Hit, target: Hit, stop: int, own: int, modifier: Modifier) -> str:
        """Say whether a modifier reaches a finding: `yes`, `doubt`, nothing, or a `new` clause."""
        between = self.low[hit.end : target.start]
        if ";" in between:
            return "new"
        # what is said of a relative goes on to the next subject, which ends it by itself
        alone = modifier.does != "other-person" and _AND.search(between) is not None
        listed = _NOT.match(self.low, hit.start) is not None and _OR.search(
            self.low, target.end, min(own, stop)
        )
        if alone and not listed and self._new_statement(between, target):
            return "new"
        comma = between.rfind(",")
        if comma < 0 or modifier.lists:
            return "yes"
        if own < target.start:
            return ""
        if _OR.search(self.low, hit.end + comma, min(own, stop)):
            return "yes"
        return "doubt" if own == self.end and self._all_bare(hit.end, stop) else ""

    def _new_statement(self, between: str, target: Hit) -> bool:
        joint = max(between.rfind(" and "), between.rfind(","))
        if _OR.search(between[joint:]):
            return False
        last = re.split(r",| and ", between)[-1].strip()
        if not last and _PREDICATE.match(self.low, target.start):
            return True
        if last and (_PREDICATE.match(last) or _VERB.search(last)):
            return True
        return _COPULA.match(self.low, target.end) is not None

    def _all_bare(self, start: int, stop: int) -> bool:
        """Say whether a list holds names of findings and nothing else."""
        rest = self.low[start:stop]
        for target in reversed(self.targets):
            if start <= target.start and target.end <= stop:
                rest = rest[: target.start - start] + " \0 " + rest[target.end - start :]
        items = rest.strip(" .,;").split(",")
        return all(
            "\0" in item and all(word in _FILLERS for word in _WORD.findall(item)) for item in items
        )

    # -- backward -------------------------------------------------------------------

    def _backward(self, index: int, hit: Hit, modifier: Modifier) -> None:
        if modifier.does in ("negation", "uncertain") and self._describes_what_follows(hit):
            return
        start = self._begin(index, modifier.does)
        later: Hit | None = None
        for target, scope in zip(reversed(self.targets), reversed(self.scopes), strict=True):
            if target.end > hit.start or target.start < start:
                continue
            gap = self.low[target.end : later.start if later else hit.start]
            if later is None:
                far = gap.count(" ") > (modifier.words or 8)
                if far or (set(gap) & set(",;") and modifier.does != "historical"):
                    break
            elif not _JOINED.fullmatch(gap):
                break
            scope.add(modifier.does, modifier.id)
            later = target

    def _describes_what_follows(self, hit: Hit) -> bool:
        """Say whether a single word belongs to the noun after it: "include absent hair growth"."""
        if not self.low[hit.start : hit.end].isalpha():
            return False
        after = _NEXT_WORD.match(self.low, hit.end, self.end)
        return after is not None and after[1] not in _FOLLOWS

    def _begin(self, index: int, does: str) -> int:
        """Return where the statement begins in which a modifier that looks back stands."""
        at = self.hits[index].start
        for hit in reversed(self.hits[:index]):
            for one in hit.modifiers:
                # "swelling, but this has now resolved" speaks of the swelling
                goes_on = does == "resolved" and _ANAPHOR.fullmatch(self.low, hit.end, at)
                if one.does == "terminator" and not one.closes and not goes_on:
                    return hit.end
                if does == "negation" and one.does == does and one.reach == "before":
                    return hit.end
        return self.start
