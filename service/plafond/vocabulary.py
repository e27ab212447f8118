"""The closed list of findings: what can be known about a patient, and how it is written.

Gives the definition of each finding (kind, side, unit, plausible range, question) and reads a
raw value against it. Knows no patient and no rule.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property

from rapidfuzz import fuzz, process

from plafond.errors import NotKnownError, QuantityError
from plafond.quantities import (
    UNITS,
    Quantity,
    hba1c_mmol_mol,
    plain,
    read_quantity,
    unit_code,
    units_of_dimension,
)

#: A value as rules compare it: a choice or present/absent as text; a number in the base unit of
#: its dimension (minutes, millimetres, ...), so that nothing is lost to conversion.
Value = str | Decimal

KINDS = ("presence", "choice", "quantity", "count")
FORMULAS = (
    "ellipse-area",
    "body-mass-index",
    "ratio",
    "side-difference",
)


@dataclass(frozen=True, slots=True)
class Computed:
    """How a quantity that nobody recorded is worked out from others that somebody did."""

    formula: str
    inputs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Measure:
    """How a letter gives a number: how a time is said, beside which words, without a unit or not.

    `times` are ways to say a time (for, history, since, ago, after, of); `beside` are words one
    of which stands in the same clause, where the finding's own phrases would be too narrow.
    """

    times: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    bare: bool = False


@dataclass(frozen=True, slots=True)
class Wording:
    """How letters speak of one finding, beyond its phrases; see `knowledge/README.md`."""

    at: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    variants: tuple[str, ...] = ()
    abbreviations: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    not_in: tuple[str, ...] = ()
    near: tuple[str, ...] = ()
    not_near: tuple[str, ...] = ()
    results: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    says: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    chronic: bool = False
    past: str = ""
    dimensions: tuple[str, ...] = ()
    largest: str = ""
    measure: Measure = field(default_factory=Measure)
    exact: bool = False
    few_words: str = ""


@dataclass(frozen=True, slots=True)
class Definition:
    """What one finding is: its kind, side, values or unit, and the question a form asks."""

    id: str
    title: str
    kind: str
    sided: bool
    group: str
    question: str = ""
    values: tuple[str, ...] = ()
    unit: str = ""
    low: Decimal = Decimal(0)
    high: Decimal = Decimal(0)
    derived: bool = False
    computed: Computed | None = None
    converts: str = ""
    phrases: tuple[str, ...] = ()
    letter: Wording = field(default_factory=Wording)
    codes: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def numeric(self) -> bool:
        """Say whether values of this finding are compared as numbers."""
        return self.kind in ("quantity", "count")

    @property
    def units(self) -> tuple[str, ...]:
        """Return the UCUM units a value may be given in, the finding's own first."""
        if self.kind != "quantity":
            return ()
        others = [unit for unit in units_of_dimension(self.unit) if unit != self.unit]
        return (self.unit, *others, *(("%",) if self.converts == "hba1c" else ()))

    def show(self, value: Value) -> str:
        """Return a value in this finding's own unit, for a reader; numbers to four decimals."""
        if isinstance(value, str):
            return value
        if self.kind == "count":
            return plain(value)
        return str(Quantity(round(self.from_base(value), 4), self.unit))

    def from_base(self, value: Decimal) -> Decimal:
        """Return a number of base units in this finding's own unit."""
        return value / UNITS[self.unit][1] if self.unit else value

    def to_base(self, value: Decimal) -> Decimal:
        """Return a number of this finding's own unit in base units, exactly."""
        return value * UNITS[self.unit][1] if self.unit else value

    def allowed(self) -> str:
        """Say in words what a value of this finding looks like."""
        if not self.numeric:
            return " or ".join(self.values)
        whole = "a whole number " if self.kind == "count" else ""
        low = plain(self.from_base(self.low))
        return f"{whole}from {low} to {self.show(self.high)}"

    def read(self, raw: object) -> Value:
        """Read a raw value: text, a whole number, or {"value": n, "unit": u}.

        Returns the value rules compare. Raises QuantityError, naming what is expected, for a
        wrong kind, an unknown choice, a wrong unit, or a value outside the plausible range.
        """
        match self.kind:
            case "presence" | "choice":
                return self._read_choice(raw)
            case "count":
                return self._in_range(self._read_count(raw), raw)
            case _:
                return self._in_range(self.base_of(_as_quantity(raw, self)), raw)

    def base_of(self, quantity: Quantity) -> Decimal:
        """Return a quantity in base units; HbA1c may come in % (NGSP).

        Raises QuantityError for a unit of another dimension.
        """
        if self.converts == "hba1c" and quantity.unit == "%":
            return hba1c_mmol_mol(quantity.value)
        quantity.to(self.unit)  # raises where the dimensions differ
        return quantity.base

    def _read_choice(self, raw: object) -> str:
        if isinstance(raw, str) and raw in self.values:
            return raw
        raise QuantityError(
            f"{_say(raw)} is not an answer to {self.id}", found=_say(raw), expected=self.allowed()
        )

    def _read_count(self, raw: object) -> Decimal:
        whole = isinstance(raw, int) or (
            isinstance(raw, Decimal) and raw.is_finite() and raw == int(raw)
        )
        if isinstance(raw, bool) or not isinstance(raw, int | Decimal) or not whole:
            raise QuantityError(f"{self.id} is counted", found=_say(raw), expected=self.allowed())
        return Decimal(raw)

    def _in_range(self, value: Decimal, raw: object) -> Decimal:
        if not self.low <= value <= self.high:
            raise QuantityError(
                f"{_say(raw)} is not plausible for {self.id}",
                found=_say(raw),
                expected=self.allowed(),
            )
        return value


def _as_quantity(raw: object, definition: Definition) -> Quantity:
    if isinstance(raw, str):
        quantity = read_quantity(raw)
        bare = quantity.unit == "1" and not raw.rstrip().endswith(" 1")
        if bare and definition.unit != "1":
            raise QuantityError(
                "a number needs its unit",
                found=_say(raw),
                expected=f"a unit such as {definition.unit}",
            )
        return quantity
    if isinstance(raw, Mapping) and set(raw) == {"value", "unit"}:
        value, unit = raw["value"], raw["unit"]
        if isinstance(value, int | Decimal) and not isinstance(value, bool):
            if not isinstance(unit, str):
                raise QuantityError("a unit is text", found=_say(unit), expected=definition.unit)
            return Quantity(_bounded(Decimal(value)), unit_code(unit))
    raise QuantityError(
        f"{definition.id} is a quantity",
        found=_say(raw),
        expected=f'a number with its unit, such as "{definition.show(definition.high)}"',
    )


def written(raw: object) -> str:
    """Return a raw value as it was written, on one line: `12 wk`, `positive`, `5`."""
    if isinstance(raw, Mapping):
        return f"{plain(_bounded(Decimal(raw['value'])))} {' '.join(raw['unit'].split())}"
    return plain(raw) if isinstance(raw, Decimal) else " ".join(str(raw).split())


def _bounded(value: Decimal) -> Decimal:
    if not value.is_finite() or abs(value) >= Decimal(10) ** 9:
        raise QuantityError("not a plausible number", found=str(value)[:24], expected="below 10^9")
    return round(value, 6) + 0  # a sum is never minus zero


def _say(raw: object) -> str:
    text = plain(raw) if isinstance(raw, Decimal) and abs(raw.adjusted()) < 12 else str(raw)
    return repr(text[:40]) if isinstance(raw, str) else text[:40]


class Vocabulary:
    """The closed list of findings, by id."""

    def __init__(self, definitions: Mapping[str, Definition]) -> None:
        self._definitions = dict(sorted(definitions.items()))

    def __iter__(self) -> Iterator[Definition]:
        return iter(self._definitions.values())

    def __len__(self) -> int:
        return len(self._definitions)

    def __contains__(self, finding: object) -> bool:
        return finding in self._definitions

    def __getitem__(self, finding: str) -> Definition:
        """Return a definition; raises NotKnownError with the nearest known ids."""
        try:
            return self._definitions[finding]
        except KeyError:
            raise NotKnownError("finding", finding, self.nearest(finding)) from None

    def nearest(self, finding: str) -> tuple[str, ...]:
        """Return up to three known ids that look like this one."""
        return nearest(finding, self._definitions)

    @cached_property
    def computed(self) -> tuple[Definition, ...]:
        """Return the definitions whose value can be worked out from others."""
        return tuple(one for one in self if one.computed is not None)


def nearest(name: str, known: Mapping[str, object] | list[str]) -> tuple[str, ...]:
    """Return up to three of the known names that look like `name`, best first."""
    found = process.extract(name[:80], list(known), scorer=fuzz.WRatio, limit=3, score_cutoff=70)
    return tuple(str(match[0]) for match in found)


def is_unit(text: str) -> bool:
    """Say whether this is a UCUM code the service knows."""
    return text in UNITS
