"""Are the clinical signs of soft-tissue impingement counted as their authors count them?

Sources: Liu 1997 (22 patients), five or more of six signs, seen on a teaching page that reports
it; Molloy 2003 (73 ankles), the lateral synovial impingement test, seen in its abstract. That
either of them alone is enough is a judgement. Twelve weeks of non-operative treatment is from
memory (Baums 2006 entered patients after six months or more).
"""

from __future__ import annotations

from itertools import product

import pytest

from plafond.findings import Truth

DERIVED = "ankle.impingement.soft-tissue.sign-set"
OPTION = "ankle-soft-tissue-impingement-debridement"
REPAIR = "ankle-lateral-ligament-repair"
UNSTABLE = "ankle.impingement.soft-tissue.unstable"

#: The six signs of Liu 1997: recorded as there, and as not there. The sixth is "no instability".
SIGNS = {
    "anterolateral-tenderness": ("present", "absent"),
    "anterolateral-swelling": ("present", "absent"),
    "dorsiflexion-eversion-pain": ("present", "absent"),
    "single-leg-squat-pain": ("present", "absent"),
    "pain-on-activity": ("present", "absent"),
    "anterior-drawer": ("negative", "positive"),
}
MOLLOY = {True: {"molloy-sign": "positive"}, False: {"molloy-sign": "negative"}, None: {}}
HISTORY = {"anterior-ankle-pain": "present", "non-operative-treatment-duration": "4 mo"}


def signs(there, *, missing=(), unrecorded=()):
    """Return the six signs, the first so many there, some of them turned or left out."""
    facts = {name: values[number >= there] for number, (name, values) in enumerate(SIGNS.items())}
    facts |= {name: SIGNS[name][1] for name in missing}
    return {name: value for name, value in facts.items() if name not in unrecorded}


def test_every_set_of_signs_with_every_result_of_the_test_agrees_with_plain_counting(truths):
    """Liu 1997 and Molloy 2003: six signs and the test, each there, not there or unrecorded."""
    seen = dict.fromkeys(Truth, 0)
    for given in product((True, False, None), repeat=6):
        facts = {
            name: values[not there]
            for there, (name, values) in zip(given, SIGNS.items(), strict=True)
            if there is not None
        }
        for molloy, recorded in MOLLOY.items():
            if molloy or given.count(True) >= 5:
                expected = Truth.MET
            elif molloy is False and given.count(False) >= 2:
                expected = Truth.NOT_MET
            else:
                expected = Truth.UNKNOWN
            assert truths(facts | recorded)[DERIVED] is expected, (facts, molloy)
            seen[expected] += 1
    assert sum(seen.values()) == 3**7
    assert all(seen.values())


#: (what, facts, standing)
ROWS = [
    ("Liu 6 of 6, Molloy negative", signs(6) | MOLLOY[False], "indicated"),
    ("Liu 5 of 6, Molloy negative",
     signs(6, missing=["anterolateral-swelling"]) | MOLLOY[False], "indicated"),
    ("Liu 4 of 6, Molloy negative",
     signs(6, missing=["anterolateral-swelling", "pain-on-activity"]) | MOLLOY[False], "set-aside"),
    ("Liu 4 of 6, Molloy positive",
     signs(6, missing=["anterolateral-swelling", "pain-on-activity"]) | MOLLOY[True], "indicated"),
    ("Liu 4 of 6, Molloy not recorded",
     signs(6, missing=["anterolateral-swelling", "pain-on-activity"]), "undetermined"),
    ("Liu 4 there and one unrecorded, Molloy negative",
     signs(6, missing=["pain-on-activity"], unrecorded=["anterolateral-swelling"]) | MOLLOY[False],
     "undetermined"),
    ("Liu 0 of 6, Molloy positive", signs(0) | MOLLOY[True], "indicated"),
    ("nothing but the Molloy test", MOLLOY[True], "indicated"),
]  # fmt: skip


@pytest.mark.parametrize(("says", "facts", "standing"), ROWS, ids=[row[0] for row in ROWS])
def test_the_count_of_signs_decides_whether_debridement_is_supported(tell, says, facts, standing):
    """Liu 1997 (secondary), Molloy 2003 (verified); that either alone suffices is a judgement."""
    told = tell(HISTORY | facts)
    assert told.standing(OPTION) == standing, says
    if standing == "undetermined":
        missing = {"molloy-sign", "anterolateral-swelling"} - set(facts)
        assert missing & told.asked()


def test_five_signs_in_an_unstable_ankle_lead_to_the_ligament(tell):
    """Liu 1997 counts the missing sixth sign as a weaker diagnosis; treat both (judgement)."""
    told = tell(HISTORY | signs(6, missing=["anterior-drawer"]) | MOLLOY[False])
    assert told.standing(OPTION) == "indicated"
    assert UNSTABLE in told.cautions(OPTION)
    assert told.standing(REPAIR) == "undetermined"


@pytest.mark.parametrize(
    ("waited", "standing"),
    [("83 d", "set-aside"), ("12 wk", "indicated"), ("85 d", "indicated"), (None, "undetermined")],
)
def test_twelve_weeks_without_an_operation_come_first(tell, waited, standing):
    """From memory: three months at least; no tested duration was found (Baums 2006: over six)."""
    facts = {"anterior-ankle-pain": "present"} | signs(6) | MOLLOY[True]
    told = tell(facts | ({"non-operative-treatment-duration": waited} if waited else {}))
    assert told.standing(OPTION) == standing
    assert ("non-operative-treatment-duration" in told.asked()) is (waited is None)


@pytest.mark.parametrize(
    ("index", "warned"), [("26 kg/m2", False), ("26.01 kg/m2", True), ("25.9 kg/m2", False)]
)
def test_a_body_mass_index_above_26_is_a_note(tell, index, warned):
    """Buda 2016 (42 patients): worse above 26; exactly 26 is not above."""
    told = tell(HISTORY | signs(6) | MOLLOY[True] | {"body-mass-index": index})
    note = "ankle.impingement.soft-tissue.body-mass-index"
    assert (note in told.cautions(OPTION)) is warned
    assert told.standing(OPTION) == "indicated"


@pytest.mark.parametrize(
    ("site", "warned"), [("anterolateral", False), ("anteromedial", True), ("diffuse", True)]
)
def test_the_inner_and_the_diffuse_form_do_less_well(tell, site, warned):
    """Buda 2016 (42 patients), seen in its abstract."""
    told = tell(HISTORY | signs(6) | MOLLOY[True] | {"soft-tissue-impingement-site": site})
    assert ("ankle.impingement.soft-tissue.site" in told.cautions(OPTION)) is warned
