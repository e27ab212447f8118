"""Are films asked for where the Ottawa rules ask, and is nobody reassured whom they leave out?

Sources. Stiell 1993, the refined rules, wording seen on several pages: pain in the zone first, then
bone tenderness or four steps impossible both at once and at the examination. The first version of
1992 had age and the cuboid as well. Exclusions (pregnancy, unreliable examination, reduced
feeling): a hospital guideline page of 2014 (secondary). Below 6 years: MacLellan 2018 found the
rule reliable above 5 (verified); the border itself is a judgement. Ten days: Leddy 1998 used that
window; that the rule ends there is from memory. Films already taken answer the rule (judgement):
the rows are of injuries that nobody filmed yet. O-01 to O-08: fact sheet on red flags, part 4.8.
"""

from __future__ import annotations

from itertools import product

import pytest

from plafond.findings import Truth

ANKLE, FOOT = "red-flags.fracture.ankle-films", "red-flags.fracture.foot-films"
NO_COMFORT = "red-flags.fracture.rule-cannot-reassure"
CHARCOT = "red-flags.charcot.acute"
LATE = "red-flags.fracture.late-and-unfilmed"
RULES = {
    "ankle": (
        "red-flags.fracture.ottawa-ankle-rule",
        "malleolar-zone-pain",
        ("lateral-malleolus-bone-tenderness", "medial-malleolus-bone-tenderness"),
    ),
    "foot": (
        "red-flags.fracture.ottawa-foot-rule",
        "midfoot-zone-pain",
        ("fifth-metatarsal-base-tenderness", "navicular-tenderness"),
    ),
}
STEPS = ("unable-to-walk-at-injury", "unable-to-walk-at-examination")
#: Everything the rules ask for, and nothing found; an adult, two days after a twist, not filmed.
NOTHING = {
    "films-since-injury": "absent",
    "lisfranc-injury-on-imaging": "absent",
    "plantar-bruising": "absent",
    "midfoot-stress-signs": "absent",
    "age": "30 a",
    "time-since-injury": "2 d",
    "malleolar-zone-pain": "absent",
    "midfoot-zone-pain": "absent",
    "lateral-malleolus-bone-tenderness": "absent",
    "medial-malleolus-bone-tenderness": "absent",
    "fifth-metatarsal-base-tenderness": "absent",
    "navicular-tenderness": "absent",
    "unable-to-walk-at-injury": "absent",
    "unable-to-walk-at-examination": "absent",
    "neuropathy": "absent",
    "unreliable-examination": "absent",
    "pregnancy": "absent",
}


def found(*names, **others):
    facts = NOTHING | dict.fromkeys(names, "present")
    return facts | {name.replace("_", "-"): value for name, value in others.items()}


def filmed(facts, films):
    """The same facts with films taken, not taken, or (None) nobody saying."""
    rest = {name: value for name, value in facts.items() if name != "films-since-injury"}
    return rest | ({"films-since-injury": films} if films else {})


def asks_for_films(zone, first, second, at_once, at_examination):
    return zone and (first or second or (at_once and at_examination))


@pytest.mark.parametrize("part", RULES)
def test_every_combination_of_the_criteria_agrees_with_the_published_rule(truths, part):
    """Stiell 1993: each of the five present, absent or unrecorded; films if every way to fill in
    what is unrecorded asks for them, none if no way does.
    """
    rule, zone, tender = RULES[part]
    names = (zone, *tender, *STEPS)
    seen = dict.fromkeys(Truth, 0)
    for given in product((True, False, None), repeat=len(names)):
        ways = {
            asks_for_films(*filled)
            for filled in product(*[(True, False) if one is None else (one,) for one in given])
        }
        expected = Truth.of(ways.pop() if len(ways) == 1 else None)
        facts = {
            name: "present" if one else "absent"
            for name, one in zip(names, given, strict=True)
            if one is not None
        }
        assert truths(facts)[rule] is expected, facts
        seen[expected] += 1
    assert sum(seen.values()) == 3**5
    assert all(seen.values())


#: (criterion, facts, films): each criterion with its zone, without it, and beside it.
CRITERIA = [
    ("OAR-1 tender lateral malleolus",
     found("malleolar-zone-pain", "lateral-malleolus-bone-tenderness"), {ANKLE}),
    ("OAR-1 without pain in the zone is no trigger",
     found("lateral-malleolus-bone-tenderness"), set()),
    ("OAR-2 tender medial malleolus",
     found("malleolar-zone-pain", "medial-malleolus-bone-tenderness"), {ANKLE}),
    ("OAR-3 tender fifth metatarsal base",
     found("midfoot-zone-pain", "fifth-metatarsal-base-tenderness"), {FOOT}),
    ("OAR-3 counts for the foot, not for the ankle",
     found("malleolar-zone-pain", "fifth-metatarsal-base-tenderness"), set()),
    ("OAR-4 tender navicular", found("midfoot-zone-pain", "navicular-tenderness"), {FOOT}),
    ("OAR-5 no four steps at either time, ankle", found("malleolar-zone-pain", *STEPS), {ANKLE}),
    ("OAR-5 no four steps at either time, foot", found("midfoot-zone-pain", *STEPS), {FOOT}),
    ("OAR-5 no four steps at either time, both zones",
     found("malleolar-zone-pain", "midfoot-zone-pain", *STEPS), {ANKLE, FOOT}),
    ("OAR-5 unable at the injury only", found("malleolar-zone-pain", STEPS[0]), set()),
    ("OAR-5 unable at the examination only", found("malleolar-zone-pain", STEPS[1]), set()),
    ("O-01 tender back edge of the lateral malleolus, can walk",
     found("malleolar-zone-pain", "lateral-malleolus-bone-tenderness"), {ANKLE}),
    ("O-02 tender in front of the malleolus only (no bone tenderness), can walk",
     found("malleolar-zone-pain"), set()),
    ("O-03 walked at the injury, not at the examination",
     found("malleolar-zone-pain", STEPS[1]), set()),
    ("O-04 tender cuboid only: the refined rule has no cuboid",
     found("midfoot-zone-pain"), set()),
    ("O-05 tender fifth metatarsal base",
     found("midfoot-zone-pain", "fifth-metatarsal-base-tenderness"), {FOOT}),
    ("1992 only: an age of 70 alone asks for nothing",
     found("malleolar-zone-pain", age="70 a"), set()),
]  # fmt: skip


@pytest.mark.parametrize(("says", "facts", "films"), CRITERIA, ids=[row[0] for row in CRITERIA])
def test_a_criterion_asks_for_its_films_and_no_others(tell, says, facts, films):
    """Stiell 1993 (verified); all other criteria and exclusions recorded as absent.

    A patient who walked at once and cannot walk now asks for no film by the rule, and is looked at
    all the same (O-03, judgement).
    """
    told = tell(facts)
    assert {rule for rule in (ANKLE, FOOT) if told.flag(rule) == "met"} == films, says
    worse = facts[STEPS[1]] == "present" and facts[STEPS[0]] == "absent"
    assert told.flag(NO_COMFORT) == ("met" if worse else "")
    assert (told.whole.triage == "act-now") is (bool(films) or worse)


@pytest.mark.parametrize(
    "injury",
    [
        ("malleolar-zone-pain", "lateral-malleolus-bone-tenderness", ANKLE),
        ("midfoot-zone-pain", "fifth-metatarsal-base-tenderness", FOOT),
    ],
)
@pytest.mark.parametrize(
    ("films", "state"), [("absent", "met"), (None, "possible"), ("present", "")]
)
def test_films_taken_since_the_injury_answer_the_rule(tell, injury, films, state):
    """Judgement: where nobody says, the flag stays possible, still for today, and asks."""
    *signs, flag = injury
    told = tell(filmed(found(*signs), films))
    assert told.flag(flag) == state
    assert ("films-since-injury" in told.asked()) is (films is None)
    assert (told.whole.triage == "act-now") is (state != "")


@pytest.mark.parametrize(
    ("criterion", "zone", "flag"),
    [
        ("lateral-malleolus-bone-tenderness", "malleolar-zone-pain", ANKLE),
        ("medial-malleolus-bone-tenderness", "malleolar-zone-pain", ANKLE),
        ("fifth-metatarsal-base-tenderness", "midfoot-zone-pain", FOOT),
        ("navicular-tenderness", "midfoot-zone-pain", FOOT),
        ("malleolar-zone-pain", "lateral-malleolus-bone-tenderness", ANKLE),
        ("midfoot-zone-pain", "navicular-tenderness", FOOT),
    ],
)
def test_a_criterion_nobody_examined_leaves_a_fracture_possible(tell, criterion, zone, flag):
    """Stiell 1993: without the last of its criteria the rule has not been applied."""
    facts = {name: value for name, value in found(zone).items() if name != criterion}
    told = tell(facts)
    assert told.flag(flag) == "possible"
    assert criterion in told.asked()


@pytest.mark.parametrize("step", STEPS)
def test_four_steps_at_one_time_unrecorded_leave_it_possible(tell, step):
    """Stiell 1993: unable at one time, the other unrecorded."""
    facts = {n: v for n, v in found("malleolar-zone-pain", *STEPS).items() if n != step}
    told = tell(facts)
    assert told.flag(ANKLE) == "possible"
    assert step in told.asked()


@pytest.mark.parametrize(
    ("days", "state"), [("9 d", "met"), ("10 d", "met"), ("11 d", ""), ("2 mo", "")]
)
def test_the_window_closes_after_ten_days(tell, days, state):
    """O-08. Leddy 1998 used ten days; that the rule ends there is from memory."""
    facts = found("malleolar-zone-pain", "lateral-malleolus-bone-tenderness", "midfoot-zone-pain",
                  "navicular-tenderness", "neuropathy", time_since_injury=days)  # fmt: skip
    told = tell(facts)
    assert [told.flag(one) for one in (ANKLE, FOOT, NO_COMFORT)] == [state] * 3


#: (days since the injury, films, what is said of an injury that is tender and was never filmed)
LATE_ROWS = [
    ("10 d", "absent", ""),
    ("11 d", "absent", "met"),
    ("6 wk", "absent", "met"),
    ("43 d", "absent", ""),
    ("11 d", "present", ""),
    ("11 d", None, "possible"),
]


@pytest.mark.parametrize(("days", "films", "state"), LATE_ROWS)
def test_beyond_the_window_an_injury_nobody_filmed_is_filmed(tell, days, films, state):
    """O-08. After ten days the rule says nothing; films until six weeks are a judgement."""
    facts = found(
        "malleolar-zone-pain", "lateral-malleolus-bone-tenderness", time_since_injury=days
    )
    told = tell(filmed(facts, films))
    assert told.flag(LATE) == state
    assert ("films-since-injury" in told.asked()) is (films is None)


def test_a_fresh_injury_without_a_date_keeps_the_fracture_possible(tell):
    facts = found("recent-injury", "malleolar-zone-pain", "lateral-malleolus-bone-tenderness")
    told = tell({name: value for name, value in facts.items() if name != "time-since-injury"})
    assert told.flag(ANKLE) == "possible"
    assert "time-since-injury" in told.asked()


#: (exclusion, facts, whether the flag is raised)
EXCLUSIONS = [
    ("mypcr-2014: pregnancy", {"pregnancy": "present"}, "met"),
    ("mypcr-2014: intoxication, head injury, other injuries",
     {"unreliable-examination": "present"}, "met"),
    ("mypcr-2014: reduced feeling", {"neuropathy": "present"}, "met"),
    ("maclellan-2018, judgement: O-06 age 4", {"age": "4 a"}, "met"),
    ("maclellan-2018, judgement: a little below 6", {"age": "71 mo"}, "met"),
    ("maclellan-2018, judgement: exactly 6", {"age": "6 a"}, ""),
    ("maclellan-2018, judgement: 7", {"age": "7 a"}, ""),
    ("none of them", {}, ""),
]  # fmt: skip


@pytest.mark.parametrize("zone", ["malleolar-zone-pain", "midfoot-zone-pain"])
@pytest.mark.parametrize(("says", "facts", "state"), EXCLUSIONS, ids=[e[0] for e in EXCLUSIONS])
def test_a_negative_rule_does_not_reassure_whom_it_leaves_out(tell, zone, says, facts, state):
    """The source stands in the test id; the rule itself is negative in all of them."""
    told = tell(found(zone) | facts)
    assert told.flag(NO_COMFORT) == state, says
    assert (told.flag(ANKLE), told.flag(FOOT)) == ("", "")


@pytest.mark.parametrize("exclusion", ["pregnancy", "unreliable-examination", "neuropathy", "age"])
def test_an_exclusion_nobody_asked_about_keeps_the_answer_open(tell, exclusion):
    """mypcr-2014: the rule reassures only where it may be applied."""
    facts = {n: v for n, v in found("malleolar-zone-pain").items() if n != exclusion}
    told = tell(facts)
    assert told.flag(NO_COMFORT) == "possible"
    assert exclusion in told.asked()


def test_neuropathy_with_a_warm_swollen_foot_is_charcot_before_it_is_ottawa(tell):
    """O-07. The fracture rule is by-passed; what is raised is the Charcot foot (verified)."""
    told = tell(found("neuropathy", "warm-swollen-foot"))
    assert told.flag(CHARCOT) == "met"
    assert (told.flag(ANKLE), told.flag(FOOT)) == ("", "")
    told = tell(found("neuropathy", "warm-swollen-foot", "malleolar-zone-pain"))
    assert (told.flag(CHARCOT), told.flag(NO_COMFORT)) == ("met", "met")


@pytest.mark.parametrize(
    ("sign", "kind"), [("open-ankle-injury", "open"), ("deformed-ankle", "deformed")]
)
def test_an_open_or_deformed_ankle_waits_for_no_rule(tell, sign, kind):
    """BOA standards on open fractures (2017) and on ankle fractures; by-pass is a judgement."""
    told = tell({sign: "present"})
    (flag,) = [one for one in told.side.red_flags if one.state == "met"]
    assert (flag.rule, flag.urgency) == (f"red-flags.fracture.{kind}", "immediate")
