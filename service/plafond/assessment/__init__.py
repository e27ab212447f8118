"""What wins: from the truth of every rule to the standing of every option.

Takes what is known of each side and the truths of the rules; gives an `Assessment`: red flags
first, options with their standing, what speaks for and against, which checks are open, what to
ask next, and a triage of the document. Pure: no clock, no file, no web.
"""

from plafond.assessment.answers import (
    SEVERITIES,
    STANDINGS,
    TRIAGES,
    Ask,
    Assessment,
    Check,
    OptionAnswer,
    RedFlag,
    SetAside,
    SideAnswer,
    SideFacts,
    Verdict,
)
from plafond.assessment.assemble import assemble, triage_of

__all__ = [
    "SEVERITIES",
    "STANDINGS",
    "TRIAGES",
    "Ask",
    "Assessment",
    "Check",
    "OptionAnswer",
    "RedFlag",
    "SetAside",
    "SideAnswer",
    "SideFacts",
    "Verdict",
    "assemble",
    "triage_of",
]
