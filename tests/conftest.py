"""Fixtures every room's tests share: the engine's process, the knowledge, and a release of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from hypothesis import settings
from starlette.testclient import TestClient

from plafond.inference.crosscheck import EngineProcess
from plafond.pipeline import Release, ready
from plafond.rulebook import Rulebook, freeze
from plafond.settings import Settings, default_knowledge
from plafond.storage import MemoryArchive
from plafond.web import create_app

#: No deadline: how long an example takes says more of the machine than of the code.
settings.register_profile("plafond", deadline=None, print_blob=True)
settings.load_profile("plafond")

MEASURED = pytest.StashKey[list[str]]()


@pytest.fixture
def measured(request) -> Callable[[str], None]:
    """Say what was measured; the run ends with these lines."""
    return request.config.stash.setdefault(MEASURED, []).append


def pytest_sessionfinish(session):
    """Where tests run in several processes, hand what was measured to the one that reports."""
    if hasattr(session.config, "workeroutput"):
        session.config.workeroutput["measured"] = session.config.stash.get(MEASURED, [])


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node):
    measured = getattr(node, "workeroutput", {}).get("measured", [])
    node.config.stash.setdefault(MEASURED, []).extend(measured)


def pytest_terminal_summary(terminalreporter, config):
    lines = config.stash.get(MEASURED, [])
    if lines:
        terminalreporter.section("measured")
        terminalreporter.write_line("\n".join(lines))


@pytest.fixture(scope="session")
def engine():
    """One engine process for all tests that only want an answer from it."""
    process = EngineProcess()
    yield process
    process.stop()


@pytest.fixture(scope="session")
def frozen() -> tuple[Rulebook, bytes]:
    """The knowledge files as a release: the rulebook and its bytes."""
    return freeze(default_knowledge())


@pytest.fixture(scope="session")
def rulebook(frozen) -> Rulebook:
    """The rulebook of the knowledge files."""
    return frozen[0]


@pytest.fixture(scope="session")
def release(rulebook, engine) -> Release:
    """The knowledge, ready to run in the shared engine process."""
    return ready(rulebook, engine)


@pytest.fixture(scope="session")
def served(frozen, tmp_path_factory) -> Settings:
    """Settings of a service whose only release is the knowledge files as they stand."""
    rulebook, payload = frozen
    folder = tmp_path_factory.mktemp("served")
    (folder / "releases").mkdir()
    (folder / "releases" / f"{rulebook.version}.json").write_bytes(payload)
    return Settings(knowledge=folder, release="", archive="memory:")


@pytest.fixture(scope="session")
def service(served) -> Iterator[TestClient]:
    """A running service in this process, for tests that leave it as they found it."""
    with TestClient(create_app(served, archive=MemoryArchive())) as client:
        yield client
