"""Numbers with their units, times and dimensions in running text, by closed tables.

Takes a stretch of the text; gives `Number`s: what is measured, how a time is said ("for", "ago"),
and whether only a bound or a range is told. Doses and dates are no measures. Refuses to know what
a number is a number of.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from plafond.quantities import plain

_WORDS = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8,
    "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "fifteen": 15, "eighteen": 18,
    "twenty": 20, "a": 1, "an": 1,
}  # fmt: skip
_TIMES = {
    "min": r"min(?:ute)?s?", "h": r"(?:hours?|hrs?)", "d": r"days?", "wk": r"(?:weeks?|wks?)",
    "mo": r"(?:months?|mths?|mos?)", "a": r"(?:years?|yrs?|y)",
}  # fmt: skip
_UNITS = {
    "mm2": r"(?:mm2|mm\^2|sq\.? ?mm|square millimet(?:re|er)s?)",
    "cm2": r"(?:cm2|cm\^2|sq\.? ?cm|square centimet(?:re|er)s?)",
    "mm[Hg]": r"mm ?hg", "/mm3": r"(?:cells? ?)?(?:/|per )(?:mm3|mm\^3|cubic mm|ul)",
    "10*3/uL": r"x? ?10(?:\^|\*)?9/l", "mmol/mol": r"mmol/mol", "mmol/L": r"mmol/l",
    "umol/L": r"(?:u|\u03bc|micro)mol/l", "mg/L": r"mg/l", "g/L": r"g/l", "kg/m2": r"kg/m(?:\^)?2",
    "mm": r"(?:mms?|millimet(?:re|er)s?)", "cm": r"(?:cms?|centimet(?:re|er)s?)",
    "kg": r"(?:kgs?|kilos?|kilograms?)", "Cel": r"(?:\u00b0 ?c|degrees? (?:c|celsius)|celsius)",
    "deg": r"(?:\u00b0|degrees?|degs?)", "%": r"(?:%|per ?cent)", "N": r"newtons?",
    "m": r"(?:m|met(?:re|er)s?)", "1": r"(?:ratio)",
}  # fmt: skip
_DOSE = (
    r"(?:mg|mcg|ug|micrograms?|milligrams?|mls?|iu|units?|tablets?|tabs?|caps?|puffs?|drops?|od|bd"
    r"|tds|qds|g|grams?|x ?(?:daily|a day)|times|pack|stone|st|lbs?|inch(?:es)?|ft|feet|reps|sets"
    r"|sessions?|/24)"
)
_NUMBER = r"(?<![\w.,/:^])(?<!\d[-/])-?\d{1,6}(?:,\d{3})*(?:\.\d{1,3})?(?![\d:])(?!\.\d)"
_UNIT = "|".join(f"(?P<u{index}>{pattern})" for index, pattern in enumerate(_UNITS.values()))
_TIME = "|".join(f"(?P<t{index}>{pattern})" for index, pattern in enumerate(_TIMES.values()))
_UNIT_CODES, _TIME_CODES = tuple(_UNITS), tuple(_TIMES)
_WORD_NUMBER = r"(?:(?<=\s)|(?<=^)|(?<=[(\-,]))(?:" + "|".join(_WORDS) + r")(?= )"
_RANGE = (
    r"(?P<range>\s*(?:-|\bto\b|\bor\b)\s*(?:\d{1,4}(?:\.\d+)?"
    r"|(?:two|three|four|five|six|seven|eight|nine|ten|twelve)\b))?"
)
_MEASURE = re.compile(
    rf"(?P<n>{_NUMBER})(?P<over>/\d{{1,2}}(?![\d/]))?{_RANGE}"
    rf"(?:\s?(?:(?P<dose>{_DOSE})(?![\w/])|(?:{_UNIT})(?![\w/]))|[ -]?(?:{_TIME})(?!\w)"
    r"|(?!\s?x\s?\d))?"
)
_WORDED = re.compile(
    rf"(?P<n>{_WORD_NUMBER}){_RANGE}[ -](?:(?:{_TIME})(?!\w)|(?P<fortnight>fortnights?)\b)"
)
_FORTNIGHT = re.compile(r"\b(?:a |one |past |last )?fortnight\b")
_SHORT = re.compile(
    r"(?<![\d/.])(?P<n>\d{1,3})(?P<range>\s*-\s*\d{1,3})?/(?P<unit>7|52|12)(?![\d/])"
)
_SHORT_UNITS = {"7": "d", "52": "wk", "12": "mo"}
_ACROSS = r" ?(?:mm|cm)?(?: ?(?:ap|tr|cc|ml|wide|long|deep))? ?(?:x|by) ?"
_LENGTH = r"\d{1,3}(?:\.\d{1,2})?"
_DIMENSIONS = re.compile(
    rf"(?<![\w.,/])(?P<a>{_LENGTH}){_ACROSS}(?P<b>{_LENGTH})(?:{_ACROSS}(?P<c>{_LENGTH}))?"
    r" ?(?P<unit>mm|cm)(?![\w2])"
)
_FEW = r"(?:several|some|many|a few|few|a couple of|couple of|a number of)"
_VAGUE = re.compile(rf"\b(?:for|over|{_FEW})\s+(?:{_FEW}\s+)?(?:days|weeks|months|years)\b")
_BOUND = re.compile(
    r"(?:>=?|\u2265|~?>|<=?|\u2264|\b(?:over|more than|at least|greater than|up to|less than|under"
    r"|fewer than|nearly|almost|in excess of|well over))\s*(?:a\s+)?$"
)
_SINCE_OVER = re.compile(r"\bover\s+(?:the|the\s+)?(?:past|last|previous)\s*$")
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH = r"(?P<month>jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\.?"
_SINCE = re.compile(
    r"\b(?P<frame>since|in|from)\s+(?:about\s+|around\s+|early\s+|late\s+|approximately\s+)?"
    rf"(?:{_MONTH}\s+(?:of\s+)?)?(?P<year>(?:19|20)\d\d)\b(?!/)"
)
_DATE = re.compile(
    r"(?<![\d/.-])(?:(?P<day>\d{1,2})(?P<sep>[/.-])(?P<mon>\d{1,2})(?P=sep)"
    r"(?P<year>(?:19|20)?\d\d)(?![\d/.-]?\d)|(?P<iso>(?:19|20)\d\d-\d\d-\d\d)(?!\d)"
    rf"|(?P<day2>\d{{1,2}})(?:st|nd|rd|th)?\s+(?:of\s+)?{_MONTH},?\s+(?P<year2>(?:19|20)\d\d)\b)"
)
_AGE = re.compile(
    r"(?<![\w./-])(?P<a>\d{1,3}) ?(?:-? ?(?:years?|yrs?) ?(?:-? ?old|of age)|y\.?/?o\.?(?!\w)"
    r"|yrs?(?= (?:m|f|male|female|man|woman|lady|gentleman)\b))"
    r"|(?:^|(?<=[.:;,\n(])|(?<=[.:;,\n] ))(?P<c>\d{2}) ?(?:m|f|male|female)\b(?! ?(?:x|by|/))"
    r"|(?<!at the )(?<!at )\baged? ?:? ?(?P<b>\d{1,3})(?![\d/.]| ?(?:months|weeks|days|mths|-))"
)

_WORTH = re.compile(r"\d|day|week|month|year|fortnight|\bhour|\bminute")
_FRAMES = (
    ("history", re.compile(r"\s*'?s?'?\s*(?:history|hx|h/o)\b")),
    ("ago", re.compile(r"\s*(?:ago|back|previously|earlier|prior)\b")),
    ("after", re.compile(r"\s*(?:after|post|since|following|from|out)\b")),
    ("for", re.compile(r"\s*'?\s*(?:duration|now)\b")),
)
_FOR = re.compile(
    r"\b(?:for|x|over|during|these|past|last|of|lasting|lasted|within|in)\s+"
    r"(?:(?:the|about|around|approximately|approx\.?|roughly|some|nearly|almost|over|at|least|more"
    r"|than|up|to|past|last|previous|now|a|good)\s+)*$"
)
_DAY_POST = re.compile(
    r"\b(?P<unit>day|week|month)s? (?P<n>\d{1,3}) (?:post|after|following|since)\b"
)


@dataclass(frozen=True, slots=True)
class Number:
    """One measure in the text: its values, UCUM unit (none where bare), and how it is said.

    `frames` are the ways of a time; `bound` marks a limit ("over 6 months"), `range` what is only
    known between two ends; `out_of` the second number of "6/9".
    """

    start: int
    end: int
    values: tuple[Decimal, ...]
    unit: str = ""
    frames: tuple[str, ...] = ()
    bound: bool = False
    range: bool = False
    out_of: str = ""

    @property
    def shown(self) -> str:
        """Return the number as the native form writes it."""
        return f"{plain(self.values[0])} {self.unit}".rstrip()


def worth_reading(low: str, start: int, end: int) -> bool:
    """Say whether a stretch may hold a measure at all."""
    return _WORTH.search(low, start, end) is not None


def numbers(low: str, start: int, end: int, written: date | None) -> list[Number]:
    """Return the measures of a stretch, in order, none inside another."""
    found: list[Number] = []
    taken = bytearray(end - start)
    for reader in (_dates, _dimensions, _ages, _posts, _sinces, _shorts, _worded, _vague, _plain):
        for one, keep in reader(low, start, end, written):
            if any(taken[one.start - start : one.end - start]):
                continue
            taken[one.start - start : one.end - start] = b"\1" * (one.end - one.start)
            if keep:
                found.append(one)
    return sorted(found, key=lambda one: one.start)


_Found = Iterator[tuple[Number, bool]]


def _dates(low: str, start: int, end: int, written: date | None) -> _Found:
    for match in _DATE.finditer(low, start, end):
        on = date_of(match)
        days = (written - on).days if written and on and on <= written else -1
        if days >= 0:
            number = Number(*match.span(), (Decimal(days),), "d", ("ago",))
            yield (
                number,
                re.search(
                    r"\b(?:on|since|of|dated)\s*$", low[max(0, match.start() - 8) : match.start()]
                )
                is not None,
            )
        else:
            yield Number(*match.span(), ()), False


def date_of(match: re.Match[str]) -> date | None:
    """Return the date a match of a date says, day before month, or nothing."""
    try:
        if match["iso"]:
            return date.fromisoformat(match["iso"])
        if match["day2"]:
            month = MONTHS.index(match["month"]) + 1
            return date(int(match["year2"]), month, int(match["day2"]))
        year = int(match["year"])
        return date(year + 2000 if year < 100 else year, int(match["mon"]), int(match["day"]))
    except ValueError:
        return None


def first_date(low: str, start: int, end: int) -> date | None:
    """Return the first date of a stretch that is a date of birth's neither by its words."""
    for match in _DATE.finditer(low, start, end):
        before = low[max(start, match.start() - 24) : match.start()].rpartition("\n")[2]
        if not re.search(r"\b(?:dob|d\.o\.b|born|birth)\b", before):
            return date_of(match)
    return None


def _dimensions(low: str, start: int, end: int, _: date | None) -> _Found:
    for match in _DIMENSIONS.finditer(low, start, end):
        values = tuple(Decimal(match[key]) for key in "abc" if match[key])
        yield Number(*match.span(), values, match["unit"], ("dimensions",)), True


def _ages(low: str, start: int, end: int, _: date | None) -> _Found:
    for match in _AGE.finditer(low, start, end):
        yield (
            Number(
                *match.span(), (Decimal(match["a"] or match["b"] or match["c"]),), "a", ("age",)
            ),
            True,
        )


def _posts(low: str, start: int, end: int, _: date | None) -> _Found:
    units = {"day": "d", "week": "wk", "month": "mo"}
    for match in _DAY_POST.finditer(low, start, end):
        yield Number(*match.span(), (Decimal(match["n"]),), units[match["unit"]], ("after",)), True


def _sinces(low: str, start: int, end: int, written: date | None) -> _Found:
    """Read "since March 2024" as calendar months; of a bare year only what has surely passed."""
    for match in _SINCE.finditer(low, start, end):
        frame = "since" if match["frame"] == "since" else "ago"
        months = -1
        if written:
            month = MONTHS.index(match["month"]) + 1 if match["month"] else 12
            months = (written.year - int(match["year"])) * 12 + written.month - month
        if months < 0:
            yield Number(*match.span(), (), "mo", (frame,), range=True), frame == "since"
        else:
            yield Number(*match.span(), (Decimal(months),), "mo", (frame,)), True


def _shorts(low: str, start: int, end: int, _: date | None) -> _Found:
    for match in _SHORT.finditer(low, start, end):
        if match[0] == "24/7":
            yield Number(*match.span(), ()), False
        else:
            yield _time(low, match, Decimal(match["n"]), _SHORT_UNITS[match["unit"]]), True


def _worded(low: str, start: int, end: int, _: date | None) -> _Found:
    for match in _WORDED.finditer(low, start, end):
        value = Decimal(_WORDS[match["n"]])
        if match["fortnight"]:
            yield _time(low, match, value * 2, "wk"), True
        else:
            yield _time(low, match, value, _code(match, "t", _TIME_CODES)), True
    for match in _FORTNIGHT.finditer(low, start, end):
        yield _time(low, match, Decimal(2), "wk"), True


def _vague(low: str, start: int, end: int, _: date | None) -> _Found:
    for match in _VAGUE.finditer(low, start, end):
        yield Number(*match.span(), (), "mo", ("for", "of"), range=True), True


def _plain(low: str, start: int, end: int, _: date | None) -> _Found:
    for match in _MEASURE.finditer(low, start, end):
        if match["dose"]:
            yield Number(*match.span(), ()), False
            continue
        value = Decimal(match["n"].replace(",", ""))
        time = _code(match, "t", _TIME_CODES)
        if time:
            yield _time(low, match, value, time), True
            continue
        unit = _code(match, "u", _UNIT_CODES)
        bound = _BOUND.search(low, max(start, match.start() - 16), match.start()) is not None
        out_of = (match["over"] or "").strip("/")
        if not out_of:
            out = re.match(r"\s+out of\s+(\d{1,2})\b", low[match.end() : match.end() + 12])
            out_of = out[1] if out else ""
        yield (
            Number(*match.span(), (value,), unit, (), bound, match["range"] is not None, out_of),
            True,
        )


def _code(match: re.Match[str], letter: str, codes: tuple[str, ...]) -> str:
    return next((code for i, code in enumerate(codes) if match[f"{letter}{i}"]), "")


def _time(low: str, match: re.Match[str], value: Decimal, unit: str) -> Number:
    """Make a time, with the ways it is said."""
    start, end = match.span()
    frames = [name for name, pattern in _FRAMES if pattern.match(low, end)]
    before = low[max(0, start - 40) : start]
    if _FOR.search(before) and "ago" not in frames:
        frames.append("for")
    frames.append("of")
    bound = _BOUND.search(before) is not None and _SINCE_OVER.search(before) is None
    ranged = match.groupdict().get("range") is not None
    return Number(start, end, (value,), unit, tuple(dict.fromkeys(frames)), bound, ranged)
