"""Does each rule carry the grade that was published, or say what moved it?

Sources. Glazebrook 2009 (arthroscopy of the ankle), Cychosz 2014 (tendoscopy; its list of the
insufficient was seen cut off after the toe flexor) and Spennacchio 2016 (hindfoot endoscopy; its
abstract names the three topics of grade C): topics and letters seen in abstracts (verified), all
in the letters of Wright 2005. A rule that takes a published grade to a narrower or a neighbouring
subject names the source that moved it, in its sources, and says so in the note of its grade.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import pytest

GLAZEBROOK, CYCHOSZ, SPENNACCHIO = "glazebrook-2009", "cychosz-2014", "spennacchio-2016"
#: How much a letter recommends, for whatever direction.
FALLS = "ABCI"


@dataclass(frozen=True)
class Row:
    """One row of a published table: its grade, the rules that carry it, and those that moved it."""

    source: str
    topic: str
    grade: str
    direction: str = "for"
    equal: tuple[str, ...] = ()
    moved: dict[str, str] = field(default_factory=dict)


ROWS = [
    Row(
        GLAZEBROOK,
        "impingement of bone or soft tissue",
        "B",
        equal=("ankle.impingement.bony.indicated", "ankle.impingement.soft-tissue.indicated"),
        moved={
            "ankle.impingement.bony.indicated-with-narrowing": "vandijk-chapter",
            "ankle.impingement.soft-tissue.anteromedial": "buda-2016",
            "ankle.syndesmosis.debridement.indicated": GLAZEBROOK,
        },
    ),
    Row(
        GLAZEBROOK,
        "osteochondral lesion of the talus",
        "B",
        equal=("ankle.talus.bone-marrow-stimulation.small-contained",),
        moved={
            "ankle.talus.bone-marrow-stimulation.indicated": "choi-2009",
            "ankle.talus.bone-marrow-stimulation.displaced-or-locking": "olt-review-drl",
            "ankle.talus.fragment-fixation.indicated": "rikken-ldff-2022",
            "ankle.talus.retrograde-drilling.indicated": "dgou-2024",
            "hindfoot.posterior-joint.talar-lesion.indicated": "batista-olt-2020",
        },
    ),
    Row(GLAZEBROOK, "fusion of the ankle", "B", equal=("ankle.arthritis.fusion.indicated",)),
    Row(
        GLAZEBROOK,
        "lateral instability",
        "C",
        equal=("ankle.lateral-ligament.arthroscopic-repair.indicated",),
    ),
    Row(GLAZEBROOK, "septic arthritis", "C", equal=("ankle.septic-arthritis.washout.indicated",)),
    Row(GLAZEBROOK, "arthrofibrosis", "C", equal=("ankle.arthrofibrosis.release.indicated",)),
    Row(
        GLAZEBROOK,
        "loose bodies",
        "C",
        equal=(
            "ankle.loose-body.removal.indicated",
            "ankle.loose-body.removal.synovial-chondromatosis-indicated",
            "hindfoot.posterior-joint.loose-body.indicated",
        ),
        moved={"forefoot.first-mtp.loose-body-or-lesion.loose-body": GLAZEBROOK},
    ),
    Row(
        GLAZEBROOK,
        "arthritis, isolated bony impingement excepted",
        "C",
        "against",
        moved={"ankle.arthritis.debridement.narrow-exception": "lee-2005"},
    ),
    Row(
        GLAZEBROOK,
        "synovitis",
        "I",
        "none",
        equal=(
            "ankle.synovitis.synovectomy.early-inflammatory",
            "ankle.synovitis.synovectomy.giant-cell-tumour",
            "ankle.synovitis.synovectomy.haemophilic",
            "ankle.synovitis.synovectomy.non-specific",
        ),
    ),
    Row(
        GLAZEBROOK,
        "acute fracture",
        "I",
        "none",
        equal=(
            "ankle.fracture.arthroscopic-fixation.indicated",
            "ankle.fracture.fixation-alone.indicated",
            "hindfoot.calcaneal-fracture.arthroscopic-reduction.indicated",
        ),
    ),
    Row(
        CYCHOSZ,
        "tendoscopy of the Achilles tendon",
        "C",
        equal=(
            "tendon.achilles.paratenon-debridement.indicated",
            "tendon.achilles.acute-repair.indicated",
        ),
    ),
    Row(
        CYCHOSZ, "tendoscopy of the big-toe flexor", "C", equal=("hindfoot.fhl.release.indicated",)
    ),
    Row(
        CYCHOSZ,
        "tendoscopy of the peroneal tendons",
        "C",
        equal=("tendon.peroneal.tendoscopy.indicated",),
    ),
    Row(
        CYCHOSZ,
        "tendoscopy of tibialis posterior",
        "I",
        "none",
        equal=("tendon.tibialis-posterior.tendoscopy.indicated",),
    ),
    Row(
        CYCHOSZ,
        "tendoscopy of tibialis anterior",
        "I",
        "none",
        equal=("tendon.tibialis-anterior.tendoscopy.indicated",),
    ),
    Row(
        SPENNACCHIO,
        "posterior impingement, with or without disease of the big-toe flexor",
        "C",
        equal=(
            "hindfoot.posterior-impingement.bony-excision.indicated",
            "hindfoot.posterior-impingement.soft-tissue.indicated",
            "hindfoot.fhl.release.indicated",
        ),
    ),
    Row(
        SPENNACCHIO,
        "subtalar degenerative disease",
        "C",
        equal=("hindfoot.subtalar.arthroscopic-fusion.indicated",),
        moved={"hindfoot.subtalar.arthroscopic-debridement.indicated": "subtalar-review"},
    ),
    Row(SPENNACCHIO, "retrocalcaneal bursitis", "C", equal=("hindfoot.calcaneoplasty.indicated",)),
    Row(
        SPENNACCHIO,
        "tibialis posterior, through the hindfoot portals",
        "I",
        "none",
        equal=("tendon.tibialis-posterior.tendoscopy.indicated",),
    ),
]
by_topic = pytest.mark.parametrize("row", ROWS, ids=[f"{row.source} {row.topic}" for row in ROWS])


@by_topic
def test_a_published_grade_is_the_grade_of_its_rules(row, rulebook):
    for name in row.equal:
        rule = rulebook.rules[name]
        grade = rule.data["grade"]
        told = (grade["recommendation"], grade["scheme"], grade["direction"])
        assert told == (row.grade, "wright-2005", row.direction), name
        assert row.source in rule.sources, name


@by_topic
def test_a_grade_that_was_moved_says_so_and_by_which_source(row, rulebook):
    for name, mover in row.moved.items():
        rule = rulebook.rules[name]
        grade = rule.data["grade"]
        assert (grade["recommendation"], grade["direction"]) != (row.grade, row.direction), name
        assert {row.source, mover} <= set(rule.sources), name
        note = grade["note"]
        assert "published" in note or "grade" in note.lower(), name
        assert re.search(rf"\b{row.grade}\b", note), name


@by_topic
def test_no_grade_stands_above_the_published_one(row, rulebook):
    for name in (*row.equal, *row.moved):
        mine = rulebook.rules[name].data["grade"]["recommendation"]
        assert FALLS.index(mine) >= FALLS.index(row.grade), name


def test_every_indication_that_cites_a_graded_table_is_in_a_row(rulebook):
    listed = {name for row in ROWS for name in (*row.equal, *row.moved)}
    citing = {
        rule.id
        for rule in rulebook.of_kind("indication")
        if {GLAZEBROOK, CYCHOSZ, SPENNACCHIO} & set(rule.sources)
    }
    assert citing == listed


def test_a_rule_in_no_row_claims_no_recommendation(rulebook):
    """What none of the three grades, and no other source that was read, is insufficient."""
    listed = {name for row in ROWS for name in (*row.equal, *row.moved)}
    for rule in rulebook.of_kind("indication"):
        if rule.id not in listed:
            grade = rule.data["grade"]
            assert (grade["recommendation"], grade["direction"]) == ("I", "none"), rule.id
            assert grade["note"], rule.id


def test_debridement_of_arthritis_is_advised_against(rulebook):
    """Glazebrook 2009: C against, but for isolated bony impingement."""
    grades = [
        (rule.grade["recommendation"], rule.grade["direction"])
        for rule in rulebook.rules.values()
        if rule.kind == "indication" and rule.effect.supports == "ankle-arthritis-debridement"
    ]
    assert grades
    assert ("B", "for") not in grades
    assert ("A", "for") not in grades
