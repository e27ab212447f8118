"""Do numbers and their units read, convert and print exactly?"""

from __future__ import annotations

from decimal import Decimal

import pytest

from plafond.errors import QuantityError
from plafond.quantities import (
    SPELLINGS,
    UNITS,
    Quantity,
    body_mass_index,
    ellipse_area,
    hba1c_mmol_mol,
    hba1c_percent,
    plain,
    ratio,
    read_quantity,
    unit_code,
    units_of_dimension,
)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("12 mm", "12", "mm"),
        ("12mm", "12", "mm"),
        ("  12   mm ", "12", "mm"),
        ("-3 deg", "-3", "deg"),
        ("107.4 mm2", "107.4", "mm2"),
        ("107.4 mm²", "107.4", "mm2"),
        ("6 months", "6", "mo"),
        ("6 Months", "6", "mo"),
        ("1 year", "1", "a"),
        ("140 mmHg", "140", "mm[Hg]"),
        ("36.6 °C", "36.6", "Cel"),
        ("30°", "30", "deg"),
        ("7.5 %", "7.5", "%"),
        ("7.5 per cent", "7.5", "%"),
        ("12 10*3/uL", "12", "10*3/uL"),
        ("12 10*9/L", "12", "10*3/uL"),
        ("12 x10*9/L", "12", "10*3/uL"),
        ("50000 /mm3", "50000", "/mm3"),
        ("0.9", "0.9", "1"),
        ("0.9 1", "0.9", "1"),
        ("80 µmol/L", "80", "umol/L"),
        ("0 wk", "0", "wk"),
        ("999999999.999999 d", "999999999.999999", "d"),
    ],
)
def test_a_quantity_is_read(text, value, unit):
    assert read_quantity(text) == Quantity(Decimal(value), unit)


@pytest.mark.parametrize(
    "text",
    [
        "", "mm", "twelve mm", "1,5 mm", "1.5.2 mm", ".5 mm", "5. mm", "+5 mm", "--5 mm", "1e3 mm",
        "1 000 mm", "0x10 mm", "1/2 mm", "5 mm or so", "> 5 mm", "5 - 7 mm", "5 furlongs",
        "5 MM HG", "NaN mm", "Infinity mm", "12.1234567 mm", "1234567890 mm", "\uff15 mm",
        "5\nmm2\n3 mm",
    ],
)  # fmt: skip
def test_what_is_no_quantity_is_refused_and_quoted(text):
    with pytest.raises(QuantityError) as caught:
        read_quantity(text)
    assert caught.value.expected
    assert caught.value.found


def test_an_unknown_unit_is_named_with_the_known_ones():
    with pytest.raises(QuantityError, match=r"'furlongs' is not known.*one of min, h, d"):
        read_quantity("5 furlongs")


@pytest.mark.parametrize("spelling", sorted(SPELLINGS))
def test_every_spelling_means_a_unit_of_the_table(spelling):
    assert unit_code(spelling) == unit_code(spelling.upper() if spelling.isascii() else spelling)
    assert SPELLINGS[spelling] in UNITS


@pytest.mark.parametrize(
    ("number", "unit", "other", "expected"),
    [
        ("6", "mo", "d", "182.625"),
        ("1", "a", "d", "365.25"),
        ("1", "a", "mo", "12"),
        ("2", "wk", "d", "14"),
        ("26", "wk", "d", "182"),
        ("1", "d", "h", "24"),
        ("1", "h", "min", "60"),
        ("3", "cm", "mm", "30"),
        ("1.74", "m", "cm", "174"),
        ("1.5", "cm2", "mm2", "150"),
        ("500", "g", "kg", "0.5"),
        ("50000", "/mm3", "10*3/uL", "50"),
        ("2", "g/L", "mg/L", "2000"),
        ("80", "umol/L", "mmol/L", "0.08"),
        ("85", "%", "1", "0.85"),
        ("7", "mm", "mm", "7"),
    ],
)
def test_a_quantity_turns_into_another_unit_and_back(number, unit, other, expected):
    there = Quantity(Decimal(number), unit).to(other)
    assert there == Quantity(Decimal(expected), other)
    assert there.to(unit) == Quantity(Decimal(number), unit)


@pytest.mark.parametrize(
    ("one", "same"),
    [
        ("26 wk", "182 d"), ("60 min", "1 h"), ("24 h", "1 d"), ("12 mo", "1 a"),
        ("1440 min", "1 d"), ("10 mm", "1 cm"), ("100 mm2", "1 cm2"), ("7 d", "1 wk"),
        ("1000 g", "1 kg"),
        ("1000 /mm3", "1 10*9/L"), ("50 %", "0.5"), ("6 mo", "182.625 d"),
    ],
)  # fmt: skip
def test_equal_quantities_are_equal_in_base_units_whatever_they_are_written_in(one, same):
    """A limit of 60 minutes has to be reached by one hour, not almost."""
    assert read_quantity(one).base == read_quantity(same).base


@pytest.mark.parametrize(
    ("one", "less"), [("26 wk", "181.999999 d"), ("1 h", "59.9 min"), ("6 mo", "26 wk")]
)
def test_what_is_a_little_less_is_less(one, less):
    assert read_quantity(less).base < read_quantity(one).base


def test_quantities_of_another_dimension_do_not_turn_into_each_other():
    with pytest.raises(
        QuantityError, match=r"mm is a unit of length, not of time.*3 mm.*such as wk"
    ):
        Quantity(Decimal(3), "mm").to("wk")


def test_a_body_mass_index_is_no_mass_and_a_ratio_is_no_amount_fraction():
    assert "kg" not in units_of_dimension("kg/m2")
    assert units_of_dimension("1") == ("%", "1")
    assert units_of_dimension("mmol/mol") == ("mmol/mol",)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("12", "12"), ("12.50", "12.5"), ("12.0", "12"), ("100", "100"), ("1E+2", "100"),
        ("0", "0"), ("0.000", "0"), ("-1.10", "-1.1"), ("1E-6", "0.000001"), ("120", "120"),
    ],
)  # fmt: skip
def test_a_number_is_written_as_a_reader_writes_it(value, text):
    assert plain(Decimal(value)) == text


@pytest.mark.parametrize(
    ("quantity", "text"),
    [(Quantity(Decimal("0.90"), "1"), "0.9"), (Quantity(Decimal("12.0"), "mm"), "12 mm")],
)
def test_a_quantity_is_written_with_its_unit_and_a_ratio_without(quantity, text):
    assert str(quantity) == text


@pytest.mark.parametrize("percent", range(40, 150))
def test_hba1c_in_per_cent_comes_back_from_mmol_mol(percent):
    exact = Decimal(percent) / 10
    assert hba1c_percent(hba1c_mmol_mol(exact)) == exact


def test_an_area_an_index_and_a_ratio_are_rounded_half_up_to_hundredths():
    assert ellipse_area(Decimal(2), Decimal(2)) == Decimal("3.14")
    assert ellipse_area(Decimal("11.0"), Decimal("13.9")) == Decimal("120.09")
    assert body_mass_index(Decimal(81), Decimal("1.8")) == Decimal("25.00")
    assert ratio(Decimal(85), Decimal(100)) == Decimal("0.85")
    assert ratio(Decimal(1), Decimal(8)) == Decimal("0.13")
