"""Makes findings and modifiers of the files of `vocabulary/` and `letters/`."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from plafond.quantities import UNITS
from plafond.rulebook.building import Build, validator
from plafond.rulebook.letters import (
    Modifier,
    misfits,
    modifier_schema,
    modifiers_of,
    wording_of,
)
from plafond.rulebook.schema import vocabulary_schema
from plafond.rulebook.strict_yaml import Source
from plafond.vocabulary import Computed, Definition, Vocabulary


def vocabulary_of(build: Build, files: list[Source]) -> Vocabulary:
    """Make the vocabulary of its files."""
    schema = validator(vocabulary_schema())
    definitions: dict[str, Definition] = {}
    for source in files:
        if not build.valid(source, schema):
            continue
        for name, data in source.data["findings"].items():
            pointer = f"/findings/{name}"
            if name in definitions:
                build.complain(source, pointer, f"{name} is already in another group")
            definition = _definition(build, source, pointer, name, data)
            if definition is not None:
                definitions[name] = definition
    return Vocabulary(definitions)


def _definition(
    build: Build, source: Source, pointer: str, name: str, data: Mapping[str, Any]
) -> Definition | None:
    kind = data["kind"]
    wanted = {"quantity": ["unit", "range"], "count": ["range"], "choice": ["values"]}
    missing = [key for key in wanted.get(kind, []) if key not in data]
    if not data.get("derived") and "question" not in data:
        missing.append("question")
    if missing:
        build.complain(source, pointer, f"{name} is a {kind} and needs {' and '.join(missing)}")
        return None
    low, high = _range(build, source, pointer, data)
    computed = data.get("computed")
    return Definition(
        id=name,
        title=data["title"],
        kind=kind,
        sided=data["side"] == "sided",
        group=source.data["group"],
        question=data.get("question", ""),
        values=("present", "absent") if kind == "presence" else tuple(data.get("values", ())),
        unit=data.get("unit", ""),
        low=low,
        high=high,
        derived=data.get("derived", False),
        computed=Computed(computed["formula"], tuple(computed["from"])) if computed else None,
        converts=data.get("converts", ""),
        phrases=tuple(data.get("phrases", ())),
        letter=wording_of(data.get("letter", {})),
        codes={system: tuple(codes) for system, codes in data.get("codes", {}).items()},
    )


def modifiers_in(build: Build, files: list[Source]) -> tuple[Modifier, ...]:
    """Make the modifiers of their files."""
    schema = validator(modifier_schema())
    return tuple(
        modifier
        for source in files
        if build.valid(source, schema)
        for modifier in modifiers_of(source.data)
    )


def check_wordings(
    build: Build, files: list[Source], vocabulary: Vocabulary, modifiers: tuple[Modifier, ...]
) -> None:
    """Complain of whatever a wording names that does not exist."""
    parts = frozenset(one.says for one in modifiers if one.does == "part")
    for source in files:
        for name in source.data.get("findings", ()) if isinstance(source.data, dict) else ():
            if name in vocabulary:
                for pointer, message in misfits(vocabulary[name], vocabulary, parts):
                    build.complain(source, f"/findings/{name}{pointer}", message)


def _range(
    build: Build, source: Source, pointer: str, data: Mapping[str, Any]
) -> tuple[Decimal, Decimal]:
    try:
        low, high = (Decimal(str(limit)) for limit in data.get("range", (0, 0)))
        if not (low.is_finite() and high.is_finite()):
            raise InvalidOperation
    except ArithmeticError:
        build.complain(source, f"{pointer}/range", "a range is two numbers")
        return Decimal(0), Decimal(0)
    if low > high:
        build.complain(source, f"{pointer}/range", "the range runs backwards")
    factor = UNITS[data["unit"]][1] if "unit" in data else Decimal(1)
    return low * factor, high * factor
