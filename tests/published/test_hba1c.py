"""Is HbA1c converted by the master equation, and do the two tiers begin where bodies put them?

Sources. IFCC page, seen: NGSP = 0.0915 x IFCC + 2.15 and IFCC = 10.93 x NGSP - 23.5; whole mmol/mol
and one decimal of a per cent, half up (the rounding is a judgement: some printed tables make 59 of
7.5 %). Pairs: fact sheet on red flags, part 4.4; 4/20 to 10/86 stand in published quick tables.
69 mmol/mol (8.5 %): AAGBI 2015 and JBDS 2016, seen. 7.5 %: Cancienne 2017, seen. No body sets 8 %.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from plafond.errors import DocumentError
from plafond.quantities import hba1c_mmol_mol, hba1c_percent

OPTION = "ankle-bony-impingement-resection"
CAUTION, DEFER = "general.diabetes.hba1c-caution", "general.diabetes.hba1c-defer"

#: %, by the equation, mmol/mol.
TO_IFCC = [
    ("4.0", "20.22", 20), ("5.0", "31.15", 31), ("5.7", "38.80", 39), ("6.0", "42.08", 42),
    ("6.5", "47.545", 48), ("7.0", "53.01", 53), ("7.5", "58.475", 58), ("8.0", "63.94", 64),
    ("8.5", "69.405", 69), ("9.0", "74.87", 75), ("10.0", "85.80", 86), ("12.0", "107.66", 108),
]  # fmt: skip
#: mmol/mol, by the equation, %.
TO_NGSP = [
    (20, "3.980", "4.0"), (31, "4.987", "5.0"), (39, "5.719", "5.7"), (42, "5.993", "6.0"),
    (48, "6.542", "6.5"), (53, "7.000", "7.0"), (58, "7.457", "7.5"), (64, "8.006", "8.0"),
    (69, "8.464", "8.5"), (75, "9.013", "9.0"), (86, "10.019", "10.0"), (108, "12.032", "12.0"),
]  # fmt: skip
#: Pairs that quick tables print, and the one of anaesthetic texts.
QUICK = [(4, 20), (5, 31), ("5.7", 39), (6, 42), ("6.5", 48), (7, 53), (8, 64), (9, 75), (10, 86),
         ("8.5", 69)]  # fmt: skip

READY = {
    "anterior-ankle-pain": "present",
    "anterior-palpation-pain": "present",
    "anterior-spur": "present",
    "ankle-joint-space": "normal",
    "non-operative-treatment-duration": "4 mo",
    "diabetes": "present",
}


@pytest.mark.parametrize(
    ("percent", "raw", "mmol"), TO_IFCC, ids=[f"{row[0]} %" for row in TO_IFCC]
)
def test_a_per_cent_becomes_mmol_mol(percent, raw, mmol):
    """IFCC master equation (verified): 10.93 x NGSP - 23.5, half up."""
    exact = Decimal("10.93") * Decimal(percent) - Decimal("23.5")
    assert abs(exact - Decimal(raw)) <= Decimal("0.005"), "printed to two decimals at least"
    assert hba1c_mmol_mol(Decimal(percent)) == mmol


@pytest.mark.parametrize(
    ("mmol", "raw", "percent"), TO_NGSP, ids=[f"{row[0]} mmol/mol" for row in TO_NGSP]
)
def test_mmol_mol_become_a_per_cent(mmol, raw, percent):
    """IFCC master equation (verified): 0.0915 x IFCC + 2.15, half up."""
    exact = Decimal("0.0915") * mmol + Decimal("2.15")
    assert abs(exact - Decimal(raw)) <= Decimal("0.0005"), "printed to three decimals"
    assert hba1c_percent(Decimal(mmol)) == Decimal(percent)


@pytest.mark.parametrize(("percent", "mmol"), QUICK)
def test_a_pair_of_the_quick_tables_holds_both_ways(percent, mmol):
    """Published quick tables (secondary); 8.5/69 from anaesthetic texts (secondary)."""
    assert hba1c_mmol_mol(Decimal(percent)) == mmol
    assert hba1c_percent(Decimal(mmol)) == Decimal(percent)


#: (value, tier): none, caution, defer.
TIERS = [
    ("57 mmol/mol", set()),
    ("58 mmol/mol", {CAUTION}),
    ("68 mmol/mol", {CAUTION}),
    ("68.9 mmol/mol", {CAUTION}),
    ("69 mmol/mol", {DEFER}),
    ("70 mmol/mol", {DEFER}),
    ("7.4 %", set()),
    ("7.5 %", {CAUTION}),
    ("8.0 %", {CAUTION}),
    ("8.4 %", {CAUTION}),
    ("8.5 %", {DEFER}),
    ("8.6 %", {DEFER}),
]


@pytest.mark.parametrize(("value", "tier"), TIERS, ids=[row[0] for row in TIERS])
def test_the_tiers_begin_at_7_5_and_8_5_per_cent(tell, value, tier):
    """D-01. AAGBI 2015 and JBDS 2016: 69 mmol/mol (8.5 %); Cancienne 2017: 7.5 % (verified).

    Neither bars the operation: some patients cannot reach it, so 8.5 % is a relative reason.
    """
    told = tell(READY | {"hba1c": value})
    assert told.standing(OPTION) == "indicated"
    assert told.cautions(OPTION) == tier


def test_an_unrecorded_value_is_a_check_and_no_diabetes_needs_none(tell):
    """AAGBI 2015: the value decides. Nobody without diabetes is asked for it (judgement)."""
    unknown = tell(READY)
    assert unknown.cautions(OPTION) == set()
    assert {("relative", "hba1c"), ("caution", "hba1c")} <= unknown.checks(OPTION)
    without = tell(READY | {"diabetes": "absent"})
    assert "hba1c" not in {finding for _, finding in without.checks(OPTION)}


@pytest.mark.parametrize(
    "value", ["8.5", "64", 15, "18", "8.5 mmol/mol", "19 mmol/mol", "64 %", "69 %", "201 mmol/mol"]
)
def test_a_number_whose_unit_is_missing_or_cannot_be_meant_is_refused(tell, value):
    """Fact sheet 4.4 (judgement): 3 to 20 looks like %, 20 to 200 like mmol/mol; never guess."""
    with pytest.raises(DocumentError) as refusal:
        tell(READY | {"hba1c": value})
    (fault,) = refusal.value.faults
    assert fault.pointer == "/person/hba1c"
    assert "mmol/mol" in fault.expected
