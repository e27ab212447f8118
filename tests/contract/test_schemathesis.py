"""Does the running service keep to its own description, whatever is sent? Every check is on.

Requests are made from the description, right ones, wrong ones and chains of them, and each answer
is held against it. The generator is told here, and nowhere else, what the description cannot say:
the range of a quantity written as text. It is shown one finding of each sort, since it tries each
at every place it may stand; test_openapi.py goes through all of them.
"""

from __future__ import annotations

import copy
from collections import Counter
from typing import Any

import schemathesis
from schemathesis.config import SchemathesisConfig
from schemathesis.engine import events, from_schema
from schemathesis.engine.run import PhaseName

from plafond.quantities import plain
from plafond.storage import MemoryArchive
from plafond.views.rest.openapi import limits
from plafond.vocabulary import Definition, Vocabulary
from plafond.web import create_app

#: Which findings the generator is shown: one of each kind, some of a side, some of the person.
SORTS = (("presence", True), ("quantity", True), ("choice", False), ("count", False))
CONFIG = {
    "seed": 20261125,
    "workers": 1,
    "generation": {"max-examples": 6, "deterministic": True},
    "phases": {"stateful": {"max-steps": 4}},
    "checks": {"max_response_time": 10},
}


def plausible(definition: Definition) -> list[str]:
    """Return a few values of a quantity as text, in each of its units."""
    texts = []
    for unit in definition.units:
        low, high = limits(definition, unit)
        texts += [f"{plain(round((low + high) / part, 3))} {unit}" for part in (2, 3, 5)]
    return texts


def one_of_each(vocabulary: Vocabulary) -> list[Definition]:
    """Return one finding of each sort that can be recorded."""
    found: dict[Any, Definition] = {}
    for one in vocabulary:
        if not one.derived:
            found.setdefault((one.kind, one.sided), one)
    return [found[sort] for sort in SORTS]


def narrowed(described: dict[str, Any], vocabulary: Vocabulary) -> dict[str, Any]:
    """Return the description with fewer findings, and with what it cannot say about them."""
    told = copy.deepcopy(described)
    chosen = one_of_each(vocabulary)
    for place in ("Side", "Person"):
        properties = told["components"]["schemas"][place]["properties"]
        for name in properties.keys() - {one.id for one in chosen}:
            del properties[name]
    for definition in chosen:
        if definition.kind == "quantity":
            text, *_ = told["components"]["schemas"][f"claim.{definition.id}"]["anyOf"]
            del text["pattern"]
            text["enum"] = plausible(definition)  # the dated form holds the same object
    return told


class Run:
    """What came of one run: how requests were answered, in which phases, and what was wrong."""

    def __init__(self) -> None:
        self.statuses: Counter[int] = Counter()
        self.phases: set[PhaseName] = set()
        self.wrong: list[str] = []
        self.seconds = 0.0

    def note(self, event: events.EngineEvent) -> None:
        match event:
            case events.ScenarioFinished(recorder=recorder, phase=phase):
                self._note_requests(recorder, phase)
            case events.NonFatalError(info=info):
                self.wrong.append(info.format())
            case events.FatalError(exception=exception):
                raise exception
            case events.EngineFinished(running_time=seconds):
                self.seconds = seconds

    def _note_requests(self, recorder, phase) -> None:
        answers = [one.response for one in recorder.interactions.values() if one.response]
        if answers:
            self.phases.add(phase)
        self.statuses.update(answer.status_code for answer in answers)
        for checks in recorder.checks.values():
            for failed in (one.failure_info for one in checks if one.failure_info):
                self.wrong.append(f"{recorder.label}: {failed.failure}\n{failed.code_sample}")


def test_the_service_keeps_to_its_description(several, rulebook, measured):
    app = create_app(several, archive=MemoryArchive())
    described = narrowed(app.openapi(), rulebook.vocabulary)
    schema = schemathesis.openapi.from_dict(described, config=SchemathesisConfig.from_dict(CONFIG))
    schema.app = app

    run = Run()
    for event in from_schema(schema).execute():
        run.note(event)

    assert not run.wrong, "\n\n".join(run.wrong[:20])
    assert run.phases == {PhaseName.COVERAGE, PhaseName.FUZZING, PhaseName.STATEFUL_TESTING}
    assert {200, 201, 400, 404, 405, 415, 422} <= run.statuses.keys()
    assert run.statuses[201] > 40
    measured(
        f"schemathesis: {run.statuses.total()} requests in {run.seconds:.0f} s, all as described"
    )
