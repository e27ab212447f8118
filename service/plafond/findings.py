"""What is known about one patient: findings with their side, value and origin.

`Findings` is everything one document says. `Findings.known(side)` is what rules may use of it:
one value a finding, sides and quarrels sorted out, nothing invented. Knows no rule.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import Enum

from plafond.quantities import body_mass_index, ellipse_area, ratio
from plafond.vocabulary import Definition, Value, Vocabulary

SIDES = ("left", "right", "unspecified")
OPPOSITE = {"left": "right", "right": "left"}


class Truth(Enum):
    """The three answers of strong Kleene logic."""

    MET = "met"
    NOT_MET = "not-met"
    UNKNOWN = "unknown"

    @staticmethod
    def of(answer: bool | None) -> Truth:
        """Return the truth for true, false or nothing."""
        return Truth.UNKNOWN if answer is None else Truth.MET if answer else Truth.NOT_MET


@dataclass(frozen=True, slots=True)
class Origin:
    """Who said so: the place in the document, and the date it speaks of (ISO, or nothing)."""

    pointer: str
    on: str = ""
    how: str = "recorded"


@dataclass(frozen=True, slots=True)
class Finding:
    """One value of one finding of one side (left, right, unspecified or person).

    `value` is what rules compare, `shown` is the value as it was written. A record that is not
    `sure` ("query fracture") may raise what it points at, and settles nothing.
    """

    id: str
    side: str
    value: Value
    origin: Origin
    shown: str
    sure: bool = True


@dataclass(frozen=True, slots=True)
class Conflict:
    """Two or more records of one finding that disagree; the finding counts as unknown."""

    finding: str
    side: str
    records: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Known:
    """What rules may use of one side: one settled value a finding, and the quarrels beside it."""

    side: str
    values: Mapping[str, Value]
    records: Mapping[str, Finding]
    conflicts: tuple[Conflict, ...] = ()
    doubts: tuple[Finding, ...] = ()

    def raising(self, finding: str) -> tuple[Value, ...]:
        """Return every value that may raise something: the claims, and what is only doubted."""
        doubted = (record.value for record in self.doubts if record.id == finding)
        return (*self.claims(finding), *doubted)

    def claims(self, finding: str) -> tuple[Value, ...]:
        """Return every value somebody claims for a finding, the quarrelled ones too."""
        if finding in self.values:
            return (self.values[finding],)
        return tuple(
            record.value
            for conflict in self.conflicts
            if conflict.finding == finding
            for record in conflict.records
        )


@dataclass(frozen=True)
class Findings:
    """Everything one document says about one patient."""

    records: tuple[Finding, ...]
    reference: str = ""
    recorded: str = ""
    not_understood: tuple[str, ...] = field(default=())

    def sides(self) -> tuple[str, ...]:
        """Return the sides that anything is recorded of; `unspecified` where none is."""
        named = {record.side for record in self.records} - {"person"}
        return tuple(side for side in SIDES if side in named) or ("unspecified",)

    def known(self, side: str, vocabulary: Vocabulary) -> Known:
        """Return what rules may use of one side.

        The newest dated value of a finding stands over older ones. Values that disagree with
        nothing to choose between them make a conflict, and the finding stays unknown. Computed
        quantities fill in what nobody recorded.
        """
        settled, conflicts, doubts = _settle(self.records, side)
        person, person_conflicts, person_doubts = _settle(self.records, "person")
        other = _settle(self.records, OPPOSITE[side])[0] if side in OPPOSITE else {}
        settled |= person
        quarrels = (*conflicts, *person_conflicts)
        quarrelled = {conflict.finding for conflict in quarrels}
        for definition in vocabulary.computed:
            if definition.id not in settled and definition.id not in quarrelled:
                worked = compute(definition, settled, other, vocabulary)
                if worked is not None:
                    settled[definition.id] = _computed(definition, side, worked, settled)
        values = {name: record.value for name, record in settled.items()}
        return Known(side, values, settled, quarrels, (*doubts, *person_doubts))


def compute(
    definition: Definition,
    settled: Mapping[str, Finding],
    other: Mapping[str, Finding],
    vocabulary: Vocabulary,
) -> Decimal | None:
    """Work out a computed quantity, in base units, from both sides' records, or None.

    A result outside the finding's plausible range is not used.
    """
    computed = definition.computed
    assert computed is not None
    mine = [_number(settled.get(name), vocabulary[name]) for name in computed.inputs]
    numbers = [value for value in mine if value is not None]
    if len(numbers) < len(mine):
        return None
    result: Decimal
    match computed.formula:
        case "ellipse-area":
            result = ellipse_area(numbers[0], numbers[1])
        case "body-mass-index":
            result = body_mass_index(numbers[0], numbers[1])
        case "ratio":
            if not numbers[1]:
                return None
            result = ratio(numbers[0], numbers[1])
        case _:
            theirs = _number(other.get(computed.inputs[0]), vocabulary[computed.inputs[0]])
            if theirs is None:
                return None
            result = numbers[0] - theirs
    result = definition.to_base(result)
    return result if definition.low <= result <= definition.high else None


def _number(record: Finding | None, definition: Definition) -> Decimal | None:
    """Return a record's number in its finding's own unit."""
    if record is None or not isinstance(record.value, Decimal):
        return None
    return definition.from_base(record.value)


def _computed(
    definition: Definition, side: str, value: Decimal, settled: Mapping[str, Finding]
) -> Finding:
    assert definition.computed is not None
    inputs = [settled[name].origin.pointer for name in definition.computed.inputs]
    origin = Origin(" and ".join(inputs), how=f"computed by {definition.computed.formula}")
    return Finding(definition.id, side, value, origin, definition.show(value))


def _settle(
    records: Iterable[Finding], side: str
) -> tuple[dict[str, Finding], tuple[Conflict, ...], tuple[Finding, ...]]:
    """Return what is settled of one side, what is quarrelled over, and what is only doubted."""
    by_id: dict[str, list[Finding]] = {}
    for record in records:
        if record.side == side:
            by_id.setdefault(record.id, []).append(record)
    settled: dict[str, Finding] = {}
    conflicts: list[Conflict] = []
    doubts: list[Finding] = []
    for finding, claims in sorted(by_id.items()):
        standing = _newest(claims)
        sure = [record for record in standing if record.sure]
        if not sure:
            doubts += standing
        elif _quarrel(sure, standing):
            conflicts.append(Conflict(finding, side, tuple(standing)))
        else:
            settled[finding] = sure[0]
    return settled, tuple(conflicts), tuple(doubts)


def _quarrel(sure: list[Finding], standing: list[Finding]) -> bool:
    """Say whether records disagree.

    A doubt quarrels with what is sure, so that a plain "no" never closes what another sentence
    queries; a doubtful "absent" or "negative" quarrels with nothing.
    """
    values = {record.value for record in sure}
    doubted = {record.value for record in standing if not record.sure} - {"absent", "negative"}
    return len(values | doubted) > 1


def _newest(claims: list[Finding]) -> list[Finding]:
    """Return the claims that nothing newer replaces: the newest dated ones, and all undated."""
    dates = [record.origin.on for record in claims if record.origin.on]
    newest = max(dates, default="")
    return sorted(
        (record for record in claims if record.origin.on in ("", newest)),
        key=lambda record: record.origin.pointer,
    )
