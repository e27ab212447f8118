"""What wins: from the truth of every rule to the standing of every option.

Takes what is known of each side and the truths of the rules; gives an `Assessment`: red flags
first, options with their standing, what speaks for and against, which checks are open, what to
ask next, and a triage of the document. Pure: no clock, no file, no web.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, assert_never

from plafond.findings import Conflict, Findings, Known, Truth
from plafond.inference.evaluate import evaluate
from plafond.inference.explain import Explainer, trace
from plafond.rulebook import (
    All,
    AnyOf,
    AtLeast,
    Between,
    Compare,
    Condition,
    Is,
    Not,
    OneOf,
    Option,
    Rule,
    Rulebook,
    holds,
)
from plafond.rulebook.loading import walk
from plafond.rulebook.rules import URGENCIES

ACT_NOW = ("immediate", "same-day")
WEAK = {
    "memory": "The number behind this rule comes from trade knowledge that was not seen in print.",
    "judgement": "This rule is a judgement of its authors; no source states it.",
}
SEVERITIES = ("red-flag", "absolute", "scope", "screening", "relative", "caution")


@dataclass(frozen=True, slots=True)
class Verdict:
    """What one rule says: its truth, its sentence, its evidence, and the tree behind it."""

    rule: str
    version: int
    kind: str
    title: str
    truth: str
    statement: str
    grade: Mapping[str, Any]
    confidence: str
    sources: Sequence[str]
    suffices: Sequence[str]
    trace: Mapping[str, Any]
    advice: str = ""
    caveat: str = ""
    dispute: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Check:
    """One thing to make sure of before an option is chosen, most serious first."""

    finding: str
    question: str
    rule: str
    title: str
    severity: str


@dataclass(frozen=True, slots=True)
class Ask:
    """One question, and the options and red flags whose verdict hangs on it."""

    finding: str
    question: str
    for_: Sequence[str]


@dataclass(frozen=True, slots=True)
class RedFlag:
    """A danger that is met, or raised and not yet ruled out (possible)."""

    rule: str
    version: int
    title: str
    state: str
    urgency: str
    action: str
    holds: Sequence[str]
    because: Verdict
    settles: Sequence[Sequence[str]] = ()


@dataclass(frozen=True, slots=True)
class OptionAnswer:
    """How one option stands on one side, and everything behind it."""

    option: str
    title: str
    summary: str
    arthroscopic: bool
    standing: str
    grade: Mapping[str, Any]
    because: Sequence[Verdict]
    against: Sequence[Verdict]
    cautions: Sequence[Verdict]
    checks: Sequence[Check]
    settles: Sequence[Sequence[str]]
    alternatives: Sequence[Mapping[str, Any]]
    approach: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class SetAside:
    """An option that something pointed at and that the rules do not support: one line."""

    option: str
    title: str
    rule: str
    reason: str
    lacks: Sequence[str]


@dataclass(frozen=True, slots=True)
class SideAnswer:
    """The answer for one side."""

    red_flags: Sequence[RedFlag]
    options: Sequence[OptionAnswer]
    set_aside: Sequence[SetAside]
    ask: Sequence[Ask]
    not_screened: Sequence[str]
    considered: int
    conflicts: Sequence[Mapping[str, Any]]
    scope: str = ""


@dataclass(frozen=True, slots=True)
class Assessment:
    """The answer to one document."""

    assessment: str
    at: str
    reference: str
    release: Mapping[str, Any]
    triage: str
    triage_reason: str
    sides: Mapping[str, SideAnswer]
    understood: Mapping[str, Mapping[str, Any]]
    not_understood: Sequence[str]
    sources: Mapping[str, Any]
    notice: str


@dataclass(frozen=True, slots=True)
class SideFacts:
    """What is known of one side, and what the rules make of it."""

    known: Known
    truths: Mapping[str, Truth]
    literals: set[int]


def assemble(
    rulebook: Rulebook,
    explainer: Explainer,
    findings: Findings,
    facts: Mapping[str, SideFacts],
    *,
    assessment: str,
    at: str,
    everything: bool = False,
) -> Assessment:
    """Return the assessment of a document from the facts of each of its sides.

    `everything` also lists options and red flags that nothing points at.
    """
    sides = {
        name: _Side(rulebook, explainer, side, everything).answer() for name, side in facts.items()
    }
    triage, reason = triage_of(findings, sides)
    return Assessment(
        assessment=assessment,
        at=at,
        reference=findings.reference,
        release={
            "version": rulebook.version,
            "digest": rulebook.digest,
            "signed": rulebook.signed,
        },
        triage=triage,
        triage_reason=reason,
        sides=sides,
        understood=_understood(rulebook, findings, facts),
        not_understood=findings.not_understood,
        sources=_cited(rulebook, sides),
        notice=rulebook.notice,
    )


class _Side:
    """Works out the answer for one side."""

    def __init__(
        self, rulebook: Rulebook, explainer: Explainer, facts: SideFacts, everything: bool
    ) -> None:
        self.rulebook = rulebook
        self.explainer = explainer
        self.known = facts.known
        self.truths = facts.truths
        self.literals = facts.literals
        self.everything = everything
        scope_rule = rulebook.derived_by[rulebook.scope.finding]
        self.scope_rule = scope_rule
        self.scope = facts.truths[scope_rule.id]

    def answer(self) -> SideAnswer:
        flags = [rule for rule in self._by_urgency() if self._flag_listed(rule)]
        stands = {option.id: self._standing(option) for option in self.rulebook.options.values()}
        listed = [
            option
            for option in self.rulebook.options.values()
            if self._listed(option, stands[option.id])
        ]
        red_flags = [self._red_flag(rule, [option.id for option in listed]) for rule in flags]
        options = [self._option(option, stands[option.id]) for option in listed]
        options.sort(key=lambda one: (_STANDINGS.index(one.standing), not one.arthroscopic))
        return SideAnswer(
            red_flags=red_flags,
            options=options,
            set_aside=[] if self.everything else self._set_aside(stands),
            ask=self._ask(flags, listed, stands),
            not_screened=self._not_screened(),
            considered=len(self.rulebook.options),
            conflicts=[_conflict(self.rulebook, one) for one in self.known.conflicts],
            scope=self.rulebook.scope.statement if self.scope is Truth.MET else "",
        )

    # -- red flags ------------------------------------------------------------------

    def _by_urgency(self) -> list[Rule]:
        return sorted(
            self.rulebook.of_kind("red-flag"),
            key=lambda rule: (
                self.truths[rule.id] is not Truth.MET,
                URGENCIES.index(rule.effect.urgency),
                rule.id,
            ),
        )

    def _flag_listed(self, rule: Rule) -> bool:
        truth = self.truths[rule.id]
        if truth is Truth.MET:
            return True
        return truth is Truth.UNKNOWN and (self.everything or self._raised(rule.raised_by))

    def _red_flag(self, rule: Rule, in_play: list[str]) -> RedFlag:
        met = self.truths[rule.id] is Truth.MET
        held = [name for name in in_play if rule in self.rulebook.holding[name]]
        return RedFlag(
            rule=rule.id,
            version=rule.version,
            title=rule.title,
            state="met" if met else "possible",
            urgency=rule.effect.urgency,
            action=rule.effect.action,
            holds=held,
            because=self._verdict(rule),
            settles=[] if met else self._sets(rule),
        )

    def _not_screened(self) -> list[str]:
        """Return the screening findings of red flags that nobody recorded, urgent ones first."""
        screens = [rule.screen for rule in self._by_urgency() if not self._flag_listed(rule)]
        return [name for name in dict.fromkeys(screens) if not self.known.claims(name)]

    # -- options --------------------------------------------------------------------

    def _raised(self, conditions: Iterable[Condition]) -> bool:
        return any(self._points(condition) for condition in conditions)

    def _points(self, condition: Condition) -> bool:
        """Say whether something points this way; of quarrelling records the worrying counts."""
        match condition:
            case Is() | OneOf() | Compare() | Between():
                rule = self.rulebook.derived_by.get(condition.finding)
                if rule is not None:
                    met = self.truths[rule.id] is Truth.MET
                    return met and holds(condition, "present")
                claims = self.known.claims(condition.finding)
                return any(holds(condition, value) for value in claims)
            case All(parts):
                return all(self._points(part) for part in parts)
            case AnyOf(parts):
                return any(self._points(part) for part in parts)
            case AtLeast(count, parts):
                return sum(self._points(part) for part in parts) >= count
            case Not():
                return evaluate(condition, self.known.values) is Truth.MET
            case _ as never:
                assert_never(never)

    def _indication(self, option: Option) -> Truth:
        truths = {self.truths[rule.id] for rule in self.rulebook.indications[option.id]}
        if Truth.MET in truths:
            return Truth.MET
        return Truth.UNKNOWN if Truth.UNKNOWN in truths else Truth.NOT_MET

    def _met(self, rules: Iterable[Rule]) -> list[Rule]:
        return [rule for rule in rules if self.truths[rule.id] is Truth.MET]

    def _open(self, rules: Iterable[Rule]) -> list[Rule]:
        return [rule for rule in rules if self.truths[rule.id] is Truth.UNKNOWN]

    def _absolutes(self, option: Option) -> list[Rule]:
        against = self.rulebook.against[option.id]
        return [rule for rule in against if rule.effect.strength == "absolute"]

    def _relatives(self, option: Option) -> list[Rule]:
        against = self.rulebook.against[option.id]
        return [rule for rule in against if rule.effect.strength != "absolute"]

    def _standing(self, option: Option) -> str:
        indication = self._indication(option)
        if indication is Truth.NOT_MET:
            return "not-indicated"
        if self.scope is Truth.MET:
            return "on-hold"
        # What forbids or holds is said even where it is still open whether the option would
        # help: no answer to that question could make it available.
        if self._met(self._absolutes(option)):
            return "contraindicated"
        if self._met(self.rulebook.holding[option.id]):
            return "on-hold"
        return "undetermined" if indication is Truth.UNKNOWN else "indicated"

    def _listed(self, option: Option, standing: str) -> bool:
        if self.everything:
            return True
        if standing == "not-indicated":
            return False
        decided = self._indication(option) is Truth.MET
        return decided or self._raised(option.raised_by)

    def _option(self, option: Option, standing: str) -> OptionAnswer:
        indications = self.rulebook.indications[option.id]
        reasons = self._met(indications) or self._open(indications) or list(indications)
        against = self._met(self._absolutes(option))
        against += self._met(self.rulebook.holding[option.id])
        if self.scope is Truth.MET:
            against.append(self.scope_rule)
        undetermined = self._indication(option) is Truth.UNKNOWN
        return OptionAnswer(
            option=option.id,
            title=option.title,
            summary=option.summary,
            arthroscopic=option.arthroscopic,
            standing=standing,
            grade=self._grade(option, standing, reasons),
            because=[self._verdict(rule) for rule in reasons],
            against=[self._verdict(rule) for rule in against],
            cautions=[self._verdict(rule) for rule in self._met(self._relatives(option))],
            checks=self._checks(option),
            settles=_merge(self._sets(rule) for rule in reasons) if undetermined else [],
            alternatives=[self._alternative(one) for one in option.alternatives],
            approach=option.approach,
        )

    def _grade(self, option: Option, standing: str, reasons: list[Rule]) -> Mapping[str, Any]:
        """Return the grade of what decides: of the advice against where that stands."""
        if standing == "not-indicated":
            return {}
        against = self._met(self._absolutes(option)) if standing == "contraindicated" else []
        return _best_grade(against) or _best_grade(reasons)

    def _alternative(self, alternative: Mapping[str, Any]) -> Mapping[str, Any]:
        if "option" not in alternative:
            return alternative
        return {**alternative, "title": self.rulebook.options[alternative["option"]].title}

    def _set_aside(self, stands: Mapping[str, str]) -> list[SetAside]:
        lines = []
        for option in self.rulebook.options.values():
            if stands[option.id] == "not-indicated" and self._raised(option.raised_by):
                lines.append(self._one_line(option))
        return lines

    def _one_line(self, option: Option) -> SetAside:
        """Say why an option is set aside: what forbids it, else what its indication lacks."""
        forbidding = self._met(self._absolutes(option))
        if forbidding:
            rule = forbidding[0]
            return SetAside(option.id, option.title, rule.id, rule.statement, [])
        rule = self.rulebook.indications[option.id][0]
        lacking = self.explainer.suffices(rule.id, Truth.NOT_MET, self.literals)
        words = [self._in_short(name) for name in sorted(lacking)]
        return SetAside(
            option.id, option.title, rule.id, "not supported: " + "; ".join(words), sorted(lacking)
        )

    def _in_short(self, finding: str) -> str:
        definition = self.rulebook.vocabulary[finding]
        record = self.known.records.get(finding)
        shown = record.shown if record is not None else "not recorded"
        return f"{definition.title} {shown}"

    # -- checks and questions -------------------------------------------------------

    def _checks(self, option: Option) -> list[Check]:
        """Return what is still open before an option is chosen, most serious first."""
        checks: list[Check] = []
        decided = self._indication(option) is Truth.MET
        for rule in self._open(self.rulebook.holding[option.id]):
            if self._raised(rule.raised_by):
                checks += self._check(rule, "red-flag")
            elif decided and not self.known.claims(rule.screen):
                checks.append(self._screening(rule))
        for rule in self._open(self._absolutes(option)):
            checks += self._check(rule, "absolute")
        if self.scope is Truth.UNKNOWN:
            checks += self._check(self.scope_rule, "scope")
        if decided:
            for rule in self._open(self._relatives(option)):
                severity = "relative" if rule.kind == "contraindication" else "caution"
                checks += self._check(rule, severity)
        checks.sort(key=lambda check: SEVERITIES.index(check.severity))
        return list({(check.severity, check.finding): check for check in checks}.values())

    def _check(self, rule: Rule, severity: str) -> list[Check]:
        sets = self.explainer.clears(rule.id, self.literals, self.known.values)
        sets = sets or self.explainer.settles(rule.id, self.literals, self.known.values)
        return [
            Check(name, self._question(name), rule.id, rule.title, severity)
            for name in sorted(sets[0] if sets else ())
        ]

    def _screening(self, rule: Rule) -> Check:
        question = self._question(rule.screen)
        return Check(rule.screen, question, rule.id, rule.title, "screening")

    def _question(self, finding: str) -> str:
        definition = self.rulebook.vocabulary[finding]
        return definition.question or definition.title

    def _sets(self, rule: Rule) -> list[list[str]]:
        sets = self.explainer.settles(rule.id, self.literals, self.known.values)
        return [sorted(one) for one in sets]

    def _ask(self, flags: list[Rule], listed: list[Option], stands: Mapping[str, str]) -> list[Ask]:
        """Rank what to ask: possible red flags by urgency, then what settles most."""
        ranking = _Ranking()
        for rule in self._open(flags):
            tier = URGENCIES.index(rule.effect.urgency)
            ranking.add(tier, rule.id, map(frozenset, self._sets(rule)))
        if listed and self.known.side == "unspecified":
            ranking.add(len(URGENCIES), "every option", [frozenset(["side"])])
        if listed and self.scope is Truth.UNKNOWN:
            wanted = frozenset(check.finding for check in self._check(self.scope_rule, "scope"))
            ranking.add(len(URGENCIES) + 1, self.scope_rule.id, [wanted])
        for option in listed:
            self._ask_for(option, stands[option.id], ranking)
        return [
            Ask(name, "Which side is it?" if name == "side" else self._question(name), reasons)
            for name, reasons in ranking.ranked()
        ]

    def _ask_for(self, option: Option, standing: str, ranking: _Ranking) -> None:
        tier = len(URGENCIES) + 2
        if standing == "undetermined":
            for rule in self._open(self.rulebook.indications[option.id]):
                ranking.add(tier, option.id, map(frozenset, self._sets(rule)))
        elif standing == "indicated":
            for rule in self._open(self._absolutes(option)):
                wanted = frozenset(check.finding for check in self._check(rule, "absolute"))
                ranking.add(tier, option.id, [wanted])

    # -- verdicts -------------------------------------------------------------------

    def _verdict(self, rule: Rule) -> Verdict:
        truth = self.truths[rule.id]
        grave = rule.kind == "red-flag" or rule.effect.strength == "absolute"
        return Verdict(
            rule=rule.id,
            version=rule.version,
            kind=rule.kind,
            title=rule.title,
            truth=truth.value,
            statement=rule.statement,
            grade=rule.grade,
            confidence=rule.confidence,
            sources=rule.sources,
            suffices=sorted(self.explainer.suffices(rule.id, truth, self.literals)),
            trace=trace(self.rulebook, rule, self.known, self.truths),
            advice=rule.effect.advice,
            caveat=WEAK.get(rule.confidence, "") if grave else "",
            dispute=rule.data.get("dispute", {}),
        )


_STANDINGS = ("indicated", "on-hold", "contraindicated", "undetermined", "not-indicated")


class _Ranking:
    """Questions ranked by tier, then by how much they settle."""

    def __init__(self) -> None:
        self._tier: dict[str, int] = {}
        self._weight: dict[str, dict[str, float]] = {}

    def add(self, tier: int, reason: str, sets: Iterable[frozenset[str]]) -> None:
        """Count each finding of each set for this reason; a smaller set weighs more."""
        for one in sets:
            for name in one:
                self._tier[name] = min(tier, self._tier.get(name, tier))
                weights = self._weight.setdefault(name, {})
                weights[reason] = max(weights.get(reason, 0.0), 1 / len(one))

    def ranked(self) -> list[tuple[str, list[str]]]:
        """Return each finding with its reasons, the most useful question first."""
        order = sorted(
            self._weight,
            key=lambda name: (self._tier[name], -sum(self._weight[name].values()), name),
        )
        return [(name, sorted(self._weight[name])) for name in order]


def triage_of(findings: Findings, sides: Mapping[str, SideAnswer]) -> tuple[str, str]:
    """Return the triage of a document and the reason in a few words."""
    flags = [flag for side in sides.values() for flag in side.red_flags]
    urgent = [flag for flag in flags if flag.urgency in ACT_NOW]
    if urgent:
        return "act-now", f"{urgent[0].title} is {urgent[0].state}"
    if flags:
        return "soon", f"{flags[0].title} is {flags[0].state}"
    options = [one for side in sides.values() for one in side.options if one.arthroscopic]
    for option in options:
        if option.standing == "indicated" and not _serious(option.checks):
            return "ready", f"{option.title} is indicated and no serious check is open"
    waiting = [one for one in options if one.standing in ("indicated", "undetermined", "on-hold")]
    if waiting:
        return "ask-referrer", f"{waiting[0].title} is {waiting[0].standing}; facts are missing"
    if not findings.records:
        return "ask-referrer", "nothing was recorded"
    return "not-arthroscopic", "nothing recorded points to a keyhole procedure that is open"


def _serious(checks: Iterable[Check]) -> bool:
    return any(check.severity in ("red-flag", "absolute", "scope") for check in checks)


def _best_grade(rules: Iterable[Rule]) -> Mapping[str, Any]:
    graded = [rule.grade for rule in rules if rule.grade]
    return min(graded, key=lambda grade: str(grade["recommendation"]), default={})


def _merge(groups: Iterable[list[list[str]]]) -> list[list[str]]:
    merged = {tuple(one) for group in groups for one in group}
    return [list(one) for one in sorted(merged, key=lambda one: (len(one), one))]


def _conflict(rulebook: Rulebook, conflict: Conflict) -> Mapping[str, Any]:
    definition = rulebook.vocabulary[conflict.finding]
    return {
        "finding": conflict.finding,
        "title": definition.title,
        "side": conflict.side,
        "records": [
            {
                "value": record.shown,
                "origin": record.origin.pointer,
                "on": record.origin.on,
            }
            for record in conflict.records
        ],
    }


def _understood(
    rulebook: Rulebook, findings: Findings, facts: Mapping[str, SideFacts]
) -> dict[str, dict[str, Any]]:
    understood: dict[str, dict[str, Any]] = {side: {} for side in (*facts, "person")}
    for record in findings.records:
        line = {"value": record.shown, "origin": record.origin.pointer}
        if record.origin.on:
            line["on"] = record.origin.on
        understood[record.side].setdefault(record.id, []).append(line)
    for side, one in facts.items():
        for definition in rulebook.vocabulary.computed:
            worked = one.known.records.get(definition.id)
            if worked is not None and worked.origin.how != "recorded":
                line = {"value": worked.shown, "origin": worked.origin.pointer}
                understood[side][definition.id] = [{**line, "how": worked.origin.how}]
    return understood


def _cited(rulebook: Rulebook, sides: Mapping[str, SideAnswer]) -> dict[str, Any]:
    """Return the sources that anything in the answer names, each once."""
    names: set[str] = set()
    for side in sides.values():
        verdicts = [flag.because for flag in side.red_flags]
        for option in side.options:
            verdicts += [*option.because, *option.against, *option.cautions]
            names |= _cites(option.approach) | _cites(list(option.alternatives))
        for verdict in verdicts:
            names |= set(verdict.sources) | _cites(verdict.trace) | _cites(verdict.dispute)
        for line in side.set_aside:
            names |= set(rulebook.rules[line.rule].sources)
    return {name: rulebook.sources[name] for name in sorted(names)}


def _cites(data: Any) -> set[str]:
    return {str(value) for _, key, value in walk(data) if key == "cites"}
