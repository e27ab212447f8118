"""Reads referral letters: text in, findings out, each with the words that say so.

Takes raw text and the words of a release; gives a `Letter` with mentions, facts and what was not
understood. Keeps no text. Refuses to know any rule.
"""

from plafond.intake.letter.facts import Fact, Letter, Mention, Section, Unread
from plafond.intake.letter.lexicon import Lexicon
from plafond.intake.letter.reader import MOST_BYTES, read_letter

__all__ = [
    "MOST_BYTES", "Fact", "Letter", "Lexicon", "Mention", "Section", "Unread", "read_letter",
]  # fmt: skip
