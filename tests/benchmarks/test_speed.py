"""How long does an answer take, and how long a release? Reported, not asserted; run by name.

pytest --benchmark-only tests/benchmarks
"""

from __future__ import annotations

import pytest

from plafond.inference.compile import Program
from plafond.inference.crosscheck import EngineProcess, plan
from plafond.inference.evaluate import evaluate_rulebook
from plafond.inference.function import compile_function
from plafond.intake.structured import findings_of, read_findings
from plafond.pipeline import assess, ready
from plafond.rulebook import freeze, thaw
from plafond.settings import default_knowledge

#: Both ankles give way, and the right one has a lesion of the talus besides.
DOCUMENT = {
    "person": {"age": "27 a", "smoking": "never", "diabetes": "absent", "asa-class": 1},
    "left": {
        "giving-way": "present",
        "recurrent-sprains": "present",
        "symptom-duration": "8 mo",
        "rehabilitation-duration": "12 wk",
        "anterior-drawer": "positive",
        "anterior-drawer-displacement": "11 mm",
        "talar-tilt-angle": "9 deg",
        "ankle-pain": "present",
    },
    "right": {
        "giving-way": "present",
        "symptom-duration": "14 mo",
        "rehabilitation-duration": "8 wk",
        "anterior-drawer": "negative",
        "anterior-drawer-displacement": "5 mm",
        "ankle-pain": "present",
        "talar-lesion-on-imaging": "present",
        "lesion-coronal-length": "9 mm",
        "lesion-sagittal-length": "13 mm",
        "lesion-depth": "5 mm",
    },
}


@pytest.fixture(scope="module")
def findings(rulebook):
    """The document, as far as the vocabulary still knows its findings."""
    known = {
        place: {name: raw for name, raw in said.items() if name in rulebook.vocabulary}
        for place, said in DOCUMENT.items()
    }
    return findings_of(known, rulebook.vocabulary)


@pytest.mark.benchmark(group="an answer")
@pytest.mark.parametrize("everything", [False, True], ids=["as asked", "everything listed"])
def test_an_answer_about_both_ankles_with_all_its_reasons(benchmark, release, findings, everything):
    answer = benchmark(
        assess, findings, release, assessment="x", at="2026-11-25T09:00:00Z", everything=everything
    )
    assert {one.option for side in answer.sides.values() for one in side.options}


@pytest.mark.benchmark(group="an answer")
def test_the_truths_of_one_side_by_both_interpreters(benchmark, release, findings):
    values = findings.known("right", release.rulebook.vocabulary).values
    assert benchmark(release.inference.truths, values)


@pytest.mark.benchmark(group="an answer")
def test_the_truths_of_one_side_by_the_function_alone(benchmark, release, findings):
    program = release.inference.program
    known = program.literals(findings.known("right", release.rulebook.vocabulary).values)
    assert benchmark(compile_function(program), known)


@pytest.mark.benchmark(group="an answer")
def test_the_truths_of_one_side_by_the_oracle(benchmark, release, findings):
    values = findings.known("right", release.rulebook.vocabulary).values
    assert benchmark(evaluate_rulebook, release.rulebook, values)


@pytest.mark.benchmark(group="an answer")
def test_reading_a_document(benchmark, release):
    payload = b'{"left": {"giving-way": "present", "symptom-duration": "8 mo"}}'
    assert benchmark(read_findings, payload, release.rulebook.vocabulary).records


@pytest.mark.benchmark(group="a release")
def test_loading_a_release(benchmark, frozen):
    """What a service does at its start: read the bytes, build both interpreters, answer."""
    started = []

    def load():
        engine = EngineProcess()
        started.append(engine)
        return ready(thaw(frozen[1], "benchmark"), engine)

    loaded = benchmark.pedantic(load, rounds=10)
    assert loaded.inference.truths({})
    for engine in started:
        engine.stop()


@pytest.mark.benchmark(group="a release")
def test_thawing_a_release(benchmark, frozen):
    assert benchmark.pedantic(thaw, (frozen[1], "benchmark"), rounds=10)


@pytest.mark.benchmark(group="a release")
def test_planning_a_release(benchmark, rulebook):
    assert benchmark.pedantic(lambda: plan(Program(rulebook)), rounds=10)


@pytest.mark.benchmark(group="a release")
def test_freezing_the_knowledge_files(benchmark):
    assert benchmark.pedantic(freeze, (default_knowledge(),), rounds=3)
