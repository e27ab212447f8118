"""Is the body mass index worked out as kg over metres squared, and noted where papers note it?

Sources. Weight over height squared: common practice; rows: fact sheet on red flags, part 4.5. Notes
above 26 (Buda 2016, soft-tissue impingement), from 30 (Guiraud 2023, ligament repair) and from 40
(judgement). No body sets a limit that would bar an operation, and none does here.
"""

from __future__ import annotations

import pytest

from plafond.errors import DocumentError

FUSION = "ankle-arthroscopic-fusion"
VERY_HIGH = "general.anaesthesia.very-high-bmi"
READY = {
    "kellgren-lawrence-grade": "grade-4",
    "disabling-ankle-pain": "present",
    "non-operative-measures-failed": "present",
    "smoking": "never",
}

#: kg, m, kg/m2, what the class is called.
ROWS = [
    ("70 kg", "1.75 m", "22.86", "normal"),
    ("81 kg", "1.80 m", "25", "overweight, the border itself"),
    ("97.2 kg", "1.80 m", "30", "obese I, the border itself"),
    ("95 kg", "1.70 m", "32.87", "obese I"),
    ("120 kg", "1.75 m", "39.18", "obese II"),
    ("100 kg", "1.60 m", "39.06", "obese II"),
    ("122.5 kg", "1.75 m", "40", "obese III, the border itself"),
    ("129.6 kg", "1.80 m", "40", "obese III, the border itself"),
]


@pytest.mark.parametrize("row", ROWS, ids=[f"{row[0]} {row[1]}: {row[3]}" for row in ROWS])
def test_weight_and_height_make_the_index_and_40_is_noted(tell, row):
    """Fact sheet 4.5 (arithmetic); that 40 asks for a plan is a judgement and bars nothing."""
    weight, height, index, _ = row
    told = tell(READY | {"body-weight": weight, "body-height": height})
    (line,) = told.whole.understood["left"]["body-mass-index"]
    assert line["value"] == f"{index} kg/m2"
    assert line["how"] == "computed by body-mass-index"
    assert told.standing(FUSION) == "indicated"
    assert told.cautions(FUSION) == ({VERY_HIGH} if index == "40" else set())


@pytest.mark.parametrize(("index", "noted"), [("39.9", False), ("40", True), ("40.1", True)])
def test_a_recorded_index_is_noted_from_40(tell, index, noted):
    """Judgement: an anaesthetic plan from 40."""
    told = tell(READY | {"body-mass-index": f"{index} kg/m2"})
    assert (VERY_HIGH in told.cautions(FUSION)) is noted


def test_an_unrecorded_index_is_a_check(tell):
    told = tell(READY)
    assert told.cautions(FUSION) == set()
    assert ("caution", "body-mass-index") in told.checks(FUSION)


def test_a_body_mass_index_above_30_does_not_speak_against_a_fusion(tell):
    """Woods 2023 (284 arthroscopic fusions): above 30 did not matter (verified)."""
    assert tell(READY | {"body-mass-index": "35 kg/m2"}).cautions(FUSION) == set()


def test_a_height_in_centimetres_says_so(tell):
    """Fact sheet 4.5: 175 must not be read as metres. With its unit it is the same height."""
    told = tell(READY | {"body-weight": "70 kg", "body-height": "175 cm"})
    (line,) = told.whole.understood["left"]["body-mass-index"]
    assert line["value"] == "22.86 kg/m2"


@pytest.mark.parametrize("height", ["175", "175 m", 175, "1.75", "1.75 cm", "17.5 m"])
def test_a_height_without_its_unit_or_out_of_reason_is_refused(tell, height):
    """Fact sheet 4.5: an error, never an index of 0.0023."""
    with pytest.raises(DocumentError) as refusal:
        tell(READY | {"body-weight": "70 kg", "body-height": height})
    (fault,) = refusal.value.faults
    assert fault.pointer == "/person/body-height"
    assert " m" in fault.expected
