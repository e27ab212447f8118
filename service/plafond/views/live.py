"""The releases at hand: read from disk once, made ready to run once, a few at a time.

Takes names (a version, a digest, or nothing for the release in service), gives rulebooks to show
and releases to run. A release that somebody runs is never dropped under them.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from plafond.errors import EngineError, NotKnownError, ReleaseError
from plafond.inference.crosscheck import EngineProcess
from plafond.pipeline import Release, ready
from plafond.rulebook import ReleaseFile, Rulebook, find_release, load_release, releases
from plafond.vocabulary import nearest

log = logging.getLogger("plafond.web")

#: How many releases besides the one in service stay at hand for replays.
MOST_BESIDES = 3


@dataclass
class _Live:
    """A release at hand, whether it is ready to run, and by how many it is being run."""

    rulebook: Rulebook
    release: Release | None = None
    users: int = 0


class LiveReleases:
    """The release in service, and the few others that somebody asked for last."""

    def __init__(self, folder: Path, current: str, engine: EngineProcess) -> None:
        self._folder = folder
        self._wanted = current
        self._engine = engine
        self._live: dict[str, _Live] = {}  # by digest, the one used last at the end
        self._current = ""
        self._dropped_alarms = 0
        self._lock = threading.RLock()

    def start(self) -> None:
        """Make the release in service ready; raises ReleaseError, KnowledgeError, EngineError."""
        with self._lock:
            rulebook = load_release(find_release(self._folder, self._wanted))
            self._live[rulebook.digest] = _Live(rulebook)
            self._current = rulebook.digest
            with self.running():
                pass

    @property
    def current(self) -> Rulebook:
        """Return the rulebook in service."""
        return self._live[self._current].rulebook

    @property
    def alarms(self) -> int:
        """Return how often there was no answer that two interpreters agreed on."""
        with self._lock:
            ready_ones = [one.release for one in self._live.values() if one.release is not None]
            return self._dropped_alarms + sum(one.inference.alarms for one in ready_ones)

    def files(self) -> tuple[ReleaseFile, ...]:
        """Return the releases on disk, newest version last."""
        return releases(self._folder)

    def rulebook(self, name: str = "") -> Rulebook:
        """Return the rulebook of a release; raises NotKnownError where none goes by the name."""
        with self._lock:
            return self._find(name).rulebook

    @contextmanager
    def running(self, name: str = "") -> Iterator[Release]:
        """Give a release that is ready to run, and hold it until the caller is done.

        Raises NotKnownError where none goes by the name, EngineError where it cannot be built.
        """
        with self._lock:
            live = self._find(name)
            if live.release is None:
                live.release = ready(live.rulebook, self._engine)
            live.users += 1
        try:
            yield live.release
        finally:
            with self._lock:
                live.users -= 1

    def _find(self, name: str) -> _Live:
        digest = name or self._current
        if digest not in self._live:
            file = self._file(name)
            digest = file.digest
            if digest not in self._live:
                self._live[digest] = _Live(load_release(file))
        live = self._live.pop(digest)
        self._live[digest] = live
        self._drop_unused()
        return live

    def _file(self, name: str) -> ReleaseFile:
        try:
            return find_release(self._folder, name)
        except ReleaseError as error:
            known = [file.version for file in self.files()]
            raise NotKnownError("release", name[:80], nearest(name, known) or known) from error

    def _drop_unused(self) -> None:
        """Drop what was asked for longest ago, until few enough are left."""
        for digest in list(self._live)[:-1]:
            live = self._live[digest]
            if len(self._live) <= MOST_BESIDES + 1:
                return
            if not live.users and digest != self._current:
                del self._live[digest]
                self._close(live)

    def _close(self, live: _Live) -> None:
        if live.release is None:
            return
        self._dropped_alarms += live.release.inference.alarms
        try:
            live.release.inference.close()
        except EngineError as error:
            log.warning("a release could not be dropped from the engine: %s", error)
