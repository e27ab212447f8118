"""The draft of a reply to whoever referred: what is dangerous, and exactly what is missing.

Takes an Assessment, gives plain text that a clinician reads, changes and signs. Asks for nothing
that would change no answer, and says nothing that the answer does not say.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from plafond.assessment import Assessment

WIDTH = 78
#: More questions than this in one letter are not answered.
MOST_QUESTIONS = 10
SIDES = {"left": "Left", "right": "Right", "unspecified": "Side not stated"}


def reply(assessment: Assessment) -> str:
    """Return the draft reply, in lines of at most 78 characters."""
    lines = ["Dear colleague,", "", *_wrapped("Thank you for your letter.")]
    dangers = list(_dangers(assessment))
    if dangers:
        lines += ["", *_wrapped("Please see to this first:"), *dangers]
    questions = list(_questions(assessment))
    if questions:
        lines += ["", *_wrapped(_asking(assessment)), *questions]
    elif not dangers:
        lines += ["", *_wrapped("Nothing more is needed from you for now.")]
    lines += [
        "",
        *_wrapped(
            "This was drafted by software from the words of your letter and checked by "
            "whoever signs below. It does not replace your own examination or local policy."
        ),
        "",
        "With kind regards,",
        "",
    ]
    return "\n".join(lines)


def _asking(assessment: Assessment) -> str:
    if assessment.triage == "act-now":
        return "To judge how urgent this is, we need to know:"
    return "To say whether keyhole surgery would help, we need to know:"


def _dangers(assessment: Assessment) -> Iterator[str]:
    told = set()
    for name, side in assessment.sides.items():
        for flag in side.red_flags:
            if flag.state == "met" and flag.rule not in told:
                told.add(flag.rule)
                yield from _wrapped(f"{_of(assessment, name)}{flag.title}. {flag.action}", "  - ")


def _questions(assessment: Assessment) -> Iterator[str]:
    asked: set[tuple[str, str]] = set()
    count = 0
    for name, side in assessment.sides.items():
        for ask in side.ask:
            if (name, ask.finding) in asked or count == MOST_QUESTIONS:
                continue
            asked.add((name, ask.finding))
            count += 1
            yield from _wrapped(f"{_of(assessment, name)}{ask.question}", f"  {count}. ")


def _of(assessment: Assessment, side: str) -> str:
    """Name the side only where the letter has more than one."""
    return f"{SIDES[side]}: " if len(assessment.sides) > 1 else ""


def _wrapped(text: str, mark: str = "") -> list[str]:
    return textwrap.wrap(
        text, WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark), break_long_words=False
    )
