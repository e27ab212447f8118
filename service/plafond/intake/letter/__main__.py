"""Reads a text from the command line, or from standard input, and says what it was read as.

For authors of the lexicon: `python -m plafond.intake.letter "Anterior drawer positive (L)."`.
"""

from __future__ import annotations

import sys

from plafond.intake.letter import Lexicon, read_letter
from plafond.rulebook import require_directory
from plafond.settings import default_knowledge


def main() -> None:
    """Print one line a mention and one a stretch that was not understood."""
    given = " ".join(sys.argv[1:])
    text = sys.stdin.read() if given in ("", "-") else given.replace("\\n", "\n")
    letter = read_letter(text, Lexicon.of(require_directory(default_knowledge())))
    lines = [
        f"{one.finding:36} {one.side:12} {one.value:12} {one.status:12} {one.match:7} "
        f"{text[one.start : one.end]!r} {' '.join(one.rules[1:])} [{one.section}]"
        for one in letter.mentions
    ]
    lines += [
        f"not understood: {text[one.start : one.end]!r} {one.finding} {one.why}"
        for one in letter.not_understood
    ]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
