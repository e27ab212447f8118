"""The answer as a page for the terminal: what is dangerous, supported, missing, and on what ground.

Takes an `Assessment` and the rulebook it came from (for titles and cards); gives something `rich`
prints at any width. Words carry the meaning, never colour alone. Decides nothing and leaves
nothing grave out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from string import ascii_uppercase
from typing import Any

from rich.console import Group, RenderableType
from rich.rule import Rule as Line
from rich.text import Text

from plafond.assessment import (
    Assessment,
    Check,
    OptionAnswer,
    RedFlag,
    SetAside,
    SideAnswer,
    Verdict,
)
from plafond.rulebook import Rulebook
from plafond.views.terminal.citations import Numbered
from plafond.views.terminal.layout import Row, heading, indented, points, table
from plafond.views.terminal.wording import (
    CARD,
    SIDE,
    STANDINGS,
    TRIAGE,
    URGENCY,
    alternative_in_words,
    conflict_in_words,
    counts_of_side,
    grade_in_words,
    grounds,
    joined,
    rules_behind,
    spoken,
    values_behind,
    values_so_far,
)

MOST_SETS = 3
MOST_ASKS = 8
MOST_OWN = 6
GRAVE = ("red-flag", "absolute", "scope")
STYLES = {
    "act-now": "bold red",
    "soon": "bold yellow",
    "ready": "bold green",
    "indicated": "bold green",
    "on-hold": "bold yellow",
    "contraindicated": "bold red",
}


def page(
    assessment: Assessment, rulebook: Rulebook, *, full: bool = False, note: str = ""
) -> RenderableType:
    """Return the page of an assessment; `full` condenses nothing, `note` stands by the release."""
    return Group(*_Page(assessment, rulebook, full).blocks(note))


class _Page:
    """One page: the parts in their order, and the sources numbered as they are named."""

    def __init__(self, assessment: Assessment, rulebook: Rulebook, full: bool) -> None:
        self.assessment = assessment
        self.rulebook = rulebook
        self.full = full
        self.sources = Numbered(rulebook.sources)
        self.caveats: dict[str, str] = {}
        self._disputed: set[str] = set()
        self._not_screened: Sequence[str] = ()

    def blocks(self, note: str) -> Iterator[RenderableType]:
        answer = self.assessment
        yield Text.assemble(
            (TRIAGE[answer.triage], STYLES.get(answer.triage, "bold")), f": {answer.triage_reason}."
        )
        for line in answer.not_understood:
            yield Text(f"Not understood: {line}")
        for name, side in answer.sides.items():
            yield Text("")
            title = Text(f"{SIDE[name]}: {counts_of_side(side)}", "bold")
            yield Line(title, align="left", characters="-", style="dim")
            yield from _Side(self, side).blocks()
        yield from self._foot(note)

    def _foot(self, note: str) -> Iterator[RenderableType]:
        answer = self.assessment
        if self.full:
            yield heading("Recorded")
            yield points(self._understood())
        if self.caveats:
            yield heading("Caveats")
            yield points([f"{word}: {said}" for word, said in self.caveats.items()], "*" * 9)
        listed = self.sources.listed()
        if listed:
            yield heading("Sources")
            yield points([text for _, text in listed], [f"{number}" for number, _ in listed])
        release = answer.release
        signed = "signed" if release["signed"] else "unsigned"
        digest = str(release["digest"]).removeprefix("sha256:")[:12]
        yield Text("")
        yield Text(f"Release {release['version']} ({digest}), {signed}. Assessed {answer.at}.")
        if note:
            yield Text(note, "bold")
        if answer.reference:
            yield Text(f"Reference {answer.reference}.")
        yield Text(answer.notice, "italic")

    def _understood(self) -> list[str]:
        return [
            f"{side}: {self.title(name)} {spoken(record['value'])}"
            + (f" on {record['on']}" if "on" in record else "")
            + (f" ({record['how']})" if "how" in record else "")
            for side, found in self.assessment.understood.items()
            for name, records in found.items()
            for record in records
        ]

    def title(self, finding: str) -> str:
        return self.rulebook.vocabulary[finding].title

    def sure(self, verdict: Verdict) -> str:
        """Return how sure a rule is and its sources: `(memory*) [3]`; the star is a caveat."""
        if verdict.caveat:
            self.caveats[verdict.confidence] = verdict.caveat
        star = "*" if verdict.caveat else ""
        rule = f"{verdict.rule} v{verdict.version}, " if self.full else ""
        marks = self.sources.cite(verdict.sources)
        return f"({rule}{verdict.confidence}{star}) {marks}".strip()

    def dispute_rows(self, verdicts: Iterable[Verdict]) -> Iterator[Row]:
        """Yield what is disputed in these rules and those behind them, once a page."""
        names = [name for verdict in verdicts for name in rules_behind(verdict)]
        for name in dict.fromkeys(names):
            dispute = self.rulebook.rules[name].data.get("dispute")
            if dispute and dispute["question"] not in self._disputed:
                self._disputed.add(dispute["question"])
                yield "Disputed", self._dispute(dispute)

    def _dispute(self, dispute: Mapping[str, Any]) -> RenderableType:
        positions = dispute["positions"]
        marks = self.sources.cite(one["cites"] for one in positions if "cites" in one)
        question = Text(f"{dispute['question']} {marks}".strip())
        if not self.full:
            return question
        said = [f"{one['says']} {self.cited(one)}".strip() for one in positions]
        return Group(question, points(said, indent=0))

    def cited(self, line: Mapping[str, Any]) -> str:
        return self.sources.cite([line["cites"]]) if "cites" in line else ""

    def not_screened(self, findings: Sequence[str]) -> Iterator[RenderableType]:
        """Yield every danger nobody asked about, the urgent first; none is left to a number.

        A second side that lacks the same says so.
        """
        if findings and findings == self._not_screened:
            yield Text("Not screened (nothing recorded): the same as above.")
        elif findings:
            titles = "; ".join(self.title(name) for name in findings)
            yield Text(f"Not screened (nothing recorded): {titles}.")
        self._not_screened = findings

    def sets(self, settles: Sequence[Sequence[str]]) -> str:
        """Return the smallest sets of findings that settle something, as titles."""
        most = len(settles) if self.full else MOST_SETS
        shown = [joined([self.title(name) for name in one]) for one in settles[:most]]
        left = len(settles) - len(shown)
        return "; or ".join(shown) + (f"; or {left} more" if left else "")


class _Side:
    """The part of a page that speaks of one side."""

    def __init__(self, whole: _Page, side: SideAnswer) -> None:
        self.whole = whole
        self.side = side
        spelled_out = [one for one in side.options if whole.full or one.standing != "on-hold"]
        self.shared = _shared_questions(spelled_out)
        self.asked: set[str] = set()
        self.told: set[str] = set()

    def blocks(self) -> Iterator[RenderableType]:
        side = self.side
        if side.scope:
            yield Text(f"OUTSIDE THE SCOPE: {side.scope}", "bold")
        for conflict in side.conflicts:
            yield Text(f"CONFLICT: {conflict_in_words(conflict)}")
        if side.red_flags:
            yield heading("RED FLAGS", "bold red")
            for flag in side.red_flags:
                yield from self._flag(flag)
        for standing, options in groupby(side.options, key=lambda one: one.standing):
            yield heading(STANDINGS[standing], STYLES.get(standing, "bold"))
            for number, option in enumerate(options):
                yield from [Text("")] if number else []
                yield from self._option(option)
        if self.shared:
            yield heading("CHECK FIRST, where an option above names the letter")
            yield points(list(self.shared), list(self.shared.values()))
        yield from self._rest()

    def _rest(self) -> Iterator[RenderableType]:
        side, whole = self.side, self.whole
        if side.set_aside:
            yield heading("Set aside")
            yield points([self._set_aside(one) for one in side.set_aside])
        yield from self._ask()
        yield Text("")
        if not any(whole.assessment.understood.values()):
            yield Text("Nothing was recorded, so nothing is ruled out.")
        if side.ruled_out:
            rules = [whole.rulebook.rules[name].title for name in side.ruled_out]
            yield Text(f"Ruled out by what is recorded: {'; '.join(rules)}.")
        yield from whole.not_screened(side.not_screened)
        yield Text(f"Considered {side.considered} options, {len(side.options) or 'none'} in play.")

    def _set_aside(self, line: SetAside) -> str:
        rule = self.whole.rulebook.rules[line.rule]
        marks = self.whole.sources.cite(rule.sources)
        apart = ", " if line.lacks else ": "
        return f"{line.title}{apart}{spoken(line.reason)} ({rule.confidence}) {marks}".strip()

    # -- red flags ------------------------------------------------------------------

    def _flag(self, flag: RedFlag) -> Iterator[RenderableType]:
        whole, met = self.whole, flag.state == "met"
        words = (f"{'MET' if met else 'POSSIBLE'}: {flag.title}", "bold")
        yield indented(Text.assemble(words, f" (act {URGENCY[flag.urgency]})"))
        rows: list[Row] = [("Do", Text(flag.action))]
        if flag.settles:
            rows.append(("Settle by", Text(whole.sets(flag.settles))))
        if met or whole.full or not flag.raised_by:
            rows += self._claim("Why" if met else "Rule", flag.because)
        if not met and flag.raised_by:
            raisers = "; ".join(whole.title(name) for name in flag.raised_by)
            rows.append(("Raised by", Text(f"{raisers} {whole.sure(flag.because)}")))
        if flag.holds:
            everything = len(flag.holds) == len(self.side.options) > 1
            held = [whole.rulebook.options[name].title for name in flag.holds]
            rows.append(("Holds", Text("every option below" if everything else "; ".join(held))))
        rows += whole.dispute_rows([flag.because])
        yield table(rows)

    def _claim(self, label: str, verdict: Verdict) -> Iterator[Row]:
        """Yield a rule's sentence, and the values behind it where it is decided."""
        yield label, Text(f"{verdict.statement} {self.whole.sure(verdict)}")
        values = values_behind(verdict)
        if values:
            yield label, Text(f"Recorded: {'; '.join(values)}", "italic")

    # -- options --------------------------------------------------------------------

    def _option(self, option: OptionAnswer) -> Iterator[RenderableType]:
        whole = self.whole
        grade = self._grade(option)
        yield indented(Text.assemble((option.title, "bold"), f", {grade}" if grade else ""))
        if option.standing == "on-hold" and not whole.full:
            count = len(_grave(option))
            left = f"; {count} grave checks are open for it" if count else ""
            yield table([*self._against(option), ("Then", Text(f"assess again{left}"))])
            return
        rows = [*self._reasons(option), *self._against(option), *self._cautions(option)]
        if option.settles:
            rows.append(("Settle by", Text(whole.sets(option.settles))))
        rows += self._checks(option)
        if option.alternatives:
            lines = [alternative_in_words(one, whole.cited(one)) for one in option.alternatives]
            rows.append(("Instead", Text("; ".join(lines))))
        rows += whole.dispute_rows([*option.because, *option.against, *option.cautions])
        if whole.full or option.standing == "indicated":
            rows += self._card(option.approach)
        yield table(rows)

    def _grade(self, option: OptionAnswer) -> str:
        words = grade_in_words(option.grade)
        if not words:
            return ""
        note = f". {option.grade['note']}" if self.whole.full and "note" in option.grade else ""
        decided = option.standing == "indicated" or option.grade["direction"] == "against"
        return f"{'' if decided else 'would be '}{words}{note}"

    def _reasons(self, option: OptionAnswer) -> Iterator[Row]:
        """Yield what supports an option, or what would; of several rules any one suffices."""
        truths = {verdict.truth for verdict in option.because}
        label = "Why" if "met" in truths else "Needs" if "unknown" in truths else "Not met"
        for number, verdict in enumerate(option.because):
            yield from self._claim("or" if number and label == "Needs" else label, verdict)
        so_far = [one for verdict in option.because for one in values_so_far(verdict)]
        if label == "Needs" and so_far:
            yield "Recorded", Text("; ".join(dict.fromkeys(so_far)), "italic")

    def _against(self, option: OptionAnswer) -> Iterator[Row]:
        for verdict in option.against:
            if verdict.kind == "red-flag":
                yield "Against", Text(f"the red flag above: {verdict.title}")
            else:
                yield from self._claim("Against", verdict)

    def _cautions(self, option: OptionAnswer) -> Iterator[Row]:
        """Yield the cautions with their advice; in short where the option does not stand."""
        short = not self.whole.full and option.standing != "indicated"
        for verdict in option.cautions:
            said = f"{verdict.title} ({'; '.join(values_behind(verdict))})"
            if not short and verdict.rule not in self.told:
                self.told.add(verdict.rule)
                said += f". {verdict.advice or verdict.statement}"
            yield "Caution", Text(f"{said} {self.whole.sure(verdict)}")

    def _checks(self, option: OptionAnswer) -> Iterator[Row]:
        """Yield the grave checks as questions, and the others as one line of titles."""
        grave = _grave(option)
        self.asked |= set(grave)
        own = [question for question in grave if question not in self.shared]
        if own:
            yield "Check", points(own, ["?"] * len(own), indent=0)
        letters = [self.shared[question] for question in grave if question in self.shared]
        if letters:
            yield "Check", Text(f"{'and ' if own else ''}{', '.join(letters)} below")
        others = [one for one in option.checks if one.severity not in GRAVE]
        if self.whole.full and others:
            yield "Also ask", points([f"{one.title}: {one.question}" for one in others], indent=0)
        elif option.standing == "indicated":
            screened = [one for one in others if one.finding not in self.side.not_screened]
            own = list(dict.fromkeys(one.title for one in screened if self._own(option, one)))
            left = len({one.title for one in screened}) - len(own[:MOST_OWN])
            shown = "; ".join(own[:MOST_OWN])
            more = f"{'; and ' if shown else ''}{left} more, most of them general (--full)"
            if screened:
                yield "Also ask", Text(shown + (more if left else ""))

    def _own(self, option: OptionAnswer, check: Check) -> bool:
        """Say whether a check comes from a rule that names this option, not all of its kind."""
        return option.option in self.whole.rulebook.rules[check.rule].effect.target.options

    def _card(self, approach: Mapping[str, Any]) -> Iterator[Row]:
        for part, label in CARD.items():
            lines = approach.get(part, [])
            shown = lines if self.whole.full else lines[:1]
            said = [f"{one['says']} {grounds(one, self.whole.cited(one))}".strip() for one in shown]
            left = len(lines) - len(shown)
            if said:
                yield label, Text("; ".join(said) + (f" (+{left})" if left else ""))

    def _ask(self) -> Iterator[RenderableType]:
        asks = self.side.ask
        fresh = [one.question for one in asks if one.question not in self.asked]
        most = len(fresh) if self.whole.full else MOST_ASKS
        more = f"{len(fresh) - most} more" if len(fresh) > most else ""
        again = "the checks above" if len(fresh) < len(asks) else ""
        tail = ", and ".join(part for part in (more, again) if part)
        if asks and not fresh:
            yield Group(Text(""), Text.assemble(("ASK NEXT", "bold"), f": {tail}."))
        elif asks:
            yield heading("ASK NEXT")
            yield points(fresh[:most], [f"{number + 1}" for number in range(len(fresh[:most]))])
            yield from [indented(Text(f"and {tail}"))] if tail else []


def _grave(option: OptionAnswer) -> list[str]:
    return list(dict.fromkeys(one.question for one in option.checks if one.severity in GRAVE))


def _shared_questions(options: Sequence[OptionAnswer]) -> dict[str, str]:
    """Return the grave questions that two or more options have, each with a letter."""
    counted = Counter(question for option in options for question in _grave(option))
    shared = [question for question, times in counted.items() if times > 1]
    return {question: _letter(number) for number, question in enumerate(shared)}


def _letter(number: int) -> str:
    return ascii_uppercase[number] if number < len(ascii_uppercase) else f"Z{number - 25}"
