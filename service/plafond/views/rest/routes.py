"""The REST interface: assessments under /v1, and the two places that say how the service is.

Takes requests, hands bytes and names to the desk, gives back the bytes it made. Decides nothing
and maps no error: web.py does that, once. What is looked up has its own file, lookups.py.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import Field
from starlette.exceptions import HTTPException

from plafond.views.answer import canonical, plain_data
from plafond.views.rest.exchange import (
    JSON,
    AtDesk,
    ReleaseQuery,
    YesOrNo,
    documented,
    json_body,
    no_body,
    no_query,
    private,
    required_headers,
    tagged,
    unless_known,
    with_body,
)
from plafond.views.rest.openapi import ref

router = APIRouter()


class AssessQuery(ReleaseQuery):
    """How a document is assessed."""

    everything: YesOrNo = Field(
        False, alias="all", description="also list what nothing in the document points at"
    )


_BY_ID = {"assessment": "$response.body#/assessment"}
_CREATED = documented("Assessment", 400, 404, 413, 415, 422, 503, status=201, etag=False)
_CREATED[201] |= {
    "description": "The answer, which is kept under the address in Location.",
    "headers": required_headers("Location", "ETag"),
    "links": {name: {"operationId": name, "parameters": _BY_ID} for name in ("again", "replay")},
}


@router.post(
    "/v1/assessments",
    operation_id="assess",
    tags=["assessments"],
    status_code=201,
    response_class=Response,
    responses=_CREATED,
    openapi_extra=with_body("Document"),
)
def assess(
    desk: AtDesk, query: Annotated[AssessQuery, Query()], body: Annotated[bytes, Depends(json_body)]
) -> Response:
    """Assess what is known of one patient, keep it, and give the answer."""
    given = desk.assess(body, release=query.release, everything=query.everything)
    response = private(given.answer, ETag=tagged(given.record.answer_digest))
    response.status_code = 201
    response.headers["Location"] = f"/v1/assessments/{given.record.assessment}"
    return response


@router.get(
    "/v1/assessments/{assessment}",
    operation_id="again",
    tags=["assessments"],
    response_class=Response,
    responses=documented("Assessment", 400, 404, 500, 503),
    dependencies=[Depends(no_query)],
)
def again(request: Request, desk: AtDesk, assessment: str) -> Response:
    """Give an answer again, worked out under the release that gave it; the bytes are the same."""
    given = desk.again(assessment)
    return unless_known(request, private(given.answer, ETag=tagged(given.record.answer_digest)))


_REPLAYED = documented("Assessment", 400, 404, 409, 422, 500, 503, etag=False)
_REPLAYED[200]["content"][JSON]["schema"] = {"anyOf": [ref("Assessment"), ref("Difference")]}


@router.post(
    "/v1/assessments/{assessment}/replay",
    operation_id="replay",
    tags=["assessments"],
    response_class=Response,
    responses=_REPLAYED,
    dependencies=[Depends(no_body)],
)
def replay(desk: AtDesk, assessment: str, query: Annotated[ReleaseQuery, Query()]) -> Response:
    """Give the identical answer under its own release, the difference under another one."""
    return private(desk.replay(assessment, query.release))


@router.get(
    "/healthz",
    tags=["service"],
    response_class=Response,
    responses=documented("Alive", etag=False),
)
async def healthz() -> Response:
    """Say that the process is alive, and nothing more."""
    return Response(canonical({"alive": True}), 200, {"Cache-Control": "no-store"}, JSON)


@router.get(
    "/readyz",
    tags=["service"],
    response_class=Response,
    responses=documented("Ready", 503, etag=False),
)
def readyz(desk: AtDesk) -> Response:
    """Say whether a document handed in now would be answered: release, engine, archive, alarms."""
    health = desk.health()
    if not health.ready:
        wrong = "; ".join(one for one in (health.engine, health.archive) if one)
        raise HTTPException(503, f"{wrong}; {health.alarms} alarms", {"Retry-After": "5"})
    body = canonical({**plain_data(health), "ready": True})
    return Response(body, 200, {"Cache-Control": "no-store"}, JSON)
