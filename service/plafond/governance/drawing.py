"""The map of the field as a picture: options down, what is known of each across, as SVG text.

Every cell says its number; a bar beneath it shows the same number against the largest of its
column, and a gap (a nought where something is wanted) is framed as well. No script, no colour that
means anything alone; readable on a light and on a dark page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from html import escape

from plafond.governance.coverage import Coverage, OptionRow

ROW, HEAD, GROUP, LABEL, COLUMN, MARGIN = 26, 64, 30, 380, 84, 16
TITLE, BAR = 54, 4
TITLE_LETTERS = 52

#: The picture brings its own ground, so that it can be read wherever it is put.
_STYLE = (
    ".ground{fill:#fff}.ink{fill:#1b1b1b}.soft{fill:#4a4a4a}.bar{fill:#2b6cb0}.rail{fill:#dfe3e8}"
    ".band{fill:#f1f3f5}.gap{fill:none;stroke:#1b1b1b;stroke-dasharray:3 2}"
    "@media (prefers-color-scheme: dark){.ground{fill:#16181b}.ink{fill:#f2f2f2}"
    ".soft{fill:#c4c8cc}.bar{fill:#7db3ee}.rail{fill:#3a4048}.band{fill:#22262b}"
    ".gap{stroke:#f2f2f2}}"
)


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading in two lines, its number (none for words), and what it says.

    `wanted` says whether a nought there is a gap in an option.
    """

    heading: tuple[str, str]
    number: Callable[[OptionRow], int]
    says: Callable[[OptionRow], str]
    wanted: Callable[[OptionRow], bool]


def _numbered(
    heading: tuple[str, str],
    number: Callable[[OptionRow], int],
    wanted: Callable[[OptionRow], bool] = lambda _: False,
) -> Column:
    return Column(heading, number, lambda row: str(number(row)), wanted)


def _worded(heading: tuple[str, str], says: Callable[[OptionRow], str]) -> Column:
    return Column(heading, lambda _: 0, says, lambda _: False)


def _graded(row: OptionRow) -> str:
    return f"{row.grade} {row.direction}" if row.direction == "against" else row.grade or "-"


COLUMNS = (
    _numbered(("indi-", "cations"), lambda row: row.indications, lambda _: True),
    _numbered(("forbidden", "absolutely"), lambda row: row.absolute.total),
    _numbered(
        ("forbidden", "relatively"),
        lambda row: row.relative.total,
        lambda row: row.arthroscopic and not row.absolute.total,
    ),
    _numbered(("", "cautions"), lambda row: row.cautions.total),
    _numbered(("red flags", "that hold it"), lambda row: row.red_flags.total),
    _numbered(("", "sources"), lambda row: row.sources, lambda _: True),
    _numbered(("", "cases"), lambda row: row.cases, lambda _: True),
    _worded(("best", "grade"), _graded),
    _worded(("weakest", "confidence"), lambda row: row.confidence or "-"),
)
WIDTH = MARGIN * 2 + LABEL + COLUMN * len(COLUMNS)


def picture(covered: Coverage) -> str:
    """Return the map of the field as an SVG document."""
    height = TITLE + HEAD + GROUP * len(covered.regions) + ROW * len(covered.rows) + MARGIN
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" '
        f'width="{WIDTH}" height="{height}" role="img" aria-labelledby="map-title map-desc" '
        'font-family="system-ui, sans-serif" font-size="13">',
        f'<title id="map-title">{escape(_title(covered))}</title>',
        f'<desc id="map-desc">{escape(describe(covered))}</desc>',
        f"<style>{_STYLE}</style>",
        f'<rect class="ground" width="{WIDTH}" height="{height}"/>',
        _text(MARGIN, 24, _title(covered), weight="bold", size=16),
        _text(MARGIN, 44, _totals(covered), soft=True),
        *_headings(TITLE),
        *_body(covered, TITLE + HEAD),
        "</svg>",
    ]
    return "\n".join(lines) + "\n"


def describe(covered: Coverage) -> str:
    """Return in sentences what the picture shows, for a reader who does not see it."""
    regions = "; ".join(
        f"{one.name}: {one.options} options, {one.rules} rules, {one.cases} cases, "
        f"{one.sources} sources"
        for one in covered.regions
    )
    gaps = [row.title for row in covered.rows if any(_gap(column, row) for column in COLUMNS)]
    lacking = f" Framed, because something is wanted there: {', '.join(gaps)}." if gaps else ""
    return (
        "A table with a row for each option and a column for each thing counted. Every cell gives "
        f"its number; the bar beneath compares it within the column. {regions}.{lacking}"
    )


def _title(covered: Coverage) -> str:
    return f"What the rules of {covered.version} cover"


def _totals(covered: Coverage) -> str:
    kinds = ", ".join(f"{count} {kind}" for kind, count in covered.kinds if count)
    return (
        f"{len(covered.rows)} options, {covered.rules} rules ({kinds}), {covered.cases} cases, "
        f"{covered.sources} sources, {covered.findings} findings"
    )


def _headings(top: int) -> Iterator[str]:
    for index, column in enumerate(COLUMNS):
        for line, text in enumerate(column.heading):
            yield _text(_middle(index), top + 28 + 16 * line, text, middle=True, soft=True)


def _body(covered: Coverage, top: int) -> Iterator[str]:
    most = [max((column.number(row) for row in covered.rows), default=0) for column in COLUMNS]
    for region in covered.regions:
        words = f"{region.name}: {region.options} options, {region.arthroscopic} by keyhole"
        yield f'<rect class="band" y="{top}" width="{WIDTH}" height="{GROUP - 4}"/>'
        yield _text(MARGIN, top + 18, words, weight="bold")
        top += GROUP
        for row in (one for one in covered.rows if one.region == region.name):
            yield from _row(row, top, most)
            top += ROW


def _row(row: OptionRow, top: int, most: list[int]) -> Iterator[str]:
    mark = "" if row.arthroscopic else " (no keyhole)"
    room = TITLE_LETTERS - len(mark)
    short = row.title if len(row.title) <= room else row.title[: room - 3].rstrip() + "..."
    yield f"<g><title>{escape(row.title)}</title>"
    yield _text(MARGIN + 8, top + 15, short + mark)
    for index, column in enumerate(COLUMNS):
        left = MARGIN + LABEL + COLUMN * index + 8
        width = COLUMN - 16
        yield _text(_middle(index), top + 14, column.says(row), middle=True)
        if _gap(column, row):
            yield f'<rect class="gap" x="{left}" y="{top}" width="{width}" height="{ROW - 8}"/>'
        elif most[index]:
            long = round(width * column.number(row) / most[index], 1)
            place = f'x="{left}" y="{top + 18}" height="{BAR}"'
            yield f'<rect class="rail" {place} width="{width}"/>'
            yield f'<rect class="bar" {place} width="{long}"/>'
    yield "</g>"


def _gap(column: Column, row: OptionRow) -> bool:
    return column.wanted(row) and not column.number(row)


def _middle(index: int) -> float:
    return MARGIN + LABEL + COLUMN * (index + 0.5)


def _text(
    x: float, y: float, words: str, *, middle: bool = False, soft: bool = False,
    weight: str = "normal", size: int = 13,
) -> str:  # fmt: skip
    anchor = "middle" if middle else "start"
    return (
        f'<text class="{"soft" if soft else "ink"}" x="{x}" y="{y}" text-anchor="{anchor}" '
        f'font-weight="{weight}" font-size="{size}">{escape(words)}</text>'
    )
