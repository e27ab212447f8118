"""The service as a web application: put together, started, stopped, its errors mapped once.

Takes settings, gives an ASGI application that answers on this machine only. The clock and the
maker of ids are read here and handed down.
"""

from __future__ import annotations

import json
import logging
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from importlib.metadata import version
from ipaddress import ip_address
from pathlib import Path
from typing import Any

import uuid_utils
from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.openapi.utils import get_openapi
from fastapi.responses import HTMLResponse
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from plafond import errors
from plafond.governance.coverage import coverage
from plafond.inference.crosscheck import EngineProcess
from plafond.rulebook import Rulebook, find_release, load_release
from plafond.settings import Settings, read_settings
from plafond.storage import Archive, open_archive
from plafond.views.catalogue import release_card
from plafond.views.desk import Desk
from plafond.views.live import LiveReleases
from plafond.views.rest import lookups, problems, routes
from plafond.views.rest.exchange import AtDesk
from plafond.views.rest.home import POLICY, coverage_page, home_page, problem_page
from plafond.views.rest.openapi import schemas
from plafond.views.rest.problems import Kind, problem

log = logging.getLogger("plafond.web")

#: Which error is of which kind of problem; an error not named here is its parent's kind.
KIND_OF: dict[type[errors.PlafondError], Kind] = {
    errors.DocumentSyntaxError: problems.NOT_JSON,
    errors.DocumentTooLargeError: problems.TOO_LARGE,
    errors.DocumentError: problems.NOT_UNDERSTOOD,
    errors.NotKnownError: problems.NOT_KNOWN,
    errors.ReleaseError: problems.NOT_KNOWN,
    errors.ReplayError: problems.CANNOT_REPLAY,
    errors.AnswerDiffersError: problems.DIFFERS,
    errors.ArchiveError: problems.ARCHIVE,
    errors.EngineError: problems.NO_ANSWER,
    errors.PlafondError: problems.SERVICE,
}
#: The same for what the framework refuses by itself, by status.
KIND_BY_STATUS: dict[int, Kind] = {
    404: problems.NO_SUCH_PLACE,
    405: problems.METHOD,
    415: problems.MEDIA_TYPE,
    503: problems.NOT_READY,
}
#: A name without a dot that no one outside can own; test clients in this process use it.
TEST_HOST = "testserver"


# -- putting together ---------------------------------------------------------------------


def create_app(
    settings: Settings | None = None,
    archive: Archive | None = None,
    clock: Callable[[], datetime] = lambda: datetime.now(UTC),
    new_id: Callable[[], str] = lambda: str(uuid_utils.uuid7()),
) -> FastAPI:
    """Return the service; the engine and the archive start and stop with it.

    `archive` stands in for the one the settings name, and is left open.
    """
    chosen = settings or read_settings()

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        engine = EngineProcess()
        live = LiveReleases(chosen.knowledge, chosen.release, engine)
        kept: Archive = (
            await run_in_threadpool(open_archive, chosen.archive) if archive is None else archive
        )
        try:
            await run_in_threadpool(live.start)
            app.state.desk = Desk(live, kept, now=lambda: _instant(clock()), new_id=new_id)
            yield
        finally:
            engine.stop()
            if archive is None:
                kept.close()

    app = _Service(chosen, lifespan=lifespan, docs_url=None, redoc_url=None, redirect_slashes=False)
    app.include_router(routes.router)
    app.include_router(lookups.router)
    app.add_api_route("/", _home, include_in_schema=False, response_class=HTMLResponse)
    app.add_api_route("/coverage", _coverage, include_in_schema=False, response_class=HTMLResponse)
    app.add_api_route(
        "/problems/{kind}", _problem_page, include_in_schema=False, response_class=HTMLResponse
    )
    app.add_middleware(ThisMachineOnly)
    app.add_exception_handler(errors.PlafondError, _on_error)
    app.add_exception_handler(HTTPException, _on_refusal)
    app.add_exception_handler(RequestValidationError, _on_parameters)
    app.add_exception_handler(ClientDisconnect, _on_hang_up)
    app.add_exception_handler(Exception, _on_surprise)
    return app


def _instant(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def _home(desk: AtDesk) -> HTMLResponse:
    page = home_page(release_card(desk.live.current, in_service=True))
    return HTMLResponse(page, headers={"Content-Security-Policy": POLICY})


def _coverage(desk: AtDesk) -> HTMLResponse:
    page = coverage_page(coverage(desk.live.current))
    return HTMLResponse(page, headers={"Content-Security-Policy": POLICY})


def _problem_page(kind: str) -> HTMLResponse:
    found = problems.KINDS.get(kind)
    if found is None:
        raise errors.NotKnownError("kind of problem", kind[:80])
    page = problem_page(found.title, found.status, found.meaning)
    return HTMLResponse(page, headers={"Content-Security-Policy": POLICY})


# -- this machine only --------------------------------------------------------------------


def require_loopback(host: str) -> str:
    """Return an address to listen on; raises SettingsError for any but this machine's own."""
    if is_loopback(host):
        return host
    raise errors.SettingsError(
        "the service listens on this machine only, because callers cannot be authenticated yet",
        where="PLAFOND_HOST",
        found=host,
        expected="127.0.0.1, ::1 or localhost",
        mend="put a gateway that authenticates callers in front of it, on this machine",
    )


def is_loopback(host: str) -> bool:
    """Say whether a host is this machine, by name or by address."""
    try:
        return host.lower() == "localhost" or ip_address(host).is_loopback
    except ValueError:
        return False


class ThisMachineOnly:
    """Refuses requests that name another host, or that came in by another address.

    A page elsewhere whose name is made to point here (DNS rebinding) names its own host; a server
    started on every address against our advice gives away the address it was reached by.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def send_on(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message)["X-Content-Type-Options"] = "nosniff"
            await send(message)

        named = _without_port(Headers(scope=scope).get("host", ""))
        reached = str((scope.get("server") or (named, None))[0])
        if all(one == TEST_HOST or is_loopback(one) for one in (named, reached)):
            await self._app(scope, receive, send_on)
        else:
            await problem(problems.HOST, scope)(scope, receive, send_on)


def _without_port(host: str) -> str:
    if host.startswith("["):
        return host[1:].partition("]")[0]
    return host.partition(":")[0]


# -- errors -------------------------------------------------------------------------------


def _on_error(request: Request, error: Exception) -> Response:
    """Answer an error of ours."""
    assert isinstance(error, errors.PlafondError)
    kind = next(KIND_OF[one] for one in type(error).__mro__ if one in KIND_OF)
    if kind.status >= 500:
        log.error("%s %s: %s", request.method, request.scope["path"], error)
    detail = "" if kind is problems.SERVICE else _detail(error)
    return problem(kind, request.scope, detail, **_more(error))


def _detail(error: errors.PlafondError) -> str:
    """Return what an error says, but not where: that may be a file or an address of ours."""
    parts = (error.message, error.found and f"found {error.found}", error.mend)
    return "; ".join(part for part in parts if part)


def _more(error: errors.PlafondError) -> dict[str, Any]:
    match error:
        case errors.DocumentError() | errors.ReplayError():
            return {"faults": list(error.faults)}
        case errors.NotKnownError():
            return {"nearest": list(error.nearest)}
        case errors.EngineError() if error.where:
            return {"case": error.where}
        case _:
            return {}


def _on_refusal(request: Request, error: Exception) -> Response:
    """Answer what the framework refuses: a path, a method, a media type."""
    assert isinstance(error, HTTPException)
    kind = KIND_BY_STATUS.get(error.status_code)
    if kind is None:
        kind = Kind("refused", error.status_code, "The request was refused", str(error.detail))
    detail = "" if error.status_code in (404, 405) else str(error.detail)
    return problem(kind, request.scope, detail, error.headers)


def _on_parameters(request: Request, error: Exception) -> Response:
    """Answer query parameters that are not known or make no sense."""
    assert isinstance(error, RequestValidationError)
    faults = [
        {"name": str(fault["loc"][-1])[:80], "message": str(fault["msg"])[:200]}
        for fault in error.errors()[:20]
    ]
    detail = "; ".join(f"{fault['name']}: {fault['message']}" for fault in faults)
    return problem(problems.PARAMETERS, request.scope, detail, parameters=faults)


def _on_hang_up(_request: Request, _error: Exception) -> Response:
    """Answer nobody: the caller hung up before the document was whole."""
    return Response(status_code=400)


def _on_surprise(request: Request, error: Exception) -> Response:
    """Answer an error nobody foresaw, and give away nothing of it."""
    log.critical("%s %s: %s", request.method, request.scope["path"], type(error).__name__)
    return problem(problems.SERVICE, request.scope)


# -- its description ----------------------------------------------------------------------


class _Service(FastAPI):
    """The application, described from the vocabulary of the release in service."""

    def __init__(self, settings: Settings, **arguments: Any) -> None:
        super().__init__(**arguments)
        self._settings = settings
        self._described: dict[str, Any] | None = None

    def openapi(self) -> dict[str, Any]:
        """Return the OpenAPI 3.1 description; loads the release where it does not run yet."""
        if self._described is None:
            self._described = self._describe()
        return self._described

    def _rulebook(self) -> Rulebook:
        desk: Desk | None = getattr(self.state, "desk", None)
        if desk is not None:
            return desk.live.current
        settings = self._settings
        return load_release(find_release(settings.knowledge, settings.release))

    def _describe(self) -> dict[str, Any]:
        rulebook = self._rulebook()
        described = get_openapi(
            title="plafond",
            version=version("plafond"),
            description=f"{rulebook.title}, release {rulebook.version}. {rulebook.notice}",
            routes=self.routes,
        )
        described["components"] = {"schemas": schemas(rulebook.vocabulary)}
        for path in described["paths"].values():
            for operation in path.values():
                _without_foreign_errors(operation["responses"])
        return described


def _without_foreign_errors(responses: dict[str, Any]) -> None:
    """Take away the 422 that the framework describes and this service never sends."""
    if "application/json" in responses.get("422", {}).get("content", {}):
        del responses["422"]


def export_openapi(settings: Settings | None = None, examples: Path | None = None) -> bytes:
    """Return the description as it is kept in openapi/openapi.json, with examples of stories.

    `examples` is the folder of stories; the project's own where it is left out.
    """
    stories = examples or Path(__file__).parents[2] / "examples"
    described = create_app(settings).openapi()
    posted = described["paths"]["/v1/assessments"]["post"]
    documents: dict[str, Any] = {}
    answers: dict[str, Any] = {}
    for folder in sorted(path.parent for path in stories.glob("*/findings.json")):
        documents[folder.name] = {"value": json.loads((folder / "findings.json").read_bytes())}
        answer = folder / "assessment.json"
        if answer.is_file() and not answers:  # one is enough to see what an answer looks like
            answers[folder.name] = {"value": json.loads(answer.read_bytes())}
    if documents:
        posted["requestBody"]["content"]["application/json"]["examples"] = documents
    if answers:
        posted["responses"]["201"]["content"]["application/json"]["examples"] = answers
    return (json.dumps(described, ensure_ascii=False, indent=1) + "\n").encode()
