"""What wins on one side: standings, red flags, checks, and what to ask next.

Takes what is known of the side and the truth of every rule; gives a `SideAnswer`. The order of
precedence is in `_standing`, and nowhere else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, assert_never

from plafond.assessment.answers import (
    SEVERITIES,
    STANDINGS,
    Ask,
    Check,
    OptionAnswer,
    RedFlag,
    SetAside,
    SideAnswer,
    SideFacts,
    Verdict,
)
from plafond.findings import Conflict, Truth
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
    clauses,
    holds,
)
from plafond.rulebook.rules import URGENCIES

WEAK = {
    "memory": "The number behind this rule comes from trade knowledge that was not seen in print.",
    "judgement": "This rule is a judgement of its authors; no source states it.",
}


class Side:
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
        """Return the answer for this side."""
        flags = [rule for rule in self._by_urgency() if self._flag_listed(rule)]
        stands = {option.id: self._standing(option) for option in self.rulebook.options.values()}
        listed = [
            option
            for option in self.rulebook.options.values()
            if self._listed(option, stands[option.id])
        ]
        red_flags = [self._red_flag(rule, [option.id for option in listed]) for rule in flags]
        options = [self._option(option, stands[option.id]) for option in listed]
        options.sort(key=lambda one: (STANDINGS.index(one.standing), not one.arthroscopic))
        return SideAnswer(
            red_flags=red_flags,
            options=options,
            set_aside=[] if self.everything else self._set_aside(stands),
            ask=self._ask(flags, listed, stands),
            ruled_out=self._ruled_out(),
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
            raised_by=self._raisers(rule.raised_by),
            settles=[] if met else self._sets(rule),
        )

    def _not_screened(self) -> list[str]:
        """Return the screening findings of open red flags that nobody recorded, urgent first."""
        unraised = [rule for rule in self._by_urgency() if not self._flag_listed(rule)]
        screens = [rule.screen for rule in self._open(unraised)]
        return [name for name in dict.fromkeys(screens) if not self.known.claims(name)]

    def _ruled_out(self) -> list[str]:
        """Return the red flags that the record rules out, where it tells anything of them.

        One that the patient's age or another disease alone rules out is no news of the foot.
        """
        return [
            rule.id
            for rule in self._by_urgency()
            if self.truths[rule.id] is Truth.NOT_MET
            and (self._raised(rule.raised_by) or self._told_of(rule))
        ]

    def _told_of(self, rule: Rule) -> bool:
        vocabulary = self.rulebook.vocabulary
        names = (*self._in_order([rule]), rule.screen)
        return any(vocabulary[name].sided and self.known.claims(name) for name in names)

    # -- options --------------------------------------------------------------------

    def _raised(self, conditions: Iterable[Condition]) -> bool:
        return any(self._points(condition) for condition in conditions)

    def _raisers(self, conditions: Iterable[Condition]) -> list[str]:
        """Return the findings that point this way, each once."""
        pointing = (clauses(condition) for condition in conditions if self._points(condition))
        names = (clause.finding for found in pointing for clause in found if self._points(clause))
        return list(dict.fromkeys(names))

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
            settles=self._option_sets(option) if standing == "undetermined" else [],
            alternatives=[self._alternative(one) for one in option.alternatives],
            approach=option.approach,
        )

    def _grade(self, option: Option, standing: str, reasons: list[Rule]) -> Mapping[str, Any]:
        """Return the grade of what decides: of what forbids the option where it is forbidden."""
        if standing == "contraindicated":
            return _best_grade(self._met(self._absolutes(option)))
        return {} if standing == "not-indicated" else _best_grade(reasons)

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
        indication = self.rulebook.indications[option.id][0]
        lacking = self.explainer.suffices(indication.id, Truth.NOT_MET, self.literals)
        forbidding = self._met(self._absolutes(option))
        forbidding += [
            rule
            for rule in self._met(self._relatives(option))
            if rule.kind == "contraindication" and lacking & set(rule.findings)
        ]
        rule = forbidding[0] if forbidding else indication
        if forbidding:
            return SetAside(option.id, option.title, rule.id, rule.statement, [])
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
        """Return what is still open before an option is chosen, most serious first.

        Outside the scope there is none: these rules do not choose there.
        """
        checks: list[Check] = []
        if self.scope is Truth.MET:
            return checks
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

    def _option_sets(self, option: Option) -> list[list[str]]:
        rules = [rule.id for rule in self._open(self.rulebook.indications[option.id])]
        sets = self.explainer.settles_any(rules, self.literals, self.known.values)
        return [sorted(one) for one in sets]

    def _sets(self, rule: Rule) -> list[list[str]]:
        sets = self.explainer.settles(rule.id, self.literals, self.known.values)
        return [sorted(one) for one in sets]

    def _ask(self, flags: list[Rule], listed: list[Option], stands: Mapping[str, str]) -> list[Ask]:
        """Rank what to ask: possible red flags by urgency, then what settles most."""
        ranking = _Ranking()
        for rule in self._open(flags):
            tier = URGENCIES.index(rule.effect.urgency)
            ranking.add(tier, rule.id, self._in_order([rule]), map(frozenset, self._sets(rule)))
        later = len(URGENCIES)
        if listed and self.known.side == "unspecified":
            ranking.add(later, "every option", ["side"], [frozenset(["side"])])
        if listed and self.scope is Truth.UNKNOWN:
            wanted = [check.finding for check in self._check(self.scope_rule, "scope")]
            ranking.add(later + 1, self.scope_rule.id, wanted, [frozenset(wanted)])
        for option in listed:
            self._ask_for(option, stands[option.id], ranking, later + 2)
        if not listed and not flags:
            self._ask_about_complaints(ranking, later)
        ranked = ranking.ranked()
        asked = {name for name, _ in ranked}
        return [
            Ask(name, "Which side is it?" if name == "side" else self._question(name), reasons)
            for name, reasons in ranked
            if not self._follows_from(name, asked)
        ]

    def _ask_for(self, option: Option, standing: str, ranking: _Ranking, tier: int) -> None:
        if standing == "undetermined":
            rules = self._open(self.rulebook.indications[option.id])
            sets = map(frozenset, self._option_sets(option))
            ranking.add(tier, option.id, self._in_order(rules), sets)
        elif standing == "indicated":
            for rule in self._open(self._absolutes(option)):
                wanted = [check.finding for check in self._check(rule, "absolute")]
                ranking.add(tier, option.id, wanted, [frozenset(wanted)])

    def _ask_about_complaints(self, ranking: _Ranking, tier: int) -> None:
        """Ask what would point somewhere, where only a bare complaint is recorded."""
        for complaint in self.rulebook.complaints:
            if self._points(Is(complaint.finding, "present")):
                wanted = [name for name in complaint.ask if not self.known.claims(name)]
                ranking.add(tier, complaint.finding, wanted, [frozenset(wanted)])

    def _in_order(self, rules: Iterable[Rule]) -> list[str]:
        """Return the findings of rules in the order their authors wrote them, derived worked in."""
        names: list[str] = []
        for rule in rules:
            for name in rule.findings:
                derived = self.rulebook.derived_by.get(name)
                names += self._in_order([derived]) if derived else [name]
        return names

    def _follows_from(self, name: str, asked: set[str]) -> bool:
        """Say whether a quantity is worked out of others that are asked anyway."""
        if name == "side":
            return False
        computed = self.rulebook.vocabulary[name].computed
        return computed is not None and set(computed.inputs) <= asked

    # -- verdicts -------------------------------------------------------------------

    def _deriving(self, rule: Rule) -> list[Rule]:
        """Return the rules that derive what a rule tests, and those behind them."""
        derived = self.rulebook.derived_by
        first = [derived[name] for name in rule.findings if name in derived]
        return [one for found in first for one in (found, *self._deriving(found))]

    def _verdict(self, rule: Rule) -> Verdict:
        truth = self.truths[rule.id]
        whole = [rule, *self._deriving(rule)]
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
            sources=list(dict.fromkeys(name for one in whole for name in one.sources)),
            suffices=sorted(self.explainer.suffices(rule.id, truth, self.literals)),
            trace=trace(self.rulebook, rule, self.known, self.truths),
            advice=rule.effect.advice,
            caveat=WEAK.get(rule.confidence, "") if grave else "",
            disputes=[
                {"rule": one.id, **one.data["dispute"]} for one in whole if "dispute" in one.data
            ],
        )


class _Ranking:
    """Questions ranked by tier, then by how much they settle, then as their authors wrote them."""

    def __init__(self) -> None:
        self._tier: dict[str, int] = {}
        self._place: dict[str, int] = {}
        self._weight: dict[str, dict[str, float]] = {}

    def add(
        self, tier: int, reason: str, order: Iterable[str], sets: Iterable[frozenset[str]]
    ) -> None:
        """Count each finding of each set for this reason; a smaller set weighs more."""
        for name in order:
            self._place.setdefault(name, len(self._place))
        for one in sets:
            for name in one:
                self._tier[name] = min(tier, self._tier.get(name, tier))
                weights = self._weight.setdefault(name, {})
                weights[reason] = max(weights.get(reason, 0.0), 1 / len(one))

    def ranked(self) -> list[tuple[str, list[str]]]:
        """Return each finding with its reasons, the most useful question first."""
        order = sorted(
            self._weight,
            key=lambda name: (
                self._tier[name],
                -sum(self._weight[name].values()),
                self._place.get(name, len(self._place)),
                name,
            ),
        )
        return [(name, sorted(self._weight[name])) for name in order]


def _best_grade(rules: Iterable[Rule]) -> Mapping[str, Any]:
    graded = [rule.grade for rule in rules if rule.grade]
    return min(graded, key=lambda grade: str(grade["recommendation"]), default={})


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
