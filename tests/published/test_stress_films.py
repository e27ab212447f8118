"""Is an ankle called unstable at the limits of the stress-film papers, and what follows?

Sources. Karlsson 1991, seen in the abstract: a forward shift of 10 mm and a tilt of 9 degrees, or
more than 3 mm or 3 degrees above the other side; means of unstable and stable ankles. Park 2016
(199 ankles), seen: tilt above 15 degrees or shift above 10 mm foretells failure. Beighton 4 of 9:
a 2016 paper on modified repair in hypermobile patients, seen; others say 5. REACA 2024, seen: six
months, and 10 to 12 weeks of training. Six months as 26 weeks is a judgement.
"""

from __future__ import annotations

import pytest

DERIVED = "ankle.lateral-ligament.mechanical-instability"
REPAIR = "ankle-lateral-ligament-repair"
TRAINING = "ankle-functional-rehabilitation"
GRAFT = "ankle-lateral-ligament-reconstruction"
GROSS = "ankle.lateral-ligament.arthroscopic-repair.gross-laxity"
LAX = "ankle.lateral-ligament.arthroscopic-repair.generalised-laxity"

HISTORY = {"giving-way": "present", "symptom-duration": "7 mo", "rehabilitation-duration": "12 wk"}
#: Everything measured, nothing of it unstable: the mean stable man of Karlsson 1991.
STABLE = {
    "anterior-drawer": "negative",
    "anterior-drawer-displacement": "7.3 mm",
    "anterior-drawer-difference": "0 mm",
    "talar-tilt-angle": "3.2 deg",
    "talar-tilt-difference": "0 deg",
}
LIMITS = [
    ("anterior-drawer-displacement", "9.9 mm", False),
    ("anterior-drawer-displacement", "10 mm", True),
    ("anterior-drawer-displacement", "10.1 mm", True),
    ("anterior-drawer-difference", "2.9 mm", False),
    ("anterior-drawer-difference", "3 mm", False),
    ("anterior-drawer-difference", "3.1 mm", True),
    ("talar-tilt-angle", "8.9 deg", False),
    ("talar-tilt-angle", "9 deg", True),
    ("talar-tilt-angle", "9.1 deg", True),
    ("talar-tilt-difference", "2.9 deg", False),
    ("talar-tilt-difference", "3 deg", False),
    ("talar-tilt-difference", "3.1 deg", True),
    ("talar-tilt-difference", "5 deg", True),
]


@pytest.mark.parametrize(
    ("finding", "value", "unstable"), LIMITS, ids=[f"karlsson-1991: {a} {b}" for a, b, _ in LIMITS]
)
def test_a_limit_of_the_stress_film_decides_between_repair_and_training(
    tell, finding, value, unstable
):
    """Karlsson 1991: 10 mm, 9 degrees, and more than 3 of either above the other side."""
    told = tell(HISTORY | STABLE | {finding: value})
    assert told.standing(REPAIR) == ("indicated" if unstable else "set-aside")
    assert told.standing(TRAINING) == ("set-aside" if unstable else "indicated")


@pytest.mark.parametrize("finding", STABLE)
def test_a_measure_nobody_took_leaves_stability_open(tell, finding):
    """Nobody is called stable before all five are known; the drawer finds about half (54 %)."""
    told = tell(HISTORY | {name: value for name, value in STABLE.items() if name != finding})
    assert told.standing(REPAIR) == "undetermined"
    assert [finding] in told.option(REPAIR).settles
    assert finding in told.asked()


@pytest.mark.parametrize(
    ("mine", "theirs", "standing"),
    [("7.4", "4.3", "indicated"), ("7.3", "4.3", "set-aside"), ("4.3", "7.4", "set-aside")],
)
@pytest.mark.parametrize("measure", ["anterior-drawer-displacement", "talar-tilt-angle"])
def test_the_difference_is_worked_out_of_both_sides(tell, measure, mine, theirs, standing):
    """Karlsson 1991: this side less the other; 3.1 is above 3, 3.0 is not, and less is not more."""
    drawer = measure.startswith("anterior")
    difference = "anterior-drawer-difference" if drawer else "talar-tilt-difference"
    unit = "mm" if drawer else "deg"
    facts = {name: value for name, value in STABLE.items() if name != difference}
    told = tell(HISTORY | facts | {measure: f"{mine} {unit}"}, {measure: f"{theirs} {unit}"})
    assert told.standing(REPAIR) == standing
    assert told.understood(difference).endswith(unit)


def test_without_the_other_side_there_is_no_difference(tell):
    facts = {name: value for name, value in STABLE.items() if not name.endswith("difference")}
    told = tell(HISTORY | facts)
    assert told.standing(REPAIR) == "undetermined"
    assert {"anterior-drawer-difference", "talar-tilt-difference"} <= told.asked()


#: Means of Karlsson 1991 (men, women): shift in mm, tilt in degrees.
MEANS = [
    ("unstable men", "10.5", "10", True),
    ("unstable women", "11.3", "11", True),
    ("stable men", "7.3", "3.2", False),
    ("stable women", "7.2", "4.3", False),
]


@pytest.mark.parametrize(("who", "shift", "tilt", "unstable"), MEANS, ids=[m[0] for m in MEANS])
def test_the_mean_ankle_of_each_group_falls_on_its_side(tell, who, shift, tilt, unstable):
    """Karlsson 1991: reference values of both groups (verified)."""
    measured = {"anterior-drawer-displacement": f"{shift} mm", "talar-tilt-angle": f"{tilt} deg"}
    told = tell(HISTORY | STABLE | measured)
    assert told.standing(REPAIR) == ("indicated" if unstable else "set-aside"), who


def test_one_of_the_two_absolute_limits_is_enough_here_and_the_rule_says_who_wants_both(release):
    """Karlsson 1991 joins 10 mm and 9 degrees with "and"; reading each alone is a judgement."""
    rule = release.rulebook.rules[DERIVED]
    assert rule.confidence == "judgement"
    positions = {one["cites"]: one["says"] for one in rule.data["dispute"]["positions"]}
    assert "together" in positions["karlsson-1991"]
    assert "10 degrees or 5 degrees above" in positions["ad-text"]


@pytest.mark.parametrize(
    ("finding", "value", "warned"),
    [
        ("talar-tilt-angle", "15 deg", False),
        ("talar-tilt-angle", "15.1 deg", True),
        ("anterior-drawer-displacement", "10 mm", False),
        ("anterior-drawer-displacement", "10.1 mm", True),
    ],
)
def test_beyond_the_ceiling_a_simple_repair_is_warned_of(tell, finding, value, warned):
    """Park 2016: tilt above 15 degrees, shift above 10 mm (verified); both strictly above."""
    told = tell(HISTORY | STABLE | {finding: value})
    assert told.standing(REPAIR) == "indicated"
    assert (GROSS in told.cautions(REPAIR)) is warned


UNSTABLE = STABLE | {"anterior-drawer": "positive"}


@pytest.mark.parametrize(
    ("score", "warned"), [(3, False), (4, True), (5, True), (6, True), (None, None)]
)
def test_laxity_begins_at_4_of_9_and_brings_up_a_graft(tell, score, warned):
    """Beighton 4 of 9 (verified for repair in the hypermobile); 5 is the other usual cut-off."""
    told = tell(HISTORY | UNSTABLE | ({"beighton-score": score} if score is not None else {}))
    assert told.standing(REPAIR) == "indicated"
    assert (LAX in told.cautions(REPAIR)) is bool(warned)
    assert (("relative", "beighton-score") in told.checks(REPAIR)) is (score is None)
    assert (told.standing(GRAFT) == "indicated") is bool(warned)


@pytest.mark.parametrize(
    ("weeks", "repair", "training"),
    [
        ("9 wk", "set-aside", "indicated"),
        ("69 d", "set-aside", "indicated"),
        ("10 wk", "indicated", "set-aside"),
        ("12 wk", "indicated", "set-aside"),
        (None, "undetermined", "undetermined"),
    ],
)
def test_ten_weeks_of_training_come_before_a_repair(tell, weeks, repair, training):
    """REACA 2024: 10 to 12 weeks at least (verified); 3 to 6 months was not found in print."""
    facts = {name: value for name, value in HISTORY.items() if name != "rehabilitation-duration"}
    told = tell(facts | UNSTABLE | ({"rehabilitation-duration": weeks} if weeks else {}))
    assert (told.standing(REPAIR), told.standing(TRAINING)) == (repair, training)
    failed = facts | UNSTABLE | {"failed-lateral-ligament-repair": "present"}
    again = tell(failed | ({"rehabilitation-duration": weeks} if weeks else {}))
    assert again.standing(GRAFT) == repair, "an opinion on a graft waits as long"
    assert ("rehabilitation-duration" in told.asked()) is (weeks is None)


@pytest.mark.parametrize("clock", ["symptom-duration", "time-since-injury"])
@pytest.mark.parametrize(
    ("months", "standing"),
    [("181 d", "set-aside"), ("26 wk", "indicated"), ("6 mo", "indicated"), (None, "undetermined")],
)
def test_six_months_make_it_chronic(tell, clock, months, standing):
    """REACA 2024: six months after the sprain (verified). That 26 weeks stand for them, and that
    the length of the symptoms will do as well, are judgements.
    """
    facts = {name: value for name, value in HISTORY.items() if name != "symptom-duration"}
    short = {"symptom-duration": "3 mo", "time-since-injury": "3 mo"}
    recorded = {name: value for name, value in short.items() if name != clock}
    told = tell(facts | UNSTABLE | recorded | ({clock: months} if months else {}))
    assert told.standing(REPAIR) == standing
    assert (clock in told.asked()) is (months is None)


@pytest.mark.parametrize(
    ("index", "warned"), [("29.9 kg/m2", False), ("30 kg/m2", True), ("30.1 kg/m2", True)]
)
def test_a_body_mass_index_of_30_is_a_note_on_the_repair(tell, index, warned):
    """Guiraud 2023 (26 against 43): complications 27 against 9 %, not significant (verified)."""
    told = tell(HISTORY | UNSTABLE | {"body-mass-index": index})
    note = "ankle.lateral-ligament.arthroscopic-repair.body-mass-index"
    assert (note in told.cautions(REPAIR)) is warned
    assert told.standing(REPAIR) == "indicated"
