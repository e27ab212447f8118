"""Is the blood supply of the foot judged at the pressures that vascular guidelines print?

Sources. The index is the highest ankle pressure over the highest arm pressure (Al-Qaisi 2009, seen
on a page that reports it). Limits: 0.90 or less is arterial disease (SVS 2014, secondary); above
1.40 the arteries may be stiff (Al-Qaisi 2009, secondary; others say 1.30); an index below 0.40, an
ankle below 50 mmHg or a toe below 30 mmHg threatens the limb (a 2024 review of guidelines, seen).
That these bar an elective operation is a judgement. A-01 to A-11: fact sheet on red flags, 4.6. The
sheet's limit of 0.50 (severe, secondary) is used by no rule.
"""

from __future__ import annotations

import pytest

OPTION = "ankle-bony-impingement-resection"
DOUBTFUL, CRITICAL = "general.vascular.doubtful", "general.vascular.critical-ischaemia"
FLAG = "red-flags.ischaemia.limb-threatening"
REST_PAIN = "red-flags.ischaemia.rest-pain-or-tissue-loss"
READY = {
    "anterior-ankle-pain": "present",
    "anterior-palpation-pain": "present",
    "anterior-spur": "present",
    "ankle-joint-space": "normal",
    "non-operative-treatment-duration": "4 mo",
}
FELT = {"arterial-concern": "present", "foot-pulses-absent": "absent"}

#: id, ankle pressures, arm pressures, index, standing, whether the arteries are doubtful.
EXAMPLES = [
    ("A-01 normal", (132, 118), (120, 115), "1.1", "indicated", False),
    ("A-02 exactly 0.90", (108, 100), (120, 118), "0.9", "indicated", True),
    ("A-03 below 0.90", (107, 99), (120, 118), "0.89", "indicated", True),
    ("A-04 exactly 0.50", (72, 70), (144, 140), "0.5", "indicated", True),
    ("A-05 exactly 0.40", (60, 55), (150, 148), "0.4", "indicated", True),
    ("A-06 below 0.40", (59, 50), (150, 148), "0.39", "indicated", True),
    ("A-07 ankle below 50", (45, 40), (140, 138), "0.32", "contraindicated", True),
    ("A-08 exactly 1.30", (195, 190), (150, 150), "1.3", "indicated", False),
    ("A-09 exactly 1.40", (210, 200), (150, 145), "1.4", "indicated", False),
    ("A-10 stiff arteries", (190, 185), (130, 128), "1.46", "indicated", True),
    ("A-11 the higher arm counts", (144, 130), (150, 160), "0.9", "indicated", True),
]


def pressures(ankle, arms):
    return {
        "ankle-systolic-pressure": f"{max(ankle)} mmHg",
        "brachial-systolic-pressure": f"{max(arms)} mmHg",
    }


@pytest.mark.parametrize("row", EXAMPLES, ids=[row[0] for row in EXAMPLES])
@pytest.mark.parametrize("rest_pain", ["absent", "present"])
def test_two_pressures_make_the_index_and_the_index_decides(tell, row, rest_pain):
    """Limits as in the module's docstring; the toe was measured at 40 mmHg.

    Rest pain by itself holds the operation whatever was measured (judgement); an index below 0.40
    counts as critical only with it (several guidelines, verified).
    """
    _, ankle, arms, index, standing, doubtful = row
    told = tell(READY | FELT | pressures(ankle, arms) | {
        "toe-pressure": "40 mmHg", "rest-pain-or-tissue-loss": rest_pain,
    })  # fmt: skip
    assert told.understood("ankle-brachial-index") == index
    painful = rest_pain == "present"
    critical = painful and float(index) < 0.40
    held = "contraindicated" if critical else "on-hold" if painful else standing
    held = standing if standing == "contraindicated" else held
    assert told.standing(OPTION) == held
    assert (DOUBTFUL in told.cautions(OPTION)) is doubtful
    below = max(ankle) < 50 or (float(index) < 0.40 and painful)
    assert told.flag(FLAG) == ("met" if below else "")
    assert told.flag(REST_PAIN) == ("met" if painful else "")


#: finding, value, whether it threatens the limb by itself.
LIMITS = [
    ("toe-pressure", "29 mmHg", True),
    ("toe-pressure", "30 mmHg", False),
    ("toe-pressure", "31 mmHg", False),
    ("ankle-systolic-pressure", "49 mmHg", True),
    ("ankle-systolic-pressure", "50 mmHg", False),
    ("ankle-systolic-pressure", "51 mmHg", False),
]


@pytest.mark.parametrize(
    ("finding", "value", "low"), LIMITS, ids=[f"medicina-2024: {a} {b}" for a, b, _ in LIMITS]
)
def test_a_pressure_below_its_limit_is_a_red_flag_and_holds_the_operation(
    tell, finding, value, low
):
    """Limits as several guidelines print them (verified), strictly below; same day is judgement."""
    measured = {"toe-pressure": "40 mmHg", "ankle-systolic-pressure": "100 mmHg"}
    measured |= {"ankle-brachial-index": "0.95", "rest-pain-or-tissue-loss": "absent"}
    told = tell(READY | measured | {finding: value})
    assert told.flag(FLAG) == ("met" if low else "")
    assert told.standing(OPTION) == ("on-hold" if low else "indicated")
    sure = tell(READY | FELT | measured | {finding: value})
    assert sure.standing(OPTION) == ("contraindicated" if low else "indicated")


@pytest.mark.parametrize(
    ("index", "low"), [("0.39", True), ("0.40", False), ("0.41", False), ("0.5", False)]
)
def test_an_index_below_0_40_threatens_the_limb_where_there_is_rest_pain(tell, index, low):
    """Review of guidelines 2024 (verified): the index needs symptoms, the pressures do not."""
    facts = {"toe-pressure": "40 mmHg", "ankle-systolic-pressure": "60 mmHg"}
    facts |= {"ankle-brachial-index": index, "rest-pain-or-tissue-loss": "present"}
    assert tell(READY | facts).flag(FLAG) == ("met" if low else "")


def test_rest_pain_with_nothing_measured_may_be_a_threatened_limb(tell):
    """Review of guidelines 2024: what is unrecorded is asked for, the same day."""
    told = tell(READY | {"rest-pain-or-tissue-loss": "present"})
    assert told.flag(FLAG) == "possible"
    wanted = {"toe-pressure", "ankle-systolic-pressure", "ankle-brachial-index"}
    assert wanted & told.asked()
    assert told.whole.triage == "act-now"


@pytest.mark.parametrize(
    ("index", "doubtful"),
    [
        ("0.89", True), ("0.90", True), ("0.91", False), ("1.00", False),
        ("1.30", False), ("1.31", False), ("1.40", False), ("1.41", True),
    ],
)  # fmt: skip
def test_the_arteries_are_doubtful_from_0_90_down_and_above_1_40(tell, index, doubtful):
    """SVS 2014 and Al-Qaisi 2009 (secondary); others use below 0.90 and above 1.30."""
    told = tell(READY | FELT | {"ankle-brachial-index": index})
    assert told.standing(OPTION) == "indicated"
    assert (DOUBTFUL in told.cautions(OPTION)) is doubtful


def test_the_index_is_read_to_two_decimals(tell):
    """0.904 is read 0.90 and 0.906 is read 0.91: rounding half up is a judgement."""
    low = tell(READY | FELT | pressures((113,), (125,)))
    assert (low.understood("ankle-brachial-index"), low.cautions(OPTION)) == ("0.9", {DOUBTFUL})
    high = tell(READY | FELT | pressures((116,), (128,)))
    assert (high.understood("ankle-brachial-index"), high.cautions(OPTION)) == ("0.91", set())


@pytest.mark.parametrize("concern", [{}, {"arterial-concern": "absent"}, FELT])
def test_pulses_that_cannot_be_felt_are_measured_first_whatever_else_is_thought(tell, concern):
    """M02. DeHeer review (verified): doubtful vascularity; that it is measured is from memory."""
    told = tell(READY | concern | {"foot-pulses-absent": "present"})
    assert told.cautions(OPTION) == {DOUBTFUL}


def test_a_doubt_with_nothing_measured_asks_for_the_pressures(tell):
    """M02: pulses absent and the index missing."""
    told = tell(READY | {"arterial-concern": "present", "foot-pulses-absent": "present"})
    wanted = {"toe-pressure", "ankle-systolic-pressure", "ankle-brachial-index"}
    assert {("absolute", finding) for finding in wanted} <= told.checks(OPTION)
    assert wanted <= told.asked()


def test_an_unrecorded_supply_is_an_open_check_that_one_answer_clears(tell):
    """Judgement: nobody needs a toe pressure without a reason."""
    assert ("absolute", "arterial-concern") in tell(READY).checks(OPTION)
    cleared = tell(READY | {"arterial-concern": "absent", "foot-pulses-absent": "absent"})
    vascular = {"arterial-concern", "toe-pressure", "ankle-brachial-index", "foot-pulses-absent"}
    assert not vascular & {finding for _, finding in cleared.checks(OPTION)}
