"""The desk every web view hands documents in at: assess and keep, give again, compare.

Takes bytes or an id, gives a record and an answer in canonical bytes. The clock and the maker of
ids are handed in. What cannot be given again later is not answered now.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Callable
from dataclasses import dataclass

from plafond.assessment import Assessment
from plafond.errors import (
    AnswerDiffersError,
    ArchiveError,
    DocumentError,
    EngineError,
    NotKnownError,
    ReplayError,
)
from plafond.findings import Findings
from plafond.intake.structured import findings_of, read_findings, write_findings
from plafond.pipeline import Release, assess
from plafond.rulebook import Rulebook, digest_of
from plafond.storage import Archive, Record
from plafond.views.answer import answer_bytes, canonical
from plafond.views.difference import Reading, difference, reading
from plafond.views.live import LiveReleases

log = logging.getLogger("plafond.web")


@dataclass(frozen=True, slots=True)
class Given:
    """An answer that was given: what is kept of it, and its bytes."""

    record: Record
    answer: bytes


@dataclass(frozen=True, slots=True)
class Health:
    """Whether answers can be given; `engine` and `archive` say what is wrong, or nothing.

    `alarms` counts, since the service started, how often there was no answer to be trusted.
    """

    release: str
    engine: str
    archive: str
    alarms: int

    @property
    def ready(self) -> bool:
        """Say whether a document handed in now would be answered."""
        return not (self.engine or self.archive)


class Desk:
    """What the service does, without the web around it. Safe to use from many threads."""

    def __init__(
        self,
        live: LiveReleases,
        archive: Archive,
        *,
        now: Callable[[], str],
        new_id: Callable[[], str],
    ) -> None:
        self.live = live
        self.archive = archive
        self._now = now
        self._new_id = new_id
        self._alarms = 0

    def assess(self, payload: bytes, *, release: str = "", everything: bool = False) -> Given:
        """Assess a document in the native form, and keep it.

        Raises DocumentError and its kinds, NotKnownError for an unknown release, EngineError
        where no two interpreters agree, ArchiveError where it cannot be kept: then there is no
        answer, and nothing is kept.
        """
        with self.live.running(release) as running:
            findings = read_findings(payload, running.rulebook.vocabulary)
            name, at = self._new_id(), self._now()
            assessment = assess(findings, running, assessment=name, at=at, everything=everything)
        answer = answer_bytes(assessment)
        record = Record(
            assessment=name,
            at=at,
            reference=findings.reference,
            release_version=running.rulebook.version,
            release_digest=running.rulebook.digest,
            everything=everything,
            findings=_write(findings, running.rulebook),
            answer_digest=digest_of(answer),
            triage=assessment.triage,
        )
        if not _same(_read(record, running.rulebook), findings):
            raise ArchiveError("the findings cannot be kept without loss", where=name)
        self.archive.keep(record)
        return Given(record, answer)

    def again(self, name: str) -> Given:
        """Work out an answer again from what was kept, under the release it was given by.

        Raises NotKnownError, EngineError, ArchiveError, and AnswerDiffersError (with an alarm)
        where it is not the answer that was given.
        """
        record = self.archive.get(name)
        try:
            with self.live.running(record.release_digest) as running:
                answer = answer_bytes(_assess(record, running))
        except (NotKnownError, DocumentError) as error:
            message = f"the release {record.release_version} that gave this answer is not here"
            raise ArchiveError(message, where=name, found=str(error)) from error
        if digest_of(answer) != record.answer_digest:
            self._alarms += 1
            log.critical("the answer to %s given again differs from the one given then", name)
            raise AnswerDiffersError(
                "the answer given again differs from the one that was given",
                where=name,
                expected=record.answer_digest,
                found=digest_of(answer),
                mend="do not use either; this is a fault of the service, and it has been logged",
            )
        return Given(record, answer)

    def replay(self, name: str, release: str = "") -> bytes:
        """Return the same answer under the same release, the difference under another one.

        Raises what `again` raises, NotKnownError for an unknown release, and ReplayError where
        the findings do not fit the vocabulary of the other release.
        """
        record = self.archive.get(name)
        other = self.live.rulebook(release or record.release_digest)
        if other.digest == record.release_digest:
            return self.again(name).answer
        self.again(name)  # the answer that was given stands, or there is nothing to compare with
        with (
            self.live.running(record.release_digest) as then,
            self.live.running(other.digest) as now,
        ):
            before = _reading(record, then)
            try:
                after = _reading(record, now)
            except DocumentError as error:
                message = f"what was recorded does not fit release {now.rulebook.version}"
                raise ReplayError(message, where=name, faults=error.faults) from error
        return canonical(difference(before, after))

    def health(self) -> Health:
        """Try everything an answer needs, and say what does not work."""
        engine = archive = ""
        try:
            with self.live.running() as running:
                running.inference.truths({}, case="readiness")
        except EngineError as error:
            engine = error.message
        try:
            self.archive.count()
        except ArchiveError as error:
            archive = error.message
        alarms = self._alarms + self.live.alarms
        return Health(self.live.current.version, engine, archive, alarms)


def _assess(record: Record, release: Release) -> Assessment:
    """Assess what was kept, as of then, under a release; raises DocumentError if it won't fit."""
    return assess(
        _read(record, release.rulebook),
        release,
        assessment=record.assessment,
        at=record.at,
        everything=record.everything,
    )


def _reading(record: Record, release: Release) -> Reading:
    return reading(_assess(record, release), _read(record, release.rulebook), release)


def _write(findings: Findings, rulebook: Rulebook) -> str:
    document = write_findings(findings, rulebook.vocabulary)
    document.pop("reference", None)  # kept once, in its own place
    return canonical(document).decode()


def _same(kept: Findings, given: Findings) -> bool:
    """Say whether two findings are the same, in whatever order they were written."""
    heads = (kept.reference, kept.recorded) == (given.reference, given.recorded)
    return heads and set(kept.records) == set(given.records)


def _read(record: Record, rulebook: Rulebook) -> Findings:
    document = json.loads(record.findings)
    if record.reference:
        document["reference"] = record.reference
    return findings_of(document, rulebook.vocabulary)
