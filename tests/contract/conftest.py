"""Services the contract is tested on: one with several releases, and ones that may be broken."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
import rfc8785
from starlette.testclient import TestClient

from plafond.settings import Settings
from plafond.storage import Archive, MemoryArchive
from plafond.web import create_app

ANKLE = {
    "reference": "tarrow/17",
    "recorded": "2026-11-20",
    "person": {"age": "27 a", "diabetes": "absent", "body-weight": "80 kg"},
    "left": {
        "giving-way": "present",
        "recurrent-sprains": "present",
        "anterior-drawer": "positive",
        "anterior-drawer-displacement": "12 mm",
        "talar-tilt-angle": [{"value": 11, "unit": "deg", "on": "2026-03-02"}, "12.5 deg"],
        "rehabilitation-duration": {"value": 3, "unit": "wk"},
    },
    "right": {"anterior-drawer-displacement": "3 mm"},
}
AT = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)
RULE = "ankle.lateral-ligament.arthroscopic-repair.indicated"

Starter = Callable[..., Any]


@pytest.fixture
def ankle() -> dict[str, Any]:
    """A document about an ankle that gives way, of which too little is known to decide."""
    copy: dict[str, Any] = json.loads(json.dumps(ANKLE))
    return copy


@pytest.fixture(scope="session")
def several(frozen, tmp_path_factory) -> Settings:
    """Three releases: the knowledge as it stands; one rule made lenient; one range made narrow."""
    folder: Path = tmp_path_factory.mktemp("several")
    (folder / "releases").mkdir()
    rulebook, payload = frozen
    texts = {rulebook.version: payload, "2099.1.0": lenient(payload), "2099.2.0": narrow(payload)}
    for version, text in texts.items():
        (folder / "releases" / f"{version}.json").write_bytes(text)
    return Settings(knowledge=folder, release=rulebook.version, archive="memory:")


def lenient(payload: bytes) -> bytes:
    """Return a release in which an ankle that gives way is enough for a repair.

    Two rules are new in it; of an ankle that gives way one is met and one is not.
    """
    data = json.loads(payload)
    data["rulebook"]["version"] = "2099.1.0"
    rule = next(one for one in data["rules"] if one["id"] == RULE)
    rule |= {"version": rule["version"] + 1, "when": {"giving-way": {"is": "present"}}}
    rule.pop("parameters", None)
    for name, word in (("made-up.met", "present"), ("made-up.not-met", "absent")):
        data["rules"].append({**rule, "id": name, "when": {"giving-way": {"is": word}}})
    data["rules"].sort(key=lambda one: one["id"])
    return rfc8785.dumps(data)


def narrow(payload: bytes) -> bytes:
    """Return a release that holds a body weight below 50 kg for implausible."""
    data = json.loads(payload)
    data["rulebook"]["version"] = "2099.2.0"
    for group in data["vocabulary"]:
        if "body-weight" in group["findings"]:
            group["findings"]["body-weight"]["range"][0] = 50
    return rfc8785.dumps(data)


@pytest.fixture(scope="session")
def start() -> Starter:
    """Start a service of one's own, to break it: `with start(settings, archive) as client`."""

    @contextmanager
    def started(settings: Settings, archive: Archive | None = None) -> Iterator[TestClient]:
        kept = MemoryArchive() if archive is None else archive
        app = create_app(settings, archive=kept, clock=lambda: AT)
        with TestClient(app, raise_server_exceptions=False) as client:
            yield client

    return started


@pytest.fixture(scope="session")
def releases_service(several, start) -> Iterator[TestClient]:
    """A running service with several releases, for tests that leave it as they found it."""
    with start(several) as client:
        yield client
