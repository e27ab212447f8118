"""Does each number go to its own finding, with its unit, and is the rest listed as unread?"""

from __future__ import annotations

import pytest

TABLE = [
    ("ABPI 0.7", {"abpi 0.7"}),
    ("ABPI R 0.7, L 0.9", {"abpi right 0.7", "abpi left 0.9"}),
    ("ABPI 0.7 on the right and 0.9 on the left", {"abpi right 0.7", "abpi left 0.9"}),
    ("BMI 34", {"bmi 34 kg/m2"}),
    ("BMI of 34.2 kg/m\u00b2", {"bmi 34.2 kg/m2"}),
    ("Weight 80kg.", {"weight 80 kg"}),
    ("She weighs 80 kg, BMI 31.", {"weight 80 kg", "bmi 31 kg/m2"}),
    ("HbA1c 64 mmol/mol", {"hba1c 64 mmol/mol"}),
    ("HbA1c 8.1%", {"hba1c 8.1 %"}),
    ("Beighton 6/9", {"beighton 6"}),
    ("Beighton score 6 out of 9", {"beighton 6"}),
    ("Talar tilt angle 12", {"tilt-angle 12 deg"}),
    ("Talar tilt angle of 12\u00b0", {"tilt-angle 12 deg"}),
    ("Dorsiflexion 5 degrees on the right, 15 degrees on the left",
     {"dorsiflexion right 5 deg", "dorsiflexion left 15 deg"}),
    ("10 degrees of dorsiflexion", {"dorsiflexion 10 deg"}),
    ("Left ankle: dorsiflexion 5 deg (R 15 deg)",
     {"dorsiflexion left 5 deg", "dorsiflexion right 15 deg"}),
    ("Lesion 11 x 8 x 4 mm.",
     {"lesion present", "lesion-coronal 11 mm", "lesion-sagittal 8 mm", "lesion-depth 4 mm"}),
    ("Lesion measuring 1.1 x 0.8 cm.",
     {"lesion present", "lesion-coronal 1.1 cm", "lesion-sagittal 0.8 cm"}),
    ("Lesion with a depth of 5 mm.", {"lesion present", "lesion-depth 5 mm"}),
    ("A lump of 6 cm.", {"lump present", "lump-size 6 cm"}),
    ("A lump, 3 x 7 x 2 cm.", {"lump present", "lump-size 7 cm"}),
    # ages
    ("This 34-year-old man", {"age 34 a"}),
    ("aged 34", {"age 34 a"}),
    ("34 yo", {"age 34 a"}),
    ("34F with ankle pain", {"age 34 a", "pain present"}),
    ("He hurt it at the age of 12.", set()),
    ("Her 12-year-old son", set()),
    # times
    ("Symptoms for 6 weeks.", {"duration 6 wk"}),
    ("Ankle pain for 18/12.", {"pain present", "duration 18 mo"}),
    ("18-month history of ankle pain.", {"pain present", "duration 18 mo"}),
    ("Symptoms over the last 3 months.", {"duration 3 mo"}),
    ("Symptoms for a fortnight.", {"duration 2 wk"}),
    ("Symptoms for two years.", {"duration 2 a"}),
    ("Symptoms since March 2024.", {"duration 24 mo"}),
    ("Symptoms since 2023.", {"duration 27 mo"}),
    ("Twisted it 3/7 ago.", {"since-injury 3 d"}),
    ("A sprain three weeks ago.", {"since-injury 3 wk"}),
    ("Day 5 post injury", {"since-injury 5 d"}),
    ("A sprain on 20/02/2026.", {"since-injury 10 d"}),
    ("12 weeks of physiotherapy", {"physio 12 wk"}),
    ("physio 12/52", {"physio 12 wk"}),
    ("Diabetes (HbA1c 9.1%), an ankle fracture in 2020.",
     {"diabetes present", "hba1c 9.1 %", "fracture present historical", "old-fracture present"}),
    ("A sprain two years ago.", {"since-injury 2 a"}),
    ("Previous BMI 40.", {"bmi 40 kg/m2 historical"}),
    ("Physio, with relief for 4 weeks.", set()),
    ("PMH: diabetes, HbA1c 58 mmol/mol", {"hba1c 58 mmol/mol", "diabetes present"}),
    ("Ankle pain for 6 months, physio for 12 weeks after a sprain 8 months ago.",
     {"pain present", "duration 6 mo", "physio 12 wk", "since-injury 8 mo"}),
    ("Symptoms for over 6 months.", {"duration 6 mo uncertain"}),
]  # fmt: skip
UNREAD = [
    ("HbA1c 64", "hba1c", "a number without its unit"),
    ("Symptoms for 2-3 weeks.", "duration", "a range or a vague time, no single value"),
    ("Symptoms for several months.", "duration", "a range or a vague time, no single value"),
    ("Symptoms for years.", "duration", "a range or a vague time, no single value"),
    ("Lesion 90 x 8 mm.", "lesion-coronal", "outside what is plausible"),
    ("ABPI 7", "abpi", "outside what is plausible"),
    ("Beighton 6/10", "beighton", "a score out of another number"),
]
NOT_MEASURES = [
    "Prednisolone 20 mg for 5 days.",
    "BP 120/80.",
    "Pain score 7/10.",
    "Physio 24/7.",
    "Seen on 03/12/2025.",
    "Telephone 01632 960123.",
]


@pytest.mark.parametrize(("text", "expected"), TABLE, ids=[text for text, _ in TABLE])
def test_a_number_goes_to_its_own_finding(said, text, expected):
    assert said(text) == expected


@pytest.mark.parametrize(("text", "finding", "why"), UNREAD, ids=[row[0] for row in UNREAD])
def test_what_is_no_single_plausible_value_is_listed_and_not_read(read, text, finding, why):
    letter = read(text)
    assert finding not in {one.finding for one in letter.mentions}
    assert (finding, why) in {(one.finding, one.why) for one in letter.not_understood}


@pytest.mark.parametrize("text", NOT_MEASURES)
def test_doses_dates_and_other_numbers_measure_nothing(read, text):
    numeric = {one.finding for one in read(text).mentions} - {"prednisolone", "pain"}
    assert numeric == set()


def test_a_year_needs_the_letters_date(lexicon):
    from plafond.intake.letter import read_letter

    letter = read_letter("Symptoms since 2023.", lexicon)
    assert letter.mentions == ()
    assert [one.finding for one in letter.not_understood] == ["duration"]


def test_the_letters_own_date_is_taken_from_its_head(lexicon):
    from plafond.intake.letter import read_letter

    letter = read_letter("DOB 01/02/1980\n2 March 2026\n\nSymptoms since 2023.", lexicon)
    assert letter.written == "2026-03-02"
    assert [one.value for one in letter.mentions] == ["27 mo"]
