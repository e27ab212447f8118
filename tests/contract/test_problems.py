"""Is every error a problem in plain words, of the right kind, that gives nothing away?"""

from __future__ import annotations

import logging

import pytest

from plafond import errors
from plafond.errors import ArchiveError
from plafond.storage import MemoryArchive, Record
from plafond.views.rest.exchange import PROBLEM
from plafond.views.rest.problems import KINDS
from plafond.web import KIND_OF

JSON = {"content-type": "application/json"}


class FullArchive(MemoryArchive):
    """An archive that keeps nothing any more, and says where it is."""

    def keep(self, record: Record) -> None:
        raise ArchiveError("the disk is full", where="sqlite:////srv/secret/archive.db")

    def count(self) -> int:
        raise ArchiveError("the archive cannot be read", where="sqlite:////srv/secret/archive.db")


class SurprisingArchive(MemoryArchive):
    """An archive with a fault of its own."""

    def keep(self, record: Record) -> None:
        raise RuntimeError(f"reference {record.reference} of Mrs Smith")


def test_every_error_of_ours_is_of_some_kind_of_problem():
    named = [one for one in vars(errors).values() if isinstance(one, type)]
    ours = [one for one in named if issubclass(one, errors.PlafondError)]
    assert len(ours) > 10
    for one in ours:
        assert any(parent in KIND_OF for parent in one.__mro__), one


@pytest.mark.parametrize(
    ("request_line", "headers", "status", "kind"),
    [
        ("GET /v1/nothing", {}, 404, "no-such-place"),
        ("GET /v1/assessments", {}, 405, "method-not-allowed"),
        ("DELETE /v1/assessments/x", {}, 405, "method-not-allowed"),
        ("PUT /v1/rules", {}, 405, "method-not-allowed"),
        ("TRACE /healthz", {}, 405, "method-not-allowed"),
        ("POST /v1/assessments", {}, 415, "media-type-not-supported"),
        (
            "POST /v1/assessments",
            {"content-type": "text/plain"},
            415,
            "media-type-not-supported",
        ),
        (
            "POST /v1/assessments",
            {"content-type": "application/json; charset=latin-1"},
            415,
            "media-type-not-supported",
        ),
        (
            "POST /v1/assessments",
            {"content-type": "application/json", "content-encoding": "gzip"},
            415,
            "media-type-not-supported",
        ),
        ("POST /v1/assessments?all=perhaps", JSON, 400, "parameters-not-understood"),
        ("POST /v1/assessments?realease=1", JSON, 400, "parameters-not-understood"),
        ("GET /healthz", {"host": "rebound.example"}, 421, "host-not-allowed"),
        ("GET /problems/nothing", {}, 404, "not-known"),
    ],
)
def test_what_is_refused_is_a_problem_of_its_kind(service, request_line, headers, status, kind):
    method, path = request_line.split()
    response = service.request(method, path, headers=headers, content=b"{}")
    assert response.status_code == status
    assert response.headers["content-type"] == PROBLEM
    problem = response.json()
    assert problem["type"] == f"/problems/{kind}"
    assert problem["status"] == status
    assert problem["instance"] == path.partition("?")[0]
    assert problem["title"] == KINDS[kind].title
    assert problem["detail"]
    if status == 405:
        assert response.headers["allow"]


@pytest.mark.parametrize(
    "kind", ["application/json", "Application/JSON", "application/json;charset=UTF-8"]
)
def test_json_is_read_however_its_media_type_is_spelt(service, kind):
    response = service.post("/v1/assessments", content=b"{}", headers={"content-type": kind})
    assert response.status_code == 201


def test_parameters_that_make_no_sense_are_each_named(service):
    response = service.post("/v1/assessments?all=perhaps&relase=1", content=b"{}", headers=JSON)
    assert {one["name"] for one in response.json()["parameters"]} == {"all", "relase"}


@pytest.mark.parametrize("kind", KINDS)
def test_the_address_of_a_kind_of_problem_leads_to_what_it_means(service, kind):
    page = service.get(f"/problems/{kind}")
    assert page.status_code == 200
    assert str(KINDS[kind].status) in page.text


def test_a_body_of_no_declared_length_is_refused_where_it_is_too_long(service):
    response = service.post("/v1/assessments", content=iter([b" " * 10_000] * 30), headers=JSON)
    assert response.status_code == 413
    assert response.json()["faults"][0]["expected"] == "at most 262144 bytes"


async def _read(messages, headers):
    from starlette.requests import Request

    from plafond.views.rest.exchange import json_body

    taken = []

    async def receive():
        taken.append(1)
        return next(messages)

    scope = {"type": "http", "method": "POST", "path": "/", "headers": headers}
    try:
        await json_body(Request(scope, receive))
    except errors.DocumentTooLargeError:
        return len(taken)
    raise AssertionError("a body without end was read")


@pytest.mark.parametrize(
    ("declared", "most"),
    [(b"", 27), (b"10", 27), (b"262145", 0), (b"9" * 5_000, 0), (b"-1", 27)],
)
def test_a_stream_without_end_is_left_as_soon_as_it_is_too_long(declared, most):
    """What a caller declares is believed where it is too much, and counted where it is not."""
    import asyncio
    from itertools import repeat

    endless = repeat({"type": "http.request", "body": b" " * 10_000, "more_body": True})
    headers = [(b"content-type", b"application/json"), (b"content-length", declared)]
    assert asyncio.run(_read(endless, headers)) == most


def test_what_cannot_be_kept_is_not_answered(several, start, ankle):
    with start(several, FullArchive()) as client:
        response = client.post("/v1/assessments", json=ankle)
        assert response.status_code == 503
        assert response.json()["type"] == "/problems/archive-not-available"
        assert int(response.headers["retry-after"]) > 0
        assert "sides" not in response.text
        assert "secret" not in response.text
        ready = client.get("/readyz")
        assert ready.status_code == 503
        assert "archive" in ready.json()["detail"]
        assert "secret" not in ready.text
        assert client.get("/healthz").json() == {"alive": True}


def test_an_error_nobody_foresaw_is_a_problem_that_tells_nothing_of_it(
    several, start, ankle, caplog
):
    with start(several, SurprisingArchive()) as client, caplog.at_level(logging.INFO):
        response = client.post("/v1/assessments", json=ankle)
    assert response.status_code == 500
    assert response.headers["content-type"] == PROBLEM
    assert "Smith" not in response.text
    ours = [one.getMessage() for one in caplog.records if one.name.startswith("plafond")]
    assert any("RuntimeError" in one for one in ours)
    assert not any("Smith" in one or "tarrow" in one for one in ours)


def test_nothing_of_a_document_is_logged_when_it_is_refused(service, caplog):
    with caplog.at_level(logging.DEBUG, "plafond"):
        body = b'{"reference": "Jane Smith", "left": {"giving-way": "says Jane"}}'
        service.post("/v1/assessments", content=body, headers=JSON)
    assert "Jane" not in caplog.text
