"""The archive in a database: SQLite by default, PostgreSQL or another by its SQLAlchemy URL.

Opening it creates the folder of an SQLite file and brings the tables up to date (Alembic, see
migrations/). Database errors come out as ArchiveError and carry no value of a record.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from sqlalchemy import (
    URL,
    Boolean,
    Column,
    Connection,
    Engine,
    MetaData,
    String,
    Table,
    Text,
    create_engine,
    event,
    func,
    insert,
    make_url,
    select,
    text,
)
from sqlalchemy.exc import ArgumentError, IntegrityError, NoSuchModuleError, SQLAlchemyError

from plafond.errors import ArchiveError, NotKnownError, SettingsError
from plafond.storage.record import Archive, MemoryArchive, Record

MEMORY = "memory:"
LOCK_SECONDS = 10
#: Any number that no other program takes a PostgreSQL advisory lock by.
_MIGRATION_LOCK = 7_283_605_119

metadata = MetaData()
ASSESSMENTS = Table(
    "assessments",
    metadata,
    Column("assessment", String(36), primary_key=True),
    Column("at", String(32), nullable=False),
    Column("reference", String(64), nullable=False, index=True),
    Column("release_version", String(64), nullable=False),
    Column("release_digest", String(71), nullable=False, index=True),
    Column("everything", Boolean, nullable=False),
    Column("findings", Text, nullable=False),
    Column("answer_digest", String(71), nullable=False),
    Column("triage", String(16), nullable=False, index=True),
)


def open_archive(url: str) -> Archive:
    """Return the archive at an SQLAlchemy URL, its tables up to date; `memory:` forgets.

    Raises SettingsError for a URL that makes no sense, ArchiveError where it cannot be opened.
    """
    return MemoryArchive() if url == MEMORY else SqlArchive(url)


class SqlArchive:
    """An archive in one table of a database."""

    def __init__(self, url: str) -> None:
        parsed = _read_url(url)
        self._engine = _engine(parsed)
        self._writing = self._engine.execution_options(writes=True)
        with _archive_errors("the archive cannot be opened"):
            migrate(self._engine)

    def keep(self, record: Record) -> None:
        """Keep a record for good. Raises ArchiveError also where its id is kept already."""
        values = {name: getattr(record, name) for name in Record.__slots__}
        with _archive_errors("the assessment cannot be kept"), self._writing.begin() as connection:
            connection.execute(insert(ASSESSMENTS).values(values))

    def get(self, assessment: str) -> Record:
        """Return a record; raises NotKnownError where nothing is kept by that id."""
        query = select(ASSESSMENTS).where(ASSESSMENTS.c.assessment == assessment)
        with _archive_errors("the archive cannot be read"), self._engine.connect() as connection:
            row = connection.execute(query).mappings().one_or_none()
        if row is None:
            raise NotKnownError("assessment", assessment)
        return Record(**row)

    def count(self) -> int:
        """Return how many records are kept."""
        query = select(func.count()).select_from(ASSESSMENTS)
        with _archive_errors("the archive cannot be read"), self._engine.connect() as connection:
            return connection.execute(query).scalar_one()

    def close(self) -> None:
        """Close every connection."""
        self._engine.dispose()


def migrate(engine: Engine, revision: str = "head") -> None:
    """Bring the tables of a database to a revision, up or down; `base` takes them all away.

    Two processes that start at once take turns.
    """
    with engine.execution_options(writes=True).begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _MIGRATION_LOCK})
        config = Config()
        folder = Path(__file__).parent / "migrations"
        config.set_main_option("script_location", str(folder).replace("%", "%%"))
        config.attributes["connection"] = connection
        if revision == "head":
            command.upgrade(config, revision)
        else:
            command.downgrade(config, revision)


def _read_url(url: str) -> URL:
    try:
        parsed = make_url(url)
        dialect = parsed.get_dialect()
    except (ArgumentError, NoSuchModuleError) as error:
        raise SettingsError(
            "the archive's address makes no sense",
            where="PLAFOND_ARCHIVE",
            expected="an SQLAlchemy URL such as sqlite:////var/lib/plafond/archive.db, or memory:",
        ) from error
    if dialect.name == "sqlite":
        if parsed.database in (None, "", ":memory:"):
            raise SettingsError(
                "an SQLite archive needs a file",
                where="PLAFOND_ARCHIVE",
                expected="sqlite:////var/lib/plafond/archive.db",
                mend=f"write {MEMORY} for an archive that is forgotten",
            )
        _create_folder(Path(parsed.database))
    return parsed


def _create_folder(file: Path) -> None:
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ArchiveError(
            "the archive's folder cannot be created", where=str(file.parent), found=str(error)
        ) from error


def _engine(url: URL) -> Engine:
    arguments: dict[str, Any] = {}
    if url.get_backend_name() == "sqlite":
        arguments["timeout"] = LOCK_SECONDS
    try:
        # parameters are findings of a patient: they belong into no error and no log
        engine = create_engine(
            url, hide_parameters=True, pool_pre_ping=True, connect_args=arguments
        )
    except ModuleNotFoundError as error:
        raise SettingsError(
            "the driver of the archive's database is not installed",
            where="PLAFOND_ARCHIVE",
            found=str(error),
        ) from error
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    """Begin transactions ourselves, also for new tables, and write through to the disk.

    The journal stays SQLite's own: changing its mode pays no heed to the time a lock is waited
    for, so that of many processes that start at once some would fail.
    """
    connection.isolation_level = None
    connection.execute("PRAGMA synchronous=FULL")  # an answer that was given is kept


def _begin_sqlite(connection: Connection) -> None:
    """Take the write lock at once where writing is meant, so that nobody migrates twice."""
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


@contextmanager
def _archive_errors(message: str) -> Iterator[None]:
    """Turn an error of the database into ours, with its kind and none of its parameters."""
    try:
        yield
    except IntegrityError as error:
        raise ArchiveError(message, found="that id is kept already") from error
    except (SQLAlchemyError, ValueError) as error:
        raise ArchiveError(message, found=type(error).__name__) from error
