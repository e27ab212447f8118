"""What a release is made of, over HTTP: lists with filters, and everything by its id.

Takes names, asks the catalogue, gives canonical JSON with its digest as ETag; what the caller
has already is not sent again.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Literal, TypeVar

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import Field

from plafond.rulebook import Rulebook
from plafond.views import catalogue
from plafond.views.rest.exchange import AtDesk, ReleaseQuery, documented, looked_up, no_query

router = APIRouter()
_View = TypeVar("_View", bound=Callable[..., Response])


class FindingsQuery(ReleaseQuery):
    """Which findings are listed."""

    group: str = Field("", max_length=80)
    kind: Literal["", "presence", "choice", "quantity", "count"] = ""


class OptionsQuery(ReleaseQuery):
    """Which options are listed."""

    trait: Literal["", "arthroscopic", "elective", "fusion", "implant", "debridement"] = ""


class RulesQuery(ReleaseQuery):
    """Which rules are listed."""

    kind: Literal["", "indication", "contraindication", "caution", "red-flag", "derivation"] = ""
    option: str = Field("", max_length=80, description="rules that speak of this option")
    finding: str = Field("", max_length=80, description="rules that test this finding")


def _listed(request: Request, rulebook: Rulebook, name: str, entries: list[Any]) -> Response:
    release = {"version": rulebook.version, "digest": rulebook.digest}
    return looked_up(request, {"release": release, "count": len(entries), name: entries})


def _look_up(path: str, schema: str, *checks: Callable[..., None]) -> Callable[[_View], _View]:
    """Return the decorator of an operation that shows a part of a release."""
    return router.get(
        path,
        tags=["releases"],
        response_class=Response,
        responses=documented(schema, 400, 404),
        dependencies=[Depends(check) for check in checks],
    )


@_look_up("/v1/findings", "Findings")
def findings(request: Request, desk: AtDesk, query: Annotated[FindingsQuery, Query()]) -> Response:
    """List what can be recorded of a patient."""
    rulebook = desk.live.rulebook(query.release)
    entries = catalogue.findings(rulebook, group=query.group, kind=query.kind)
    return _listed(request, rulebook, "findings", entries)


@_look_up("/v1/findings/{finding}", "FindingEntry")
def finding(
    request: Request, desk: AtDesk, finding: str, query: Annotated[ReleaseQuery, Query()]
) -> Response:
    """Show what one finding is."""
    vocabulary = desk.live.rulebook(query.release).vocabulary
    return looked_up(request, catalogue.finding(vocabulary[finding]))


@_look_up("/v1/options", "Options")
def options(request: Request, desk: AtDesk, query: Annotated[OptionsQuery, Query()]) -> Response:
    """List the procedures, and what to do instead."""
    rulebook = desk.live.rulebook(query.release)
    entries = catalogue.options(rulebook, trait=query.trait)
    return _listed(request, rulebook, "options", entries)


@_look_up("/v1/options/{option}", "Option")
def option(
    request: Request, desk: AtDesk, option: str, query: Annotated[ReleaseQuery, Query()]
) -> Response:
    """Show one option with its approach card."""
    rulebook = desk.live.rulebook(query.release)
    return looked_up(request, catalogue.option_card(rulebook, option))


@_look_up("/v1/rules", "Rules")
def rules(request: Request, desk: AtDesk, query: Annotated[RulesQuery, Query()]) -> Response:
    """List the rules."""
    rulebook = desk.live.rulebook(query.release)
    entries = catalogue.rules(rulebook, kind=query.kind, option=query.option, tests=query.finding)
    return _listed(request, rulebook, "rules", entries)


@_look_up("/v1/rules/{rule}", "Rule")
def rule(
    request: Request, desk: AtDesk, rule: str, query: Annotated[ReleaseQuery, Query()]
) -> Response:
    """Show one rule: its condition, its grounds, its cases."""
    rulebook = desk.live.rulebook(query.release)
    return looked_up(request, catalogue.rule_card(rulebook, rule))


@_look_up("/v1/sources", "Sources")
def sources(request: Request, desk: AtDesk, query: Annotated[ReleaseQuery, Query()]) -> Response:
    """List the publications that rules and approach cards rest on."""
    rulebook = desk.live.rulebook(query.release)
    return _listed(request, rulebook, "sources", list(rulebook.sources.values()))


@_look_up("/v1/sources/{source}", "Source")
def source(
    request: Request, desk: AtDesk, source: str, query: Annotated[ReleaseQuery, Query()]
) -> Response:
    """Show one publication (CSL-JSON)."""
    rulebook = desk.live.rulebook(query.release)
    return looked_up(request, catalogue.source_card(rulebook, source))


@_look_up("/v1/releases", "Releases", no_query)
def releases(request: Request, desk: AtDesk) -> Response:
    """List the releases that can be asked for."""
    current = desk.live.current
    entries = [
        catalogue.ReleaseEntry(file.version, file.digest, file.digest == current.digest)
        for file in desk.live.files()
    ]
    return _listed(request, current, "releases", entries)


@_look_up("/v1/releases/{release}", "ReleaseCard", no_query)
def release(request: Request, desk: AtDesk, release: str) -> Response:
    """Show what one release says of itself, by its version or digest."""
    rulebook = desk.live.rulebook(release)
    in_service = rulebook.digest == desk.live.current.digest
    return looked_up(request, catalogue.release_card(rulebook, in_service=in_service))
