"""Is every code real, may it be billed, and does its title speak of what carries it?

ICD-10-CM of April 2026 as the package simple-icd-10-cm holds it (US government work), and a list of
207 codes of foot and ankle, ICD-10-CM and ICD-10-PCS, each with its title (outside data). What a
code may stand with is written here by its category, so that a slip of one character is seen.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

LISTED = Path(__file__).parents[3] / "shared" / "data" / "icd10-foot-ankle-codes.json"
#: The systems by their addresses in FHIR, and by the names the knowledge gives them.
SYSTEMS = {
    "http://hl7.org/fhir/sid/icd-10-cm": "icd-10-cm",
    "http://www.cms.gov/Medicare/Coding/ICD10": "icd-10-pcs",
}
#: The beginning of a code, and words of which its bearer's title holds one. The longest fits.
SPEAKS_OF = {
    "C40": "tumour", "C49": "tumour", "D6": "bleeding|cause of an ankle synovitis",
    "E1": "diabetes|neuropathy|ulcer", "E11.51": "arterial", "G90.5": "regional pain",
    "I7": "arterial|ischaemic", "L02.6": "deep infection of the foot", "L03.11": "infection",
    "M00": "septic", "M12.27": "giant cell|big-toe joint|synovectomy",
    "M12.57": "fusion|arthritis|subtalar", "M14.67": "charcot", "M19": "fusion|arthriti|subtalar",
    "M20.2": "hallux rigidus|big-toe joint", "M21": "flat foot",
    "M24.07": "loose bod", "M24.27": "syndesmo", "M24.57": "calf|gastrocnemius|scarred|stiff",
    "M24.67": "arthrofibrosis|scarred|stiff", "M25.07": "bleeding|cause of an ankle synovitis",
    "M25.37": "giving way|ligament|rehabilitation", "M25.57": "ankle pain",
    "M25.67": "stiff|scarred", "M25.77": "spur",
    "M25.87": "impingement|sinus tarsi|subtalar|behind the ankle|sesamoid|big-toe joint",
    "M65": "synov|impingement|big-toe joint|sinus tarsi|subtalar|tend|flexor|behind the ankle",
    "M67.87": "synov", "M76.6": "achilles|tendon", "M76.7": "peroneal|tendon",
    "M76.82": "tibialis posterior|flat foot", "M77.3": "achilles",
    "M77.5": "calcaneoplasty|heel", "M86": "osteomyelitis", "M87.07": "necrosis of the talus",
    "M93.27": "tal(us|ar)|big-toe joint|subtalar", "M94.27": "subtalar", "S82": "fracture",
    "S86.01": "achilles|tendon", "S92.1": "talus", "S93.42": "deltoid", "S93.43": "syndesmosis",
    "Z79.01": "anticoagulant", "Z79.02": "antiplatelet", "Z91.04": "latex",
    "0LB": "achilles|tend|flexor", "0LN": "tend|flexor", "0MB": "calcaneoplasty",
    "0MQ": "ligament repair", "0QB": "calcaneoplasty|removal of bone", "0QH": "calcaneal fracture",
    "0S9": "washout", "0SBF": "ankle|impingement|spur|talus|talar|synovectomy",
    "0SBG": "ankle|impingement|spur|talus|talar|synovectomy", "0SBH": "sinus tarsi|subtalar",
    "0SBJ": "sinus tarsi|subtalar", "0SBM": "big-toe joint", "0SBN": "big-toe joint",
    "0SC": "loose bod|subtalar", "0SGF": "ankle", "0SGG": "ankle", "0SGH": "subtalar fusion",
    "0SGJ": "subtalar fusion", "0SJF": "stability test", "0SJG": "stability test",
    "0SJH": "calcaneal fracture", "0SJJ": "calcaneal fracture", "0SN": "scarred",
    "0SR": "replacement",
}  # fmt: skip


def carried(rulebook) -> Iterator[tuple[str, str, str]]:
    """Give (system, code, title of what carries it) for every code of the knowledge."""
    for option in rulebook.options.values():
        for system, codes in option.data.get("codes", {}).items():
            yield from ((system, code, option.title) for code in codes)
    for finding in rulebook.vocabulary:
        for system, codes in finding.codes.items():
            yield from ((system, code, finding.title) for code in codes)


def test_the_knowledge_carries_codes(rulebook, measured):
    codes = {(system, code) for system, code, _ in carried(rulebook)}
    systems = [system for system, _ in codes]
    counts = {system: systems.count(system) for system in sorted(set(systems))}
    measured(f"codes: {counts}")
    assert counts["icd-10-cm"] > 100
    assert counts["icd-10-pcs"] > 30


def test_every_diagnosis_code_is_a_leaf_that_may_be_billed(rulebook):
    icd = pytest.importorskip("simple_icd_10_cm", reason="simple-icd-10-cm is a package for tests")
    for system, code, title in carried(rulebook):
        if system == "icd-10-cm":
            assert icd.is_valid_item(code), (code, title)
            assert icd.is_leaf(code), (code, title)


def test_every_procedure_code_is_spelled_as_the_system_spells_them(rulebook):
    for system, code, title in carried(rulebook):
        if system == "icd-10-pcs":
            assert re.fullmatch(r"0[0-9A-HJ-NP-Z]{6}", code), (code, title)


def test_what_carries_a_code_is_what_its_category_speaks_of(rulebook):
    for _, code, title in carried(rulebook):
        fitting = [start for start in SPEAKS_OF if code.startswith(start)]
        assert fitting, code
        words = SPEAKS_OF[max(fitting, key=len)]
        assert re.search(words, title.lower()), (code, title)


def test_every_category_of_the_table_is_carried(rulebook):
    codes = {code for _, code, _ in carried(rulebook)}
    assert {
        start for start in SPEAKS_OF if not any(one.startswith(start) for one in codes)
    } == set()


@pytest.fixture(scope="module")
def listed() -> dict[tuple[str, str], str]:
    if not LISTED.exists():
        pytest.skip("the list of codes is outside data; ../shared/data is not there")
    lines = json.loads(LISTED.read_text())["codes"]
    return {(SYSTEMS[line["system"]], line["code"]): line["display"] for line in lines}


def test_every_code_stands_in_the_outside_list(rulebook, listed):
    for system, code, title in carried(rulebook):
        assert (system, code) in listed, (code, title)


def test_a_title_of_the_list_agrees_with_the_package(listed):
    icd = pytest.importorskip("simple_icd_10_cm", reason="simple-icd-10-cm is a package for tests")
    for (system, code), title in listed.items():
        if system == "icd-10-cm":
            assert icd.get_description(code).lower() == title.lower(), code


def test_a_code_of_the_toe_stands_only_with_the_toe(rulebook, listed):
    """The side of a code is in its title; the joint must be that of its bearer."""
    for _, code, title in carried(rulebook):
        told = next((said for (_, one), said in listed.items() if one == code), "").lower()
        if "toe joint" in told or "metatarsal-phalangeal" in told:
            assert "big-toe" in title, (code, title)
