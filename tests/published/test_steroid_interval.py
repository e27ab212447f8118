"""Is an operation put off after a steroid injection for as long as the sources say?

Sources. At least 4 weeks in any joint: an editorial of 2024, seen; knee figures (KSSTA 2022, seen):
infection 4.56 times as often within 1 month, 2.42 times at 4 to 8 weeks. Twelve weeks: carried over
from ankle replacement (ICM 2018), a judgement; no interval measured in the ankle was found. S-01:
fact sheet on red flags, part 4.8. The sheet called less than 4 weeks absolute; its corrections say
"defer", so the rule is relative: the option stays indicated and carries the reason to wait. From 4
to 8 weeks the corrections say relative, on knee data; from 8 to 12 a caution.
"""

from __future__ import annotations

import pytest

OPTION = "ankle-bony-impingement-resection"
DEFER = "general.steroid-injection.under-four-weeks"
WEIGHS = "general.steroid-injection.four-to-eight-weeks"
CAUTION = "general.steroid-injection.eight-to-twelve-weeks"
READY = {
    "anterior-ankle-pain": "present",
    "anterior-palpation-pain": "present",
    "anterior-spur": "present",
    "ankle-joint-space": "normal",
    "non-operative-treatment-duration": "4 mo",
}
INJECTED = {"joint-steroid-injection": "present"}

ROWS = [
    ("S-01: 3 weeks", "3 wk", {DEFER}),
    ("arthro-2024: 27 days", "27 d", {DEFER}),
    ("arthro-2024: exactly 4 weeks", "4 wk", {WEIGHS}),
    ("kssta-2022: 29 days", "29 d", {WEIGHS}),
    ("kssta-2022: 55 days", "55 d", {WEIGHS}),
    ("kssta-2022: 8 weeks", "8 wk", {CAUTION}),
    ("S-01: 10 weeks", "10 wk", {CAUTION}),
    ("judgement: 83 days", "83 d", {CAUTION}),
    ("judgement: exactly 12 weeks", "12 wk", set()),
    ("S-01: 13 weeks", "13 wk", set()),
]


@pytest.mark.parametrize(("says", "ago", "cautions"), ROWS, ids=[row[0] for row in ROWS])
def test_the_interval_decides_whether_to_wait(tell, says, ago, cautions):
    """The source stands in the test id."""
    told = tell(READY | INJECTED | {"time-since-steroid-injection": ago})
    assert told.standing(OPTION) == "indicated", says
    assert told.cautions(OPTION) == cautions


@pytest.mark.parametrize(
    ("facts", "open_check"),
    [
        (INJECTED, "time-since-steroid-injection"),
        ({}, "joint-steroid-injection"),
        ({"joint-steroid-injection": "absent"}, ""),
    ],
    ids=["injected, nobody says when", "nobody says whether", "never injected"],
)
def test_what_nobody_recorded_of_an_injection_is_a_check(tell, facts, open_check):
    told = tell(READY | facts)
    steroid = {"time-since-steroid-injection", "joint-steroid-injection"}
    found = {finding for _, finding in told.checks(OPTION)} & steroid
    assert found == ({open_check} if open_check else set())
    assert told.cautions(OPTION) == set()


def test_an_infected_joint_is_washed_out_whatever_was_injected(tell):
    """Glazebrook 2009 (C for): the washout is no elective operation; nothing makes it wait."""
    septic = {"joint-aspirate": "purulent-or-organisms"}
    told = tell(septic | INJECTED | {"time-since-steroid-injection": "1 wk"})
    assert told.standing("ankle-septic-washout") == "indicated"
    assert told.cautions("ankle-septic-washout") == set()


def test_a_steroid_at_the_end_of_the_operation_is_advised_against(tell):
    """Werner 2016: infection in 3.9 against 1.8 % (odds ratio 2.2) after ankle arthroscopy."""
    told = tell(READY | {"steroid-at-end-planned": "present"})
    assert told.cautions(OPTION) == {"ankle.steroid-at-end"}
