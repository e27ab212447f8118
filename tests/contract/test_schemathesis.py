"""Does the running service keep to its own description, whatever is sent? Every check is on.

Requests are made from the description, right ones, wrong ones and chains of them, and each answer
is held against it. What the description cannot say is told to the generator here and nowhere
else: the range of a quantity written as text.
"""

from __future__ import annotations

import copy
from collections import Counter
from decimal import Decimal
from typing import Any

import schemathesis
from hypothesis import strategies as st
from schemathesis.config import SchemathesisConfig
from schemathesis.engine import events, from_schema
from schemathesis.engine.run import PhaseName

from plafond.quantities import UNITS, plain
from plafond.storage import MemoryArchive
from plafond.vocabulary import Definition
from plafond.web import create_app

CONFIG = {
    "seed": 20261125,
    "workers": 1,
    "generation": {"max-examples": 20, "deterministic": True},
    "phases": {"stateful": {"max-steps": 5}},
}


@st.composite
def written(draw, definition: Definition) -> str:
    """Write a plausible value of a quantity, in its own unit."""
    factor = UNITS[definition.unit][1]
    low, high = definition.low / factor, definition.high / factor
    number = draw(st.decimals(low, high, places=2, allow_nan=False, allow_infinity=False))
    return f"{plain(Decimal(number))} {definition.unit}"


def narrowed(described: dict[str, Any], rulebook) -> dict[str, Any]:
    """Return the description with what it cannot say about quantities."""
    told = copy.deepcopy(described)
    for definition in rulebook.vocabulary:
        if definition.kind == "quantity" and not definition.derived:
            name = f"plausible-{definition.id}"
            schemathesis.openapi.format(name, written(definition))
            plausible = {"type": "string", "format": name}
            text, dated, *_ = told["components"]["schemas"][f"claim.{definition.id}"]["anyOf"]
            text.clear()
            text.update(plausible)
            dated["properties"]["value"] = plausible
    return told


def test_the_service_keeps_to_its_description(several, rulebook, measured):
    app = create_app(several, archive=MemoryArchive())
    described = narrowed(app.openapi(), rulebook)
    schema = schemathesis.openapi.from_dict(described, config=SchemathesisConfig.from_dict(CONFIG))
    schema.app = app

    statuses: Counter[int] = Counter()
    phases: set[PhaseName] = set()
    wrong: list[str] = []
    seconds = 0.0
    for event in from_schema(schema).execute():
        match event:
            case events.ScenarioFinished(recorder=recorder, phase=phase):
                phases.add(phase)
                for interaction in recorder.interactions.values():
                    if interaction.response is not None:
                        statuses[interaction.response.status_code] += 1
                for checks in recorder.checks.values():
                    wrong += [
                        f"{recorder.label}: {one.failure_info.failure}\n{one.failure_info.code_sample}"
                        for one in checks
                        if one.failure_info is not None
                    ]
            case events.NonFatalError(info=info):
                wrong.append(info.format())
            case events.FatalError(exception=exception):
                raise exception
            case events.EngineFinished(running_time=running_time):
                seconds = running_time
    print(statuses, phases, seconds)
    assert not wrong, "\n\n".join(wrong[:20])
