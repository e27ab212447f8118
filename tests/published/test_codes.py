"""Is every code real, may it be billed, and does its title speak of what carries it?

ICD-10-CM of April 2026 as the package simple-icd-10-cm holds it (US government work), and a list of
207 codes of foot and ankle, ICD-10-CM and ICD-10-PCS, each with its title (outside data). What a
code may stand with is written here by its category, what its own title says too, and for each
operation what is done to which part, so that a slip of one character is seen. Our format has no
sides among codes: what is carried stands for the left and the right, so it needs both.
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
    "C40": "tumour", "C49": "tumour", "D6": "bleeding disorder|cause of an ankle synovitis",
    "E10.65": "diabetes", "E11.65": "diabetes", "E11.62": "diabetes|ulcer",
    "E10.61": "charcot", "E11.61": "charcot", "E10.42": "neuropathy", "E11.42": "neuropathy",
    "E11.51": "arterial",
    "G90.5": "regional pain", "I7": "arterial", "I70.22": "ischaemic",
    "L02.6": "deep infection of the foot", "L03.11": "portals", "M00": "septic",
    "M12.27": "giant cell|big-toe joint|synovectomy",
    "M12.57": "ankle (arthritis|fusion)|subtalar (fusion|joint:)",
    "M14.67": "charcot", "M06.87": "synovectomy", "M36.2": "synovectomy", "M10.07": "big-toe",
    "M19": "ankle (arthritis|fusion)|arthritic ankle|subtalar (fusion|joint:)",
    "M20.2": "hallux rigidus|big-toe joint", "M21": "flat foot", "M24.07": "loose bod",
    "M24.27": "syndesmo", "M24.57": "calf|gastrocnemius|scarred|stiff",
    "M24.67": "arthrofibrosis|scarred|stiff",
    "M25.07": "bleeding into|cause of an ankle synovitis",
    "M25.37": "giving way|ligament|rehabilitation", "M25.57": "ankle pain",
    "M25.67": "stiff|scarred", "M25.77": "spur",
    "M25.87": "impingement|sinus tarsi|debridement of the subtalar|behind the ankle",
    "M65": "synovitis|synovectomy|soft.tissue|debridement of the (big-toe|sinus tarsi"
    "|subtalar)|flexor hallucis|tibialis anterior",
    "M67.87": "synovitis|synovectomy", "M76.6": "achilles (tendon|insertion)|open tendon",
    "M76.7": "peroneal|open tendon", "M76.82": "tibialis posterior|flat foot",
    "M77.3": "achilles insertion", "M77.5": "calcaneoplasty|heel", "M86": "osteomyelitis",
    "M87.07": "necrosis of the talus",
    "M93.27": "lesion of the talus|talar (lesion|fragment)|stimulation of the talus|big-toe joint",
    "M94.27": "debridement of the subtalar", "S82": "ankle fracture|fracture of the ankle",
    "S86.01": "achilles rupture|open tendon", "S86.31": "peroneal", "S92.06": "calcaneal fracture",
    "S92.1": "talus", "S93.42": "deltoid",
    "S93.43": "syndesmosis", "Z79.01": "anticoagulant", "Z79.02": "antiplatelet",
    "Z91.04": "latex", "0LB": "achilles|tend|flexor", "0LN": "tend|flexor",
    "0MB": "calcaneoplasty", "0MQ": "ligament repair", "0QB": "calcaneoplasty|removal of bone",
    "0QH": "calcaneal fracture", "0S9": "washout",
    "0SBF": "ankle|impingement|spur|talus|talar|synovectomy",
    "0SBG": "ankle|impingement|spur|talus|talar|synovectomy", "0SBH": "sinus tarsi|subtalar",
    "0SBJ": "sinus tarsi|subtalar", "0SBM": "big-toe joint", "0SBN": "big-toe joint",
    "0SC": "loose bod|subtalar", "0SGF": "ankle", "0SGG": "ankle", "0SGH": "subtalar fusion",
    "0SGJ": "subtalar fusion", "0SJF": "stability test", "0SJG": "stability test",
    "0SJH": "calcaneal fracture", "0SJJ": "calcaneal fracture", "0SN": "scarred",
    "0SR": "replacement",
}  # fmt: skip
#: The beginning of a diagnosis code, and words of which its own title holds one. The longest fits.
CALLED = {
    "C40": "neoplasm of short bones", "C49": "neoplasm of connective and soft tissue",
    "D6": "factor (viii|ix) deficiency|willebrand|thrombocytopenia", "E1": "diabetes",
    "E10.61": "neuropathic arthropathy", "E11.51": "angiopathy",
    "E11.61": "neuropathic arthropathy", "E11.62": "foot ulcer", "G90.5": "regional pain",
    "I7": "vascular disease|atherosclerosis", "I70.22": "rest pain", "L02.6": "abscess of .* foot",
    "L03.11": "cellulitis of .* lower limb", "M00": "arthritis", "M12.27": "villonodular",
    "M12.57": "traumatic arthropathy", "M14.67": "charc", "M19": "osteoarthritis",
    "M20.2": "hallux rigidus", "M21.0": "valgus", "M21.4": "flat foot", "M24.07": "loose body",
    "M24.27": "disorder of ligament", "M24.57": "contracture", "M24.67": "ankylosis",
    "M25.07": "hemarthrosis", "M25.37": "instability", "M25.57": "pain", "M25.67": "stiffness",
    "M25.77": "osteophyte", "M25.87": "joint disorders", "M65": "synovitis",
    "M67.87": "disorders of synovium", "M76.6": "achilles", "M76.7": "peroneal",
    "M76.82": "posterior tibial", "M77.3": "calcaneal spur", "M77.5": "enthesopathy",
    "M86": "osteomyelitis", "M87.07": "aseptic necrosis of .* ankle",
    "M93.27": "osteochondritis dissecans", "M94.27": "chondromalacia",
    "S82.5": "medial malleolus", "S82.6": "lateral malleolus", "S86.31": "peroneal",
    "S92.06": "calcaneus", "M06.87": "rheumatoid", "M36.2": "hemophilic", "M10.07": "gout",
    "E10.42": "polyneuropathy", "E11.42": "polyneuropathy",
    "S82.84": "bimalleolar", "S86.01": "achilles",
    "S92.1": "fracture of .* talus", "S93.42": "deltoid", "S93.43": "tibiofibular",
    "Z79.01": "anticoagulants", "Z79.02": "antiplatelets", "Z91.04": "latex",
}  # fmt: skip
#: What each option's procedure codes are called, without the side and the approach.
DONE = {
    "ankle-arthritis-alternatives": "(fusion|replacement) of ankle joint with .*",
    "ankle-arthritis-debridement": "excision of ankle joint",
    "ankle-arthrofibrosis-release": "release ankle joint",
    "ankle-arthroscopic-fusion": "fusion of ankle joint with .*",
    "ankle-bony-impingement-resection": "excision of ankle joint",
    "ankle-lateral-ligament-repair": "repair ankle bursa and ligament",
    "ankle-loose-body-removal": "extirpation of matter from ankle joint",
    "ankle-septic-washout": "drainage of ankle joint",
    "ankle-soft-tissue-impingement-debridement": "excision of ankle joint",
    "ankle-synovectomy": "excision of ankle joint",
    "calcaneal-fracture-alternatives": "insertion of internal fixation device into tarsal",
    "calcaneal-fracture-arthroscopic-reduction": "inspection of tarsal joint",
    "calcaneoplasty": "excision of (tarsal|ankle bursa and ligament)",
    "fhl-release": "(release|excision of) ankle tendon",
    "first-mtp-arthroscopic-debridement": "excision of metatarsal-phalangeal joint",
    "first-mtp-loose-body-or-lesion": "(extirpation of matter from|excision of) metatarsal-phal.*",
    "peroneal-tendoscopy": "(release|excision of) ankle tendon",
    "posterior-ankle-bony-impingement-excision": "excision of tarsal",
    "posterior-ankle-soft-tissue-debridement": "excision of ankle joint",
    "posterior-loose-body-removal": "extirpation of matter from (ankle|tarsal) joint",
    "posterior-talar-lesion-treatment": "excision of ankle joint",
    "sinus-tarsi-debridement": "excision of tarsal joint",
    "subtalar-arthroscopic-debridement": "(excision of|extirpation of matter from) tarsal joint",
    "subtalar-arthroscopic-fusion": "fusion of tarsal joint with .*",
    "syndesmosis-acute-arthroscopic-assessment": "inspection of ankle joint",
    "syndesmosis-arthroscopic-assessment": "inspection of ankle joint",
    "syndesmosis-impingement-debridement": "excision of ankle joint",
    "tibialis-anterior-tendoscopy": "excision of ankle tendon",
    "tibialis-posterior-tendoscopy": "(release|excision of) ankle tendon",
}


def bearers(rulebook) -> Iterator[tuple[str, str, str, list[tuple[str, str]]]]:
    """Give (id, title, side if it has one, its codes) for all that carries codes."""
    for option in rulebook.options.values():
        yield option.id, option.title, "", pairs(option.data.get("codes", {}))
    for finding in rulebook.vocabulary:
        side = "sided" if finding.sided else "person"
        yield finding.id, finding.title, side, pairs(finding.codes)


def pairs(codes) -> list[tuple[str, str]]:
    return [(system, code) for system, listed in codes.items() for code in listed]


def carried(rulebook) -> Iterator[tuple[str, str, str]]:
    """Give (system, code, title of what carries it) for every code of the knowledge."""
    for _, title, _, codes in bearers(rulebook):
        yield from ((system, code, title) for system, code in codes)


def other_side(title: str) -> str:
    """Return a title with its sides changed; one that names no side comes back as it was."""
    swap = {"right": "left", "left": "right"}
    return re.sub(r"\b(right|left)\b", lambda found: swap[found[0]], title.lower())


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


def test_a_diagnosis_code_is_called_what_its_category_speaks_of(rulebook):
    """The two tables meet: what carries a code, and what the code is called."""
    icd = pytest.importorskip("simple_icd_10_cm", reason="simple-icd-10-cm is a package for tests")
    for system, code, _ in carried(rulebook):
        if system == "icd-10-cm":
            fitting = [start for start in CALLED if code.startswith(start)]
            assert fitting, code
            words = CALLED[max(fitting, key=len)]
            assert re.search(words, icd.get_description(code).lower()), code


def test_no_code_stands_twice_with_one_bearer(rulebook):
    for name, _, _, codes in bearers(rulebook):
        assert len(codes) == len(set(codes)), name


@pytest.mark.parametrize("table", [SPEAKS_OF, CALLED], ids=["bearers", "titles"])
def test_every_category_of_the_table_is_carried(rulebook, table):
    codes = {code for _, code, _ in carried(rulebook)}
    assert {start for start in table if not any(one.startswith(start) for one in codes)} == set()


def test_every_option_with_a_procedure_code_says_what_is_done(rulebook):
    coded = {
        name
        for name, _, _, codes in bearers(rulebook)
        if any(system == "icd-10-pcs" for system, _ in codes)
    }
    assert coded == set(DONE)


@pytest.fixture(scope="module")
def listed() -> dict[tuple[str, str], str]:
    if not LISTED.exists():
        pytest.skip("the list of codes is outside data; ../shared/data is not there")
    lines = json.loads(LISTED.read_text())["codes"]
    return {(SYSTEMS[line["system"]], line["code"]): line["display"] for line in lines}


@pytest.fixture(scope="module")
def titled(rulebook, listed) -> dict[tuple[str, str], str]:
    """The titles of the list, and of the diagnosis codes that only the package has."""
    icd = pytest.importorskip("simple_icd_10_cm", reason="simple-icd-10-cm is a package for tests")
    more = {
        (system, code): icd.get_description(code)
        for system, code, _ in carried(rulebook)
        if system == "icd-10-cm"
    }
    return more | listed


def test_every_procedure_code_stands_in_the_outside_list(rulebook, listed):
    for system, code, title in carried(rulebook):
        assert system == "icd-10-cm" or (system, code) in listed, (code, title)


def test_most_diagnosis_codes_stand_in_the_outside_list(rulebook, listed):
    """The rest are the other side of one that does, or were looked up in the package."""
    codes = {code for system, code, _ in carried(rulebook) if system == "icd-10-cm"}
    outside = {code for code in codes if ("icd-10-cm", code) not in listed}
    assert len(outside) < len(codes) / 5


def test_what_is_done_is_what_the_procedure_code_says(rulebook, titled):
    for name, _, _, codes in bearers(rulebook):
        for system, code in codes:
            if system == "icd-10-pcs":
                said = re.sub(r"\b(right|left) ", "", titled[system, code].lower())
                assert re.fullmatch(DONE[name], said.split(",")[0]), (name, code, said)


def test_an_arthroscopic_option_is_coded_through_the_scope_and_no_other_is(rulebook, titled):
    for name, _, _, codes in bearers(rulebook):
        for system, code in codes:
            if system == "icd-10-pcs":
                scoped = "percutaneous endoscopic approach" in titled[system, code].lower()
                assert scoped == ("arthroscopic" in rulebook.options[name].traits), (name, code)


def test_a_code_of_one_side_stands_with_that_of_the_other(rulebook, titled):
    """Where the list has both; of some it has the right side alone."""
    coded = {(system, title.lower()): code for (system, code), title in titled.items()}
    seen = 0
    for name, _, _, codes in bearers(rulebook):
        for system, code in codes:
            title = titled[system, code].lower()
            other = coded.get((system, other_side(title)))
            if other_side(title) != title and other is not None:
                seen += 1
                assert (system, other) in codes, (name, code, other)
    assert seen > 100


def test_a_finding_of_the_person_carries_no_code_of_a_side(rulebook, titled):
    for name, _, side, codes in bearers(rulebook):
        for system, code in codes:
            title = titled[system, code].lower()
            assert side != "person" or other_side(title) == title, (name, code)


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
