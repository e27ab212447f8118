"""What somebody might send to break the service: each is refused in plain words, nothing is kept.

Every row goes through the running service, so that what is tested is what a caller meets: a 4xx
problem, the pointer of the fault where there is one, an answer soon, and an archive as it was.
"""

from __future__ import annotations

import json
import time
from typing import NamedTuple

import pytest

JSON = {"content-type": "application/json"}
SECONDS = 5


class Hostile(NamedTuple):
    """A body, the status it must get, and the pointer its first fault must carry."""

    body: bytes
    status: int
    pointer: str


def left(raw: str) -> bytes:
    return f'{{"left":{{"talar-tilt-angle":{raw}}}}}'.encode()


def person(raw: str) -> bytes:
    return f'{{"person":{{"asa-class":{raw}}}}}'.encode()


TILT, ASA = "/left/talar-tilt-angle", "/person/asa-class"

BODIES = {
    "nothing at all": Hostile(b"", 400, ""),
    "only space": Hostile(b" \n", 400, ""),
    "half a document": Hostile(b'{"left":{"giving-way":"pre', 400, ""),
    "two documents": Hostile(b"{}{}", 400, ""),
    "an array at the root": Hostile(b"[]", 422, ""),
    "a text at the root": Hostile(b'"left"', 422, ""),
    "null at the root": Hostile(b"null", 422, ""),
    "a byte order mark": Hostile(b"\xef\xbb\xbf{}", 400, ""),
    "UTF-16": Hostile("{}".encode("utf-16"), 400, ""),
    "invalid UTF-8": Hostile(b'{"reference":"\xff\xfe"}', 400, ""),
    "an overlong UTF-8 form": Hostile(b'{"reference":"\xc0\xaf"}', 400, ""),
    "ten megabytes": Hostile(b'{"reference":"' + b"a" * 10_000_000 + b'"}', 413, ""),
    "one byte too many": Hostile(b" " * 262_143 + b"{}", 413, ""),
    "a hundred objects in each other": Hostile(b'{"left":' * 100 + b"1" + b"}" * 100, 400, ""),
    "a hundred thousand brackets": Hostile(b"[" * 100_000, 400, ""),
    "a text that never ends": Hostile(b'"\\' * 100_000, 400, ""),
    "a hundred thousand keys": Hostile(
        json.dumps({"left": {f"k{number}": 1 for number in range(100_000)}}).encode(), 413, ""
    ),
    "as many unknown keys as fit": Hostile(
        json.dumps({"left": {f"k{number}": 1 for number in range(20_000)}}).encode(),
        422,
        "/left/k0",
    ),
    "as many wrong values as fit": Hostile(left("[" + "1," * 60_000 + "1]"), 422, f"{TILT}/0"),
    "a key that stands twice": Hostile(
        b'{"left":{"giving-way":"present","giving-way":"absent"}}', 400, ""
    ),
    "a side that stands twice": Hostile(b'{"left":{},"left":{}}', 400, ""),
    "NaN": Hostile(left('{"value":NaN,"unit":"deg"}'), 400, ""),
    "minus infinity": Hostile(left('{"value":-Infinity,"unit":"deg"}'), 400, ""),
    "1e400 as a quantity": Hostile(left('{"value":1e400,"unit":"deg"}'), 422, TILT),
    "1e400 as a count": Hostile(person("1e400"), 422, ASA),
    "an exponent of a million": Hostile(person("1e1000000"), 422, ASA),
    "an exponent beyond decimals": Hostile(person("1e99999999999999999999"), 422, ASA),
    "a fraction of nothing": Hostile(
        left('{"value":1e-99999999999999999999,"unit":"deg"}'), 422, TILT
    ),
    "nearly nothing as a count": Hostile(person("1e-300"), 422, ASA),
    "a whole number of 5,000 digits": Hostile(person("9" * 5_000), 400, ""),
    "a negative size": Hostile(left('"-3 deg"'), 422, TILT),
    "a size no body has": Hostile(left('"4000 deg"'), 422, TILT),
    "a wrong unit": Hostile(left('"12 mm"'), 422, TILT),
    "a unit nobody knows": Hostile(left('"12 furlongs"'), 422, TILT),
    "a unit of 5,000 letters": Hostile(left('"12 ' + "x" * 5_000 + '"'), 422, TILT),
    "no unit": Hostile(left('"12"'), 422, TILT),
    "a bare number where a unit belongs": Hostile(left("12"), 422, TILT),
    "a unit that is an object": Hostile(left('{"value":12,"unit":{"mm":1}}'), 422, TILT),
    "a value in a value": Hostile(
        left('{"value":{"value":12,"unit":"deg"},"unit":"deg"}'), 422, TILT
    ),
    "a member nobody knows": Hostile(
        left('{"value":12,"unit":"deg","note":"Mrs Smith"}'), 422, f"{TILT}/note"
    ),
    "an empty list": Hostile(left("[]"), 422, TILT),
    "a list in a list": Hostile(left('[["12 deg"]]'), 422, f"{TILT}/0"),
    "digits of another script": Hostile(left('"١٢ deg"'), 422, TILT),
    "half a person": Hostile(person("1.5"), 422, ASA),
    "text where a number belongs": Hostile(person('"two"'), 422, ASA),
    "a number as text": Hostile(person('"2"'), 422, ASA),
    "a number where a word belongs": Hostile(b'{"left":{"giving-way":1}}', 422, "/left/giving-way"),
    "yes where a finding is present": Hostile(
        b'{"left":{"giving-way":true}}', 422, "/left/giving-way"
    ),
    "null for not known": Hostile(b'{"left":{"giving-way":null}}', 422, "/left/giving-way"),
    "free text": Hostile(
        b'{"left":{"giving-way":"present, says the patient"}}', 422, "/left/giving-way"
    ),
    "a word in capitals": Hostile(b'{"left":{"giving-way":"Present"}}', 422, "/left/giving-way"),
    "an unknown side": Hostile(b'{"middle":{}}', 422, "/middle"),
    "a side that is a list": Hostile(b'{"left":[]}', 422, "/left"),
    "a side that is null": Hostile(b'{"left":null}', 422, "/left"),
    "a finding nobody knows": Hostile(
        b'{"left":{"giving-wya":"present"}}', 422, "/left/giving-wya"
    ),
    "a key with a slash and a tilde": Hostile(b'{"left":{"a/b~c":1}}', 422, "/left/a~1b~0c"),
    "a derived finding, recorded": Hostile(
        b'{"left":{"mechanical-ankle-instability":"present"}}',
        422,
        "/left/mechanical-ankle-instability",
    ),
    "a finding of the person under a side": Hostile(b'{"left":{"age":"27 a"}}', 422, "/left/age"),
    "a finding of a side under the person": Hostile(
        b'{"person":{"giving-way":"present"}}', 422, "/person/giving-way"
    ),
    "a date that is none": Hostile(b'{"recorded":"2026-02-30"}', 422, "/recorded"),
    "a date written another way": Hostile(b'{"recorded":"20.11.2026"}', 422, "/recorded"),
    "a date that is a number": Hostile(
        left('{"value":12,"unit":"deg","on":20261120}'), 422, f"{TILT}/on"
    ),
    "a name as reference": Hostile(b'{"reference":"Jane Smith"}', 422, "/reference"),
    "a reference of 65 letters": Hostile(b'{"reference":"' + b"r" * 65 + b'"}', 422, "/reference"),
    "a reference that is a number": Hostile(b'{"reference":17}', 422, "/reference"),
    "a line break in the reference": Hostile(b'{"reference":"a\\nb"}', 400, "/reference"),
    "a null character in the reference": Hostile(b'{"reference":"a\\u0000"}', 400, "/reference"),
    "text that runs backwards": Hostile('{"reference":"a\u202eb"}'.encode(), 400, "/reference"),
    "an escaped character that turns text round": Hostile(
        rb'{"left":{"giving-way":"present\u2066"}}', 400, "/left/giving-way"
    ),
    "half a surrogate pair": Hostile(rb'{"reference":"\ud800"}', 400, "/reference"),
    "half a surrogate pair as a key": Hostile(rb'{"left":{"\udc00":1}}', 400, "/left/\\udc00"),
}


def test_there_are_more_than_the_twenty_that_were_asked_for():
    assert len(BODIES) >= 20


@pytest.mark.parametrize("hostile", BODIES.values(), ids=BODIES)
def test_a_hostile_body_is_refused_in_plain_words_and_nothing_is_kept(service, hostile):
    kept = service.app.state.desk.archive.count()
    started = time.perf_counter()
    response = service.post("/v1/assessments", content=hostile.body, headers=JSON)
    assert time.perf_counter() - started < SECONDS
    assert response.status_code == hostile.status, response.text
    assert response.headers["content-type"] == "application/problem+json"
    problem = response.json()
    assert problem["status"] == hostile.status
    assert problem["title"]
    assert problem["detail"]
    first = problem["faults"][0]
    assert first["pointer"] == hostile.pointer
    assert first["message"]
    assert len(response.content) < 20_000
    assert service.app.state.desk.archive.count() == kept


def test_every_fault_is_named_at_once_with_what_is_expected_and_what_is_near(service):
    body = b"""{"middle": {}, "left": {"giving-wya": "present", "talar-tilt-angle": "12 mm"},
               "person": {"asa-class": 9}, "recorded": "yesterday"}"""
    problem = service.post("/v1/assessments", content=body, headers=JSON).json()
    faults = {fault["pointer"]: fault for fault in problem["faults"]}
    assert set(faults) == {
        "/middle", "/left/giving-wya", "/left/talar-tilt-angle", "/person/asa-class", "/recorded",
    }  # fmt: skip
    assert "giving-way" in faults["/left/giving-wya"]["nearest"]
    assert "deg" in faults["/left/talar-tilt-angle"]["expected"]
    assert "1 to 6" in faults["/person/asa-class"]["expected"]
    assert all(fault["expected"] for fault in faults.values())


def test_what_was_refused_is_not_repeated_with_its_hidden_characters(service):
    body = rb'{"left":{"\u202egiving-way\ud800":"\u2066"}}'
    response = service.post("/v1/assessments", content=body, headers=JSON)
    assert response.status_code == 400
    assert not any(char in response.text for char in "\u202e\u2066\ud800")


@pytest.mark.parametrize("nearly", ["1e-300", "-1e-300", "0e99999", "0.0000004", "-0.0", "0"])
def test_nearly_nothing_is_read_as_nothing_however_it_is_written(service, nearly):
    """A computed number may come out so; it is no reason to refuse a document."""
    body = left(f'{{"value":{nearly},"unit":"deg"}}')
    response = service.post("/v1/assessments", content=body, headers=JSON)
    assert response.status_code == 201
    assert response.json()["understood"]["left"]["talar-tilt-angle"][0]["value"] == "0 deg"


def test_a_document_as_large_as_may_be_is_read(service):
    body = b'{"left":{"giving-way":"present"}' + b" " * (262_144 - 33) + b"}"
    assert len(body) == 262_144
    assert service.post("/v1/assessments", content=body, headers=JSON).status_code == 201
