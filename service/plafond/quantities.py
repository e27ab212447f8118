"""Numbers with their units.

A number never travels without its UCUM unit. Values are `decimal.Decimal`, so that 107.4 mm2
is compared as written. Takes text, gives quantities; knows no finding and no rule.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from plafond.errors import QuantityError

#: UCUM code -> (dimension, factor to the dimension's base unit). Every factor is exact, so that a
#: quantity turned into base units compares as it was written: 26 wk is 182 d, not almost.
UNITS: dict[str, tuple[str, Decimal]] = {
    "min": ("time", Decimal(1)),
    "h": ("time", Decimal(60)),
    "d": ("time", Decimal(1440)),
    "wk": ("time", Decimal(7 * 1440)),
    "mo": ("time", Decimal(43830)),
    "a": ("time", Decimal(525960)),
    "mm": ("length", Decimal(1)),
    "cm": ("length", Decimal(10)),
    "m": ("length", Decimal(1000)),
    "mm2": ("area", Decimal(1)),
    "cm2": ("area", Decimal(100)),
    "deg": ("angle", Decimal(1)),
    "g": ("mass", Decimal("0.001")),
    "kg": ("mass", Decimal(1)),
    "kg/m2": ("body mass index", Decimal(1)),
    "mm[Hg]": ("pressure", Decimal(1)),
    "Cel": ("temperature", Decimal(1)),
    "N": ("force", Decimal(1)),
    "mg/L": ("mass concentration", Decimal(1)),
    "g/L": ("mass concentration", Decimal(1000)),
    "/mm3": ("cell count", Decimal("0.001")),
    "10*3/uL": ("cell count", Decimal(1)),
    "mmol/mol": ("amount fraction", Decimal(1)),
    "mmol/L": ("substance concentration", Decimal(1)),
    "umol/L": ("substance concentration", Decimal("0.001")),
    "%": ("ratio", Decimal("0.01")),
    "1": ("ratio", Decimal(1)),
}

#: Plain spellings that are understood, lower case.
SPELLINGS: dict[str, str] = {
    "minute": "min", "minutes": "min", "mins": "min",
    "hour": "h", "hours": "h", "hr": "h", "hrs": "h",
    "day": "d", "days": "d",
    "week": "wk", "weeks": "wk", "wks": "wk",
    "month": "mo", "months": "mo", "mos": "mo",
    "year": "a", "years": "a", "yr": "a", "yrs": "a", "y": "a",
    "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
    "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "mm^2": "mm2", "mm²": "mm2", "sq mm": "mm2",
    "cm^2": "cm2", "cm²": "cm2", "sq cm": "cm2",
    "degree": "deg", "degrees": "deg", "°": "deg",
    "kilogram": "kg", "kilograms": "kg", "kgs": "kg", "gram": "g", "grams": "g",
    "kg/m^2": "kg/m2", "kg/m²": "kg/m2",
    "mmhg": "mm[Hg]",
    "mmHg": "mm[Hg]",
    "c": "Cel", "°c": "Cel", "celsius": "Cel",
    "newton": "N", "newtons": "N", "n": "N",
    "mg/l": "mg/L", "g/l": "g/L",
    "mmol/l": "mmol/L", "umol/l": "umol/L", "µmol/l": "umol/L", "μmol/l": "umol/L",
    "10*9/l": "10*3/uL", "x10*9/l": "10*3/uL", "10^9/l": "10*3/uL",
    "percent": "%", "per cent": "%",
}  # fmt: skip

_QUANTITY = re.compile(
    r"(?P<number>-?[0-9]{1,9}(?:\.[0-9]{1,6})?)(?:\s*(?P<unit>[^\s\d.,-].*|1|10[*^].*))?"
)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value and its UCUM unit."""

    value: Decimal
    unit: str

    def __str__(self) -> str:
        return plain(self.value) if self.unit == "1" else f"{plain(self.value)} {self.unit}"

    @property
    def base(self) -> Decimal:
        """Return the number in the base unit of its dimension, exactly."""
        return self.value * UNITS[self.unit][1]

    def to(self, unit: str) -> Quantity:
        """Return this quantity in another unit of the same dimension.

        Raises QuantityError where the dimensions differ.
        """
        if unit == self.unit:
            return self
        mine, factor = UNITS[self.unit]
        theirs, other = UNITS[unit]
        if mine != theirs:
            raise QuantityError(
                f"{self.unit} is a unit of {mine}, not of {theirs}",
                found=str(self),
                expected=f"a unit of {theirs}, such as {unit}",
            )
        return Quantity(self.value * factor / other, unit)


def plain(value: Decimal) -> str:
    """Return a decimal as a reader writes it: no exponent, no trailing zeros."""
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def unit_code(text: str) -> str:
    """Return the UCUM code for a unit as written.

    Raises QuantityError for a unit that is not in the table.
    """
    word = text.strip()
    if word in UNITS:
        return word
    code = SPELLINGS.get(word.lower())
    if code is None:
        raise QuantityError(
            f"the unit {word[:24]!r} is not known",
            found=word[:24],
            expected="one of " + ", ".join(UNITS),
        )
    return code


def read_quantity(text: str) -> Quantity:
    """Read `12 mm`, `6 months`, `0.9 1` or (a ratio) `0.9`.

    Raises QuantityError for anything that is not a plain decimal numeral and a known unit.
    """
    match = _QUANTITY.fullmatch(text.strip())
    if match is None:
        raise QuantityError(
            "not a quantity", found=repr(text[:40]), expected="a number and a unit, such as 12 mm"
        )
    unit = match["unit"]
    return Quantity(Decimal(match["number"]), unit_code(unit) if unit is not None else "1")


def units_of_dimension(unit: str) -> tuple[str, ...]:
    """Return every UCUM code of the same dimension as `unit`."""
    dimension = UNITS[unit][0]
    return tuple(code for code, (other, _) in UNITS.items() if other == dimension)


def hba1c_mmol_mol(percent: Decimal) -> Decimal:
    """Return HbA1c in mmol/mol (IFCC) for a value in % (NGSP), as a whole number, half up.

    IFCC = 10.93 x NGSP - 23.5. Source: IFCC master equation (Hoelzel 2004).
    """
    return (Decimal("10.93") * percent - Decimal("23.5")).quantize(Decimal(1), ROUND_HALF_UP)


def hba1c_percent(mmol_mol: Decimal) -> Decimal:
    """Return HbA1c in % (NGSP) for a value in mmol/mol (IFCC), to one decimal, half up.

    NGSP = 0.0915 x IFCC + 2.15. Source: IFCC master equation (Hoelzel 2004).
    """
    exact = Decimal("0.0915") * mmol_mol + Decimal("2.15")
    return exact.quantize(Decimal("0.1"), ROUND_HALF_UP)


#: A quarter of pi, to more digits than any caliper.
QUARTER_PI = Decimal("0.78539816339744830961566084581987572")


def ellipse_area(length: Decimal, width: Decimal) -> Decimal:
    """Return the area in mm2 of an ellipse with these two diameters in mm, to 0.01 mm2."""
    return (QUARTER_PI * length * width).quantize(Decimal("0.01"), ROUND_HALF_UP)


def body_mass_index(weight: Decimal, height: Decimal) -> Decimal:
    """Return kg/m2 for a weight in kg and a height in m, to 0.01."""
    return (weight / (height * height)).quantize(Decimal("0.01"), ROUND_HALF_UP)


def ratio(first: Decimal, second: Decimal) -> Decimal:
    """Return first over second, to 0.01 (an ankle-brachial pressure index is read so)."""
    return (first / second).quantize(Decimal("0.01"), ROUND_HALF_UP)
