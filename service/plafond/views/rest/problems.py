"""Problem details (RFC 9457): the kinds of problem there are, and how one is written.

Takes a kind and what happened, gives a response. Which error is of which kind is said in web.py.
Nothing of a document but pointers and what stood there, no path of this machine, goes out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from fastapi import Response
from starlette.types import Scope

from plafond.views.answer import canonical
from plafond.views.rest.exchange import PROBLEM

MOST_DETAIL = 600
RETRY_SECONDS = "5"


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of problem: its name in the URI, its status, its title, and what it means."""

    name: str
    status: int
    title: str
    meaning: str


NOT_JSON = Kind(
    "document-not-json",
    400,
    "The document is not JSON that can be read in one way",
    "The body is not JSON in UTF-8, or it could be read in two ways: a key that stands twice, "
    "NaN, a number of too many digits, hidden characters, nesting that is too deep.",
)
PARAMETERS = Kind(
    "parameters-not-understood",
    400,
    "The parameters are not understood",
    "A query parameter is not known here or has a value it cannot have; `parameters` names each.",
)
NOT_KNOWN = Kind(
    "not-known",
    404,
    "Nothing goes by that name",
    "No assessment, finding, option, rule, source or release goes by the name that was given; "
    "`nearest` holds the closest that do.",
)
NO_SUCH_PLACE = Kind(
    "no-such-place", 404, "Nothing is here", "The path is not one of this interface."
)
METHOD = Kind(
    "method-not-allowed",
    405,
    "That cannot be done here",
    "The path is there, but not for this method; `Allow` names those it is there for.",
)
CANNOT_REPLAY = Kind(
    "replay-not-possible",
    409,
    "The assessment cannot be played again under that release",
    "Something that was recorded is not in the vocabulary of the other release; `faults` says "
    "what.",
)
TOO_LARGE = Kind(
    "document-too-large",
    413,
    "The document is too large",
    "The body is larger than anything one patient needs.",
)
MEDIA_TYPE = Kind(
    "media-type-not-supported",
    415,
    "Only JSON is read here",
    "A body is application/json in UTF-8, and not compressed.",
)
HOST = Kind(
    "host-not-allowed",
    421,
    "This service answers on this machine only",
    "Callers cannot be authenticated yet, so requests are answered only where they name this "
    "machine (localhost, 127.0.0.1 or ::1) and reach it by that address.",
)
NOT_UNDERSTOOD = Kind(
    "document-not-understood",
    422,
    "The document does not fit the vocabulary",
    "Something in the document is not known here, is out of range, has a wrong unit or stands in "
    "the wrong place; `faults` names every such thing with its JSON pointer. Nothing was kept.",
)
SERVICE = Kind(
    "fault-of-the-service",
    500,
    "The service is at fault",
    "Something went wrong that the caller can do nothing about; it has been logged.",
)
DIFFERS = Kind(
    "answer-differs",
    500,
    "The answer given again differs from the one that was given",
    "The same findings under the same release must give the same bytes, and did not. Use neither "
    "answer; it has been logged as an alarm.",
)
NO_ANSWER = Kind(
    "no-answer",
    503,
    "There is no answer that may be used",
    "The inference engine gave no answer, or two interpreters of the rules disagreed. There is "
    "never an answer from one of them alone. `case` names the assessment that was not given.",
)
ARCHIVE = Kind(
    "archive-not-available",
    503,
    "The archive is not available",
    "An answer that cannot be kept is not given, and one that cannot be found is not given again.",
)
NOT_READY = Kind(
    "not-ready",
    503,
    "The service cannot give answers now",
    "The engine or the archive does not work; `detail` says which.",
)
KINDS: Mapping[str, Kind] = {
    kind.name: kind
    for kind in (
        NOT_JSON, PARAMETERS, NOT_KNOWN, NO_SUCH_PLACE, METHOD, CANNOT_REPLAY, TOO_LARGE,
        MEDIA_TYPE, HOST, NOT_UNDERSTOOD, SERVICE, DIFFERS, NO_ANSWER, ARCHIVE, NOT_READY,
    )
}  # fmt: skip


def problem(
    kind: Kind,
    scope: Scope,
    detail: str = "",
    headers: Mapping[str, str] | None = None,
    **more: Any,
) -> Response:
    """Return a problem of a kind; `more` holds members that only some kinds have."""
    body = {
        "type": f"/problems/{kind.name}",
        "title": kind.title,
        "status": kind.status,
        "detail": (detail or kind.meaning)[:MOST_DETAIL],
        "instance": quote(str(scope["path"]), safe="/:")[:MOST_DETAIL],
        **more,
    }
    sent = {"Cache-Control": "no-store", **(headers or {})}
    if kind.status == 503:
        sent.setdefault("Retry-After", RETRY_SECONDS)
    return Response(canonical(body), kind.status, sent, PROBLEM)
