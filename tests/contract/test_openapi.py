"""Is the exported description that of the service, and does it say of documents what is true?"""

from __future__ import annotations

import json
import re
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from jsonschema import Draft202012Validator, FormatChecker

from plafond.intake.structured import read_findings
from plafond.quantities import plain
from plafond.views.answer import canonical
from plafond.views.rest.openapi import limits
from plafond.web import export_openapi

ROOT = Path(__file__).parents[2]
EXPORTED = ROOT / "openapi" / "openapi.json"
EXAMPLES = ROOT / "examples"
STORIES = sorted(path.parent for path in EXAMPLES.glob("*/findings.json"))
JSON = {"content-type": "application/json"}


@pytest.fixture(scope="module")
def described(service) -> dict[str, Any]:
    """The description the running service gives."""
    found: dict[str, Any] = service.get("/openapi.json").json()
    return found


@pytest.fixture(scope="module")
def validator(described):
    """A validator of one named schema of the description."""

    @cache
    def of(name: str) -> Draft202012Validator:
        schema = {"$ref": f"#/components/schemas/{name}", "components": described["components"]}
        return Draft202012Validator(schema, format_checker=FormatChecker())

    return of


def test_the_exported_description_is_that_of_the_service(served):
    assert EXPORTED.read_bytes() == export_openapi(served), "run `plafond openapi`"


def test_the_description_without_examples_is_what_the_running_service_gives(described, served):
    exported = json.loads(export_openapi(served))
    posted = exported["paths"]["/v1/assessments"]["post"]
    posted["requestBody"]["content"]["application/json"].pop("examples", None)
    posted["responses"]["201"]["content"]["application/json"].pop("examples", None)
    assert exported == described


def test_every_schema_is_a_schema_and_every_reference_leads_somewhere(described):
    assert described["openapi"].startswith("3.1")
    schemas = described["components"]["schemas"]
    for schema in schemas.values():
        Draft202012Validator.check_schema(schema)
    referred = set(re.findall(r'"#/components/schemas/([^"]+)"', json.dumps(described)))
    assert referred <= schemas.keys()
    unused = schemas.keys() - referred
    assert not unused


def test_every_operation_is_described_in_words_and_says_how_it_fails(described):
    operations = [one for path in described["paths"].values() for one in path.values()]
    assert len(operations) == 15
    names = [one["operationId"] for one in operations]
    assert len(set(names)) == len(names)
    for operation in operations:
        assert operation["description"].endswith(".")
        for status, response in operation["responses"].items():
            if int(status) >= 400:
                assert list(response["content"]) == ["application/problem+json"]


def test_every_finding_that_can_be_recorded_is_described_with_its_question(described, rulebook):
    schemas = described["components"]["schemas"]
    sided = {one.id for one in rulebook.vocabulary if one.sided and not one.derived}
    person = {one.id for one in rulebook.vocabulary if not one.sided and not one.derived}
    assert set(schemas["Side"]["properties"]) == sided
    assert set(schemas["Person"]["properties"]) == person
    for one in rulebook.vocabulary:
        if not one.derived:
            assert (one.question or one.title) in schemas[f"finding.{one.id}"]["description"]


# -- the description and the reader say the same --------------------------------------


def ways(definition) -> tuple[list[Any], list[Any]]:
    """Give values of a finding that must be read, and values that must not be."""
    match definition.kind:
        case "presence" | "choice":
            right = list(definition.values)
            return right, ["perhaps", 1, True, None, {"value": right[0], "unit": "mm"}]
        case "count":
            low, high = int(definition.low), int(definition.high)
            return [low, high], [
                low - 1,
                high + 1,
                low + 0.5,
                str(low),
                {"value": low, "unit": "1"},
            ]
        case _:
            return _ways_of_a_quantity(definition)


def _ways_of_a_quantity(definition) -> tuple[list[Any], list[Any]]:
    right: list[Any] = []
    wrong: list[Any] = [1, "1 furlong", {"value": 1}, {"value": "1", "unit": definition.unit}]
    for unit in definition.units:
        low, high = limits(definition, unit)
        for end in (low, high):
            right += [f"{plain(end)} {unit}", {"value": float(end), "unit": unit}]
        beyond = high + max(Decimal(1), high / 100)  # HbA1c is rounded, so well beyond
        wrong.append({"value": float(beyond), "unit": unit})
    return right, wrong


def test_the_description_and_the_reader_agree_on_every_finding_at_its_limits(validator, rulebook):
    document = validator("Document")
    tried = 0
    for definition in rulebook.vocabulary:
        if definition.derived:
            continue
        place = "left" if definition.sided else "person"
        right, wrong = ways(definition)
        dated = {**right[-1]} if isinstance(right[-1], dict) else {"value": right[-1]}
        right += [right[:2], {**dated, "on": "2026-11-20"}]
        wrong += [[], {**dated, "on": "yesterday"}, {**dated, "by": "nobody"}]
        for values, fits in ((right, True), (wrong, False)):
            for value in values:
                data = {place: {definition.id: value}}
                tried += 1
                assert document.is_valid(data) is fits, data
                assert is_read(data, rulebook) is fits, data
    assert tried > 1_000


def is_read(data: Any, rulebook) -> bool:
    from plafond.errors import DocumentError

    try:
        read_findings(json.dumps(data).encode(), rulebook.vocabulary)
    except DocumentError:
        return False
    return True


@pytest.mark.parametrize("text", ["4000 {}", "-4000 {}", "1e3 {}", "some {}", "1 {} {}", "1,5 {}"])
def test_a_text_that_is_no_quantity_is_not_described_as_one(validator, rulebook, text):
    document = validator("Document")
    for one in rulebook.vocabulary:
        if one.kind == "quantity" and not one.derived and one.high < 1000:
            data = {"left" if one.sided else "person": {one.id: text.format(one.unit, one.unit)}}
            assert not is_read(data, rulebook)
            if text != "4000 {}":  # a pattern cannot say the range
                assert not document.is_valid(data), data


# -- stories --------------------------------------------------------------------------


@pytest.mark.parametrize("story", STORIES, ids=lambda path: path.name)
def test_a_story_and_its_answer_are_as_described(service, validator, story):
    body = (story / "findings.json").read_bytes()
    validator("Document").validate(json.loads(body))
    for path in ("/v1/assessments", "/v1/assessments?all=true"):
        response = service.post(path, content=body, headers=JSON)
        assert response.status_code == 201, response.text
        validator("Assessment").validate(response.json())
        assert rfc8785.dumps(response.json()) == response.content


def test_examples_stand_in_the_description(served):
    described = json.loads(export_openapi(served))
    posted = described["paths"]["/v1/assessments"]["post"]
    given = posted["requestBody"]["content"]["application/json"]["examples"]
    assert sorted(given) == [story.name for story in STORIES]
    assert posted["responses"]["201"]["content"]["application/json"]["examples"]


def test_a_difference_is_as_described(releases_service, described, ankle):
    given = releases_service.post("/v1/assessments", json=ankle)
    told = releases_service.post(given.headers["location"] + "/replay?release=2099.1.0")
    schema = {
        "$ref": "#/components/schemas/Difference",
        "components": described["components"],
    }
    Draft202012Validator(schema).validate(told.json())
    assert told.json()["sides"]["left"]["options"]
    assert rfc8785.dumps(told.json()) == told.content


@pytest.mark.parametrize(
    "data",
    [
        {"b": 1, "a": [True, None, -7, ""]},
        {"é": "ü", "z": '"\\/\b\f\n\r\t\x01\x1f\x7f'},
        {"nested": {"deep": [{"er": "€ 𝄞 \u2028"}]}},
        {"number": 2**53 - 1},
    ],
)
def test_canonical_json_is_what_the_standard_says(data):
    assert canonical(data) == rfc8785.dumps(data)


@pytest.mark.parametrize("value", [1.5, Decimal("1.5"), {1, 2}, b"bytes", object()])
def test_what_has_no_one_spelling_is_not_written(value):
    with pytest.raises(TypeError):
        canonical({"value": value})
