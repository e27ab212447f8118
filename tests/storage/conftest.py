"""The archives every test of storage runs over, each empty and each let go of afterwards."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from plafond.storage import Archive, MemoryArchive, SqlArchive
from plafond.storage.archive import migrate

POSTGRES = os.environ.get("PLAFOND_TEST_POSTGRES", "")
NO_POSTGRES = "PLAFOND_TEST_POSTGRES holds no SQLAlchemy URL of a PostgreSQL database for tests"


@contextmanager
def empty_database(kind: str, folder: Path) -> Iterator[str]:
    """Give the URL of a database with no tables, and take them away again."""
    if kind == "sqlite":
        yield f"sqlite:///{folder / 'deep' / 'down' / 'archive.db'}"
        return
    if not POSTGRES:
        pytest.skip(NO_POSTGRES)
    _empty(POSTGRES)
    yield POSTGRES
    _empty(POSTGRES)


def _empty(url: str) -> None:
    archive = SqlArchive(url)
    migrate(archive._engine, "base")
    archive.close()


@pytest.fixture(params=["sqlite", "postgres"])
def address(request, tmp_path) -> Iterator[str]:
    """The URL of a database of each kind, with no tables."""
    with empty_database(request.param, tmp_path) as url:
        yield url


@pytest.fixture(params=["memory", "sqlite", "postgres"])
def archive(request, tmp_path) -> Iterator[Archive]:
    """An empty archive of each kind."""
    if request.param == "memory":
        yield MemoryArchive()
        return
    with empty_database(request.param, tmp_path) as url:
        opened = SqlArchive(url)
        yield opened
        opened.close()
