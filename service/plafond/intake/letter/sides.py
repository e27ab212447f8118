"""Which side a finding is on.

Takes a sentence's findings and the words that name sides; gives left, right, both or nothing, and
the rule by which. A side is taken from the same phrase or clause, from the sentence's own opening,
from the heading; never through a list, never out of a comparison. The letter's single side, at a
lower rank, is the reader's business.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from plafond.intake.letter.lexicon import Hit

_SEPARATOR = re.compile(
    r"[,;]|\b(?:but|with|while|whereas|then|and|or|than|versus|vs|radiat\w+|referred|into|down)\b"
    r"|\.\s"
)
_COMPARED = re.compile(
    r"\b(?:than|compared|versus|vs|cf|relative|unlike|contrast|against)\b[^,;.]{0,24}$"
)
_WORSE = re.compile(r"\b(?:worse|more|greater|less|better|milder|predominantly)\b[^,;.]{0,12}$")
_LINK = re.compile(
    r"\s*(?:[(\-/]\s*)?(?:[\w'/ -]{0,60}?\b(?:of|in|on|at|over|to|around|about|affecting|involving"
    r"|along|for|from|behind|under|below|above|near)\s+)?(?:(?:the|his|her|this|their)\s+)?\(?\s*"
)
_RADIATES = re.compile(
    r"\b(?:radiat\w+|referred|spread\w*|into|down|towards?|travel\w*|shoot\w*)\b"
)
_SPREADS = re.compile(r"\b(?:radiat\w+|referred|spread\w*|shoot\w*|travel\w*)\b[^,;.]{0,24}$")
_TOPIC = re.compile(r"(?:(?:on|in|at|over)\s+(?:the|his|her)\s+)?\(?$")
_AFTER_TOPIC = re.compile(
    r"[)\s]*(?:hand\s+)?(?:side|ankle|foot|heel|leg|hindfoot|achilles|tendon|calf|lower limb|one)?"
    r"\s*(?:[:,]|-\s)"
)
_SUBJECT = re.compile(
    r"[)\s]*(?:side|ankle|foot|heel|leg|hindfoot|forefoot|achilles|tendon|calf|lower limb|big toe"
    r"|hallux)s?\s+(?:is|are|was|were|has|had|shows?|showed|remains?|looks?|looked|appears?|feels?"
    r"|felt|demonstrates?|gives)\b"
)
_BODY_PLURAL = re.compile(
    r"\s+(?:\w+\s+){0,3}?(?:ankles|feet|legs|heels|calves|hindfeet|tendons|sides|limbs|achilles"
    r"|malleoli|joints|hallux|toes|shins)\b"
)
_OPPOSITE = {"left": "right", "right": "left", "both": "both"}


def side_hits(
    low: str, plain: str, start: int, end: int, hits: Sequence[Hit]
) -> list[tuple[int, int, str]]:
    """Return the sides a sentence names: where, and left, right, both or other; comparisons not."""
    found = []
    for hit in hits:
        says = next((one.says for one in hit.modifiers if one.does == "side"), "")
        if not says:
            continue
        before = low[max(start, hit.start - 40) : hit.start]
        if says in ("left", "right") and (_COMPARED.search(before) or _SPREADS.search(before)):
            continue
        if low[hit.start : hit.end] == "both" and not _BODY_PLURAL.match(low, hit.end, end):
            continue
        found.append((hit.start, hit.end, says))
    found += _letters(low, plain, start, end, found)
    return sorted(found)


_LETTER = re.compile(r"(?<![\w/'.&-])[lr](?![\w/'&>-])")
#: A capital after these is an initial, or litres.
_NO_SIDE = re.compile(r"(?:\b(?:dr|mr|mrs|ms|miss|prof|sr|st)\.? |\d ?|\b[a-z]\.? ?)$")
_BEFORE_PART = re.compile(
    r"\)?\s*(?:sided\s+|lateral\s+|medial\s+)?(?:ankle|foot|heel|leg|hindfoot|forefoot|achilles"
    r"|tendon|calf|hallux|big toe|great toe|knee|hip|side|talus|talar|lower|1st|first|midfoot"
    r"|subtalar|tibi|fib)"
)


def _letters(
    low: str, plain: str, start: int, end: int, known: Sequence[tuple[int, int, str]]
) -> list[tuple[int, int, str]]:
    """Return the single letters that name a side: a capital, or a small one before a body part."""
    found = []
    for match in _LETTER.finditer(low, start, end):
        at = match.start()
        if any(a <= at < b for a, b, _ in known):
            continue
        named = _BEFORE_PART.match(low, at + 1) is not None
        alone = plain[at].isupper() and _NO_SIDE.search(low, max(start, at - 12), at) is None
        compared = _COMPARED.search(low[max(start, at - 40) : at]) is not None
        if not compared and (named or alone):
            found.append((at, match.end(), "left" if match[0] == "l" else "right"))
    return found


class Sides:
    """Finds the sides of one sentence's findings."""

    def __init__(
        self, low: str, start: int, end: int, sides: Sequence[tuple[int, int, str]]
    ) -> None:
        self.low, self.start, self.end, self.sides = low, start, end, sides
        self.topic = self._topic()

    def of(self, target: Hit, targets: Sequence[Hit]) -> tuple[str, str]:
        """Return the side of a finding and the rule that gave it, or nothing."""
        after = self._after(target, targets)
        before = self._before(target)
        if after and after[1] == "side:phrase" and not (before and before[1] == "side:phrase"):
            return after
        if before:
            return before
        if after:
            return after
        if self.topic:
            return self.topic, "side:topic"
        return "", ""

    def _before(self, target: Hit) -> tuple[str, str] | None:
        """Return the nearest side before a finding that its own clause names."""
        for _, end, says in reversed(self.sides):
            if end > target.start:
                continue
            between = self.low[end : target.start]
            if not _SEPARATOR.search(between):
                near = between.count(" ") <= 4
                return says, "side:phrase" if near else "side:clause"
            if (
                re.fullmatch(r"[\w\s/'-]*\b(?:and|with)\b[\w\s/'-]*", between)
                and between.count(" ") <= 8
            ):
                return says, "side:clause"
            return None
        return None

    def _after(self, target: Hit, targets: Sequence[Hit]) -> tuple[str, str] | None:
        """Return the side that follows a finding as its own: "pain in the left", "swelling (R)"."""
        for start, end, says in self.sides:
            if start < target.end:
                continue
            between = self.low[target.end : start]
            if re.search(r"[,;:]|\b(?:but|with|while|whereas)\b", between) or _RADIATES.search(
                between
            ):
                return None
            if not target.words and re.match(r"\)?[\s:=]*\d", self.low[end : end + 4]):
                return None  # the side of the next number
            if not _LINK.fullmatch(between) or _WORSE.search(between):
                return self._only(says) if _WORSE.search(between) else None
            prepositional = re.search(
                r"\b(?:of|in|on|at|over|to|around|affecting|involving|about)\b", between
            )
            follows = [one for one in targets if one.start >= end]
            adjective = follows and not re.search(
                r"[,;.]|\band\b", self.low[end : follows[0].start]
            )
            if adjective and not prepositional:
                return None
            if re.search(r"\b(?:and|or)\b", between) and not prepositional:
                return None
            return says, "side:phrase"
        return None

    def _only(self, says: str) -> tuple[str, str] | None:
        """A comparison's side counts only where no other side is named in the sentence."""
        return (says, "side:clause") if len(self.sides) == 1 else None

    def _topic(self) -> str:
        """Return the side a sentence opens with, where it goes on to speak of that side alone."""
        if not self.sides or len({says for _, _, says in self.sides}) != 1:
            return ""
        start, end, says = self.sides[0]
        opening = self.low[self.start : start]
        if opening.count(" ") > 3 or not _TOPIC.search(opening) or re.search(r"[,;]", opening):
            return ""
        adverb = re.match(r"\s*(?:on|in|at|over)\b", opening) and _AFTER_TOPIC.match(self.low, end)
        colon = re.match(r"[)\s]*(?:\w+\s*){0,2}(?::|\s-\s)", self.low[end : end + 30])
        subject = re.fullmatch(r"\s*(?:the|his|her)?\s*\(?", opening) and _SUBJECT.match(
            self.low, end
        )
        return says if adverb or colon or subject else ""


#: What dismisses a side: it is then none the letter speaks of.
_DISMISSED = re.compile(
    r"[)\s]*(?:hand\s+)?(?:side|ankle|foot|leg|heel|hindfoot)?\s*(?:(?:is|was|are)\b|[:,-])?\s*"
    r"(?:(?:entirely|completely|all)\s+)?"
    r"(?:normal|nad|fine|asymptomatic|unremarkable|unaffected|ok|not affected|no symptoms)\b"
)


def dismissed(low: str, end: int, stop: int) -> bool:
    """Say whether a side that was just named is only said to be well."""
    return _DISMISSED.match(low, end, stop) is not None


def opposite(side: str) -> str:
    """Return the other side."""
    return _OPPOSITE.get(side, "")
