"""Sources in a line: short references with numbers for a page, full ones for a rule.

Takes CSL-JSON items; gives text. A part of a citation that is not known is left out, never
guessed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import groupby
from typing import Any

SHORT_TITLE = 72


class Numbered:
    """Sources numbered in the order a page first names them."""

    def __init__(self, sources: Mapping[str, Mapping[str, Any]]) -> None:
        self._sources = sources
        self._numbers: dict[str, int] = {}

    def cite(self, names: Iterable[str]) -> str:
        """Return the marks of these sources, such as `[1-3, 7]`; nothing where there are none."""
        numbers = {self._number(name) for name in names if name in self._sources}
        return f"[{_ranges(sorted(numbers))}]" if numbers else ""

    def _number(self, name: str) -> int:
        return self._numbers.setdefault(name, len(self._numbers) + 1)

    def listed(self) -> list[tuple[int, str]]:
        """Return each source that was cited so far: its number and its short reference."""
        return [(number, short(self._sources[name])) for name, number in self._numbers.items()]


def _ranges(numbers: list[int]) -> str:
    runs = []
    for _, run in groupby(enumerate(numbers), key=lambda pair: pair[1] - pair[0]):
        ends = [number for _, number in run]
        apart = "-" if len(ends) > 2 else ", "
        runs.append(str(ends[0]) if len(ends) == 1 else f"{ends[0]}{apart}{ends[-1]}")
    return ", ".join(runs)


def short(source: Mapping[str, Any]) -> str:
    """Return first author, short title, journal, year and DOI, as far as they are known."""
    year, journal = _year(source), str(source.get("container-title", ""))
    title = _cut(str(source["title"]))
    place = " ".join(part for part in (journal, year) if part)
    return _joined((_first(source), title, place), _locator(source))


def full(source: Mapping[str, Any]) -> str:
    """Return every part of a citation that is known."""
    authors = ", ".join(_name(author) for author in source.get("author", ()))
    volume = str(source.get("volume", ""))
    issue = f"({source['issue']})" if "issue" in source else ""
    page = f":{source['page']}" if "page" in source else ""
    journal = str(source.get("container-title", source.get("publisher", "")))
    place = " ".join(part for part in (journal, _year(source), f"{volume}{issue}{page}") if part)
    ids = [f"doi:{source['DOI']}"] if "DOI" in source else []
    ids += [f"PMID {source['PMID']}"] if "PMID" in source else []
    ids += [str(source["URL"])] if "URL" in source else []
    return _joined((authors, str(source["title"]), place), " ".join(ids))


def _joined(sentences: Iterable[str], locator: str) -> str:
    """Return sentences with their stops, and a locator without one, so that it can be copied."""
    stopped = (one if one.endswith((".", "?")) else f"{one}." for one in sentences if one)
    return " ".join([*stopped, *([locator] if locator else [])])


def _first(source: Mapping[str, Any]) -> str:
    authors = list(source.get("author", ()))
    if not authors:
        return ""
    return _name(authors[0]) + (" et al" if len(authors) > 1 else "")


def _name(author: Mapping[str, str]) -> str:
    if "literal" in author:
        return author["literal"]
    return " ".join(author[part] for part in ("family", "given") if part in author)


def _year(source: Mapping[str, Any]) -> str:
    parts = source.get("issued", {}).get("date-parts", [[]])
    return str(parts[0][0]) if parts[0] else ""


def _locator(source: Mapping[str, Any]) -> str:
    if "DOI" in source:
        return f"doi:{source['DOI']}"
    return f"PMID {source['PMID']}" if "PMID" in source else str(source.get("URL", ""))


def _cut(title: str) -> str:
    title = title.rstrip(".")
    if len(title) <= SHORT_TITLE:
        return title
    return title[:SHORT_TITLE].rsplit(" ", 1)[0].rstrip(",;:") + "..."
