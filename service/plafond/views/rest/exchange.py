"""How the service speaks over HTTP: what it reads of a request, how it writes a response.

Takes a request, gives its body (never more than a document may have) and its strict parameters;
takes bytes, gives responses with their digest as ETag. Knows no rule and no route.
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Depends, Query, Request, Response
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from starlette.exceptions import HTTPException

from plafond.errors import DocumentError, DocumentTooLargeError, Fault
from plafond.intake.structured import MOST_BYTES
from plafond.rulebook import digest_of
from plafond.views.answer import canonical
from plafond.views.desk import Desk
from plafond.views.rest.openapi import ref

JSON = "application/json"
PROBLEM = "application/problem+json"


# -- requests -----------------------------------------------------------------------------


def desk_of(request: Request) -> Desk:
    """Return the desk of the running service."""
    desk: Desk = request.app.state.desk
    return desk


AtDesk = Annotated[Desk, Depends(desk_of)]


async def json_body(request: Request) -> bytes:
    """Return the body.

    Raises HTTPException 415 for anything but JSON, DocumentTooLargeError as soon as it is known.
    """
    _require_json(request)
    return await _limited(request)


async def no_body(request: Request) -> None:
    """Refuse a body: what it asks for would not be done."""
    async for chunk in request.stream():
        if chunk:
            expected = "no body; the release is named in the query, ?release=2026.1.0"
            raise DocumentError([Fault("", "a body is not read here", expected)])


async def _limited(request: Request) -> bytes:
    declared = request.headers.get("content-length", "")
    if len(declared) > 12 or (declared.isdecimal() and int(declared) > MOST_BYTES):
        raise _too_large()
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > MOST_BYTES:
            raise _too_large()
    return bytes(body)


def _too_large() -> DocumentTooLargeError:
    return DocumentTooLargeError(
        [Fault("", "the body is too large", f"at most {MOST_BYTES} bytes")]
    )


def _require_json(request: Request) -> None:
    kind, _, parameters = request.headers.get("content-type", "").partition(";")
    charset = parameters.strip().lower().removeprefix("charset=").strip('"')
    coded = request.headers.get("content-encoding", "identity").strip().lower()
    if kind.strip().lower() != JSON or charset not in ("", "utf-8") or coded != "identity":
        raise HTTPException(415, f"a body is {JSON} in UTF-8, and not compressed")


class StrictQuery(BaseModel):
    """The parameters an operation knows; any other is refused, since it might be misspelt."""

    model_config = ConfigDict(extra="forbid")


def no_query(_: Annotated[StrictQuery, Query()]) -> None:
    """Refuse any parameter."""


class ReleaseQuery(StrictQuery):
    """Which release is meant: a version or a digest; the one in service where none is named."""

    release: str = Field("", max_length=80, description="a version or digest of /v1/releases")


def yes_or_no(raw: Any) -> Any:
    """Refuse what pydantic would also take for a yes: 1, on, t and others."""
    if isinstance(raw, str) and raw not in ("true", "false"):
        raise ValueError("write true or false")
    return raw


YesOrNo = Annotated[bool, BeforeValidator(yes_or_no)]


# -- responses ----------------------------------------------------------------------------


def private(body: bytes, **headers: str) -> Response:
    """Return an answer about a patient: never kept by anything between here and the caller."""
    return Response(body, 200, {**headers, "Cache-Control": "private, no-cache"}, JSON)


def tagged(digest: str) -> str:
    """Return the ETag of bytes with this digest."""
    return f'"{digest}"'


def looked_up(request: Request, data: Any) -> Response:
    """Return what somebody looked up, or 304 where they have it already."""
    body = canonical(data)
    headers = {"ETag": tagged(digest_of(body)), "Cache-Control": "no-cache"}
    return unless_known(request, Response(body, 200, headers, JSON))


def unless_known(request: Request, response: Response) -> Response:
    """Return the response, or 304 where its ETag is among those the caller names."""
    wanted = request.headers.get("if-none-match", "")
    tags = [tag.strip().removeprefix("W/") for tag in wanted.split(",")]
    if "*" in tags or response.headers["ETag"] in tags:
        kept = {name: response.headers[name] for name in ("ETag", "Cache-Control")}
        return Response(status_code=304, headers=kept)
    return response


# -- their description --------------------------------------------------------------------


def documented(schema: str, *problems: int, status: int = 200, etag: bool = True) -> Any:
    """Return what an operation answers: one kind of success, and problems by status."""
    success: dict[str, Any] = {"content": {JSON: {"schema": ref(schema)}}}
    responses: dict[int | str, Any] = {status: success}
    if etag:
        success["headers"] = required_headers("ETag")
        responses[304] = {"description": "You have it already."}
    for code in problems:
        responses[code] = {"content": {PROBLEM: {"schema": ref("Problem")}}}
    return responses


def required_headers(*names: str) -> dict[str, Any]:
    """Return the description of headers that a response always has."""
    return {name: {"required": True, "schema": {"type": "string"}} for name in names}


def with_body(schema: str) -> dict[str, Any]:
    """Return the description of a body that is read as bytes."""
    return {"requestBody": {"required": True, "content": {JSON: {"schema": ref(schema)}}}}
