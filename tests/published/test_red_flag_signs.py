"""Are the signs of a septic joint, a Charcot foot and a torn Achilles weighed as their sources do?

Sources. Septic joint: BSR 2006, seen: hot, swollen, tender and stiff for at most two weeks; absence
of fever excludes nothing; white cells above 50 000 raise the likelihood (Margaretten 2007,
secondary). Charcot: more than 2 degrees Celsius above the other foot is the usual mark (Dallimore
2020, seen); no single temperature defines it (IWGDF review 2024). Achilles: two or more of the
tests (Maffulli 1998, seen); four weeks make it chronic (review of 2022, seen). That weak push-off
is one of the tests is from memory.
"""

from __future__ import annotations

from itertools import product

import pytest

from plafond.findings import Truth

SEPTIC, CHARCOT = "red-flags.septic-joint.acute", "red-flags.charcot.acute"
FRESH, OLD = "red-flags.achilles-rupture.acute", "red-flags.achilles-rupture.neglected"
SIGNS = "red-flags.achilles-rupture.two-signs"
WASHOUT, SPUR = "ankle-septic-washout", "ankle-bony-impingement-resection"
READY = {
    "anterior-ankle-pain": "present",
    "anterior-palpation-pain": "present",
    "anterior-spur": "present",
    "ankle-joint-space": "normal",
    "non-operative-treatment-duration": "4 mo",
}

# -- septic joint ---------------------------------------------------------------------

HOT = {"hot-swollen-joint": "present", "restricted-joint-movement": "present"}


@pytest.mark.parametrize(
    ("days", "state", "standing"),
    [
        ("13 d", "met", "on-hold"),
        ("2 wk", "met", "on-hold"),
        ("15 d", "possible", "indicated"),
        (None, "possible", "indicated"),
    ],
)
def test_a_hot_stiff_joint_is_septic_for_two_weeks_and_stays_possible_beyond(
    tell, days, state, standing
):
    """BSR 2006 (verified): two weeks are typical, so a longer history excludes nothing."""
    recorded = {"joint-inflammation-duration": days} if days else {}
    told = tell(READY | HOT | {"joint-aspirate": "sterile"} | recorded)
    assert told.flag(SEPTIC) == state
    assert told.standing(SPUR) == standing
    assert ("joint-inflammation-duration" in told.asked()) is (days is None)
    if state == "possible":
        assert "red-flag" in {severity for severity, _ in told.checks(SPUR)}
        denied = tell(
            READY | HOT | {"septic-ankle": "absent", "joint-aspirate": "sterile"} | recorded
        )
        assert denied.flag(SEPTIC) == ("" if days else "possible")


@pytest.mark.parametrize("missing", ["restricted-joint-movement"])
def test_a_hot_joint_nobody_moved_may_be_septic(tell, missing):
    """BSR 2006: each part of the picture is asked for, none is taken as absent."""
    facts = {name: value for name, value in HOT.items() if name != missing}
    told = tell(READY | facts | {"joint-inflammation-duration": "3 d"})
    assert told.flag(SEPTIC) == "possible"
    assert missing in told.asked()


def test_pus_holds_everything_but_the_washout(tell):
    """BSR 2006; Glazebrook 2009, C for the washout (verified)."""
    told = tell(READY | {"joint-aspirate": "purulent-or-organisms"})
    assert told.flag(SEPTIC) == "met"
    assert told.standing(SPUR) == "on-hold"
    assert told.standing(WASHOUT) == "indicated"
    assert (told.grade(WASHOUT), told.whole.triage) == ("C", "act-now")


@pytest.mark.parametrize("aspirate", ["crystals-only", "sterile"])
def test_crystals_or_a_sterile_aspirate_do_not_exclude_an_infection(tell, aspirate):
    """BSR 2006 and Couderc 2015 (verified): a crystal lowers the probability, no more."""
    told = tell(HOT | {"joint-inflammation-duration": "3 d", "joint-aspirate": aspirate})
    assert told.flag(SEPTIC) == "met"
    assert told.standing(WASHOUT) == "undetermined"


@pytest.mark.parametrize(
    ("cells", "standing"),
    [
        ("49999 /mm3", "set-aside"),
        ("50000 /mm3", "set-aside"),
        ("50001 /mm3", "indicated"),
        ("50.1 10*3/uL", "indicated"),
        (None, "undetermined"),
    ],
)
def test_more_than_50000_white_cells_in_a_hot_joint_support_a_washout(tell, cells, standing):
    """Margaretten 2007 (secondary): above 50 000 a likelihood ratio of 7.7."""
    facts = HOT | {"joint-aspirate": "sterile", "septic-ankle": "absent"}
    told = tell(facts | ({"synovial-white-cell-count": cells} if cells else {}))
    assert told.standing(WASHOUT) == standing


# -- Charcot --------------------------------------------------------------------------

INSENSATE = {"neuropathy": "present", "warm-swollen-foot": "absent"}


@pytest.mark.parametrize(
    ("difference", "state", "standing"),
    [("1.9 Cel", "", "indicated"), ("2 Cel", "", "indicated"), ("2.1 Cel", "met", "on-hold")],
)
def test_a_foot_more_than_2_degrees_warmer_is_charcot_until_shown_otherwise(
    tell, difference, state, standing
):
    """Dallimore 2020 (verified): strictly more than 2 degrees Celsius."""
    told = tell(READY | INSENSATE | {"foot-temperature-difference": difference})
    assert told.flag(CHARCOT) == state
    assert told.standing(SPUR) == standing


@pytest.mark.parametrize(
    ("mine", "theirs", "state"),
    [("33.1", "31.0", "met"), ("33.0", "31.0", ""), ("31.0", "33.1", "")],
)
def test_two_skin_temperatures_make_the_difference(tell, mine, theirs, state):
    """Fact sheet 4.6: 33.1 against 31.0 is a flag, 33.0 is none; the warmer foot carries it."""
    told = tell(
        INSENSATE | {"foot-skin-temperature": f"{mine} Cel"},
        {"foot-skin-temperature": f"{theirs} Cel"},
    )
    assert told.flag(CHARCOT) == state


def test_a_temperature_nobody_took_keeps_the_operation_unsafe_to_choose(tell):
    """Dallimore 2020: with a warm foot and the feeling unrecorded, Charcot stays possible."""
    told = tell(READY | {"warm-swollen-foot": "present"})
    assert told.flag(CHARCOT) == "possible"
    assert "neuropathy" in told.asked()
    warmer = tell(READY | {"foot-temperature-difference": "2.1 Cel"})
    assert warmer.flag(CHARCOT) == "possible"


# -- Achilles -------------------------------------------------------------------------

TESTS = {
    "achilles-calf-squeeze": ("positive", "negative"),
    "achilles-gap": ("present", "absent"),
    "matles-test": ("positive", "negative"),
    "weak-plantar-flexion": ("present", "absent"),
}


def test_every_set_of_the_four_tests_agrees_with_plain_counting(truths):
    """Maffulli 1998 (verified): two or more; each positive, negative or not done."""
    seen = dict.fromkeys(Truth, 0)
    for given in product((True, False, None), repeat=4):
        facts = {
            name: values[not there]
            for there, (name, values) in zip(given, TESTS.items(), strict=True)
            if there is not None
        }
        met, possible = given.count(True) >= 2, given.count(False) <= 2
        expected = Truth.of(True if met else None if possible else False)
        assert truths(facts)[SIGNS] is expected, facts
        seen[expected] += 1
    assert sum(seen.values()) == 3**4
    assert all(seen.values())


@pytest.mark.parametrize(
    ("days", "fresh", "old"),
    [("27 d", "met", ""), ("4 wk", "", "met"), ("29 d", "", "met"), (None, "possible", "possible")],
)
def test_four_weeks_part_the_fresh_rupture_from_the_neglected_one(tell, days, fresh, old):
    """Maffulli 1998 for the two tests; chronic from four weeks: review of 2022 (verified)."""
    torn = {"achilles-calf-squeeze": "positive", "achilles-gap": "present"}
    told = tell(torn | ({"time-since-injury": days} if days else {}))
    assert (told.flag(FRESH), told.flag(OLD)) == (fresh, old)
    urgencies = {one.rule: one.urgency for one in told.side.red_flags}
    for rule, urgency in ((FRESH, "same-day"), (OLD, "two-weeks")):
        assert urgencies.get(rule, urgency) == urgency
