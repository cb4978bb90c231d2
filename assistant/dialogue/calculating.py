"""A calculation in a conversation: begun by a wish, gone on with by the figures asked for, ended by its result."""

from __future__ import annotations

import re
from dataclasses import replace

from assistant.calculation.declaration import Calculator, Input
from assistant.calculation.knowing import Known
from assistant.calculation.registry import calculator_named
from assistant.calculation.running import calculate, checked, missing
from assistant.dialogue.calculation_wish import Wish, figures_of, readable, wish_of
from assistant.dialogue.replies import Reply, is_question, reply_of
from assistant.domain.answer import Answer, Line
from assistant.domain.calculation import Given
from assistant.domain.entries import Component
from assistant.domain.knowledge import KnowledgeBase
from assistant.domain.search import Findings
from assistant.domain.turn import Calculating, Conversation, Pending, PendingKind
from assistant.domain.utterance import Utterance
from assistant.errors import CalculationError
from assistant.recognition.readings import readings_in
from assistant.rules import phrases
from assistant.rules.verdict import Case, Rules

Turn = tuple[Answer, Conversation]
MOST_MISSED = 3
"""Answers in a row that could not be taken, after which the calculation is left."""
_LEAVE = re.compile(
    r"^(?:no[ ,]*)?(?:stop|cancel|never ?mind|leave it|forget it|skip it|quit that|enough)[ .!]*$", re.IGNORECASE
)
_NOT_KNOWN = re.compile(
    r"^(?:(?:i )?(?:do ?n'?t|do not|can'?t|cannot) (?:know|tell|say|read it|see it|measure it)|unknown|no idea|not (?:known|sure|given|on (?:it|the plate))|none|dunno|no plate|unreadable)\b.*$",
    re.IGNORECASE,
)


class Calculations:
    """Leads through a calculation; holds no state of a conversation."""

    def __init__(self, knowledge: KnowledgeBase, rules: Rules) -> None:
        """Keep what the machine knows."""
        self._known = Known(knowledge)
        self._rules = rules
        self._components = {c.full_id: c for c in knowledge.components}

    def wish(self, text: str) -> Wish | None:
        """The calculation that a text asks for."""
        return wish_of(text)

    def begin(
        self, utterance: Utterance, before: Conversation, wish: Wish, findings: Findings, back_to: tuple[Line, ...] = ()
    ) -> Turn:
        """Begin with what the words give and what the machine knows of the component named, or of the machine in scope.

        What was found for the words stays with the answer: its dangers are warned of, and its entries offered.
        """
        named = (*findings.query.exact, *findings.query.aliased)
        component = next((self._components[entry] for entry in named if entry in self._components), None)
        state = self._with_known(wish.calculator, wish.given, component, before)
        return self._go_on(utterance, before, state, back_to, findings)

    def take(self, utterance: Utterance, before: Conversation, back_to: tuple[Line, ...] = ()) -> Turn | None:
        """What an utterance does to a calculation that waits; None when it is no answer to it."""
        waiting = before.calculating
        if waiting is None or before.pending != waiting.pending:
            return None
        text = utterance.text.strip()
        if _LEAVE.match(text):
            after = self.left(before)
            case = Case(
                utterance=utterance, state=after.state, scope=after.scope, pending=after.pending, back_to=back_to
            )
            return self._rules.noted(case, (phrases.CALCULATION_ENDED,)), after
        calculator = calculator_named(waiting.calculator)
        wanted = calculator.inputs[waiting.asks]
        if _NOT_KNOWN.match(text) or reply_of(text) is Reply.UNKNOWN:
            return self._unknown(utterance, before, waiting, wanted, back_to)
        given = self._answers(calculator, waiting, text)
        if given is None:
            return (
                None if self._other(text) else self._again(utterance, before, waiting, self._no_figure(waiting, wanted))
            )
        try:
            for item in given:
                checked(item.name, calculator.inputs[item.name], item.text)
        except CalculationError as error:
            return self._again(utterance, before, waiting, error)
        names = {item.name for item in given}
        kept = tuple(item for item in waiting.given if item.name not in names)
        return self._go_on(utterance, before, replace(waiting, given=(*kept, *given), missed=0), back_to)

    def left(self, before: Conversation) -> Conversation:
        """The conversation with its calculation left, and what was asked before it asked again."""
        if before.calculating is None:
            return before
        pending = before.calculating.before if before.pending == before.calculating.pending else before.pending
        return replace(before, calculating=None, pending=pending)

    # --- inside

    def _with_known(
        self, calculator: Calculator, given: tuple[Given, ...], component: Component | None, before: Conversation
    ) -> Calculating:
        names = {item.name for item in given}
        known = self._known.given(calculator, component, before.scope)
        pending = before.calculating.before if before.calculating is not None else before.pending
        return Calculating(
            calculator=calculator.name,
            given=(*given, *(item for item in known if item.name not in names)),
            asks="",
            pending=Pending(kind=PendingKind.READING, text=""),
            component=component.full_id if component is not None else None,
            before=pending,
        )

    def _go_on(
        self,
        utterance: Utterance,
        before: Conversation,
        state: Calculating,
        back_to: tuple[Line, ...],
        findings: Findings | None = None,
    ) -> Turn:
        """Ask for the next figure that is missing, or give the result."""
        calculator = calculator_named(state.calculator)
        lacking = missing(calculator, {item.name: item for item in state.given})
        if lacking:
            return self._ask(utterance, before, state, lacking[0], findings)
        after = replace(before, calculating=None, pending=state.before)
        case = Case(
            utterance=utterance,
            state=after.state,
            scope=after.scope,
            findings=findings,
            pending=after.pending,
            back_to=back_to,
        )
        try:
            result = calculate(calculator, state.given)
        except CalculationError as error:
            return self._rules.cannot_calculate(case, error), after
        about = replace(after, focus=state.component or after.focus)
        return self._rules.calculated(case, result, calculator.hazards), about

    def _ask(
        self, utterance: Utterance, before: Conversation, state: Calculating, name: str, findings: Findings | None
    ) -> Turn:
        calculator = calculator_named(state.calculator)
        wanted = calculator.inputs[name]
        unsure = (phrases.DONT_KNOW,) if wanted.assume is not None else ()
        pending = Pending(kind=PendingKind.READING, text=wanted.ask, choices=(*wanted.choices, *unsure))
        waiting = replace(state, asks=name, pending=pending)
        after = replace(before, calculating=waiting, pending=pending)
        case = Case(utterance=utterance, state=after.state, scope=after.scope, findings=findings, pending=pending)
        return self._rules.asks_figure(case, calculator.title, waiting), after

    def _again(self, utterance: Utterance, before: Conversation, waiting: Calculating, why: CalculationError) -> Turn:
        if waiting.missed + 1 >= MOST_MISSED:
            after = self.left(before)
            case = Case(utterance=utterance, state=after.state, scope=after.scope, pending=after.pending)
            return self._rules.cannot_calculate(
                case, CalculationError(f"{why.message} {phrases.CALCULATION_ENDED}", why.hint)
            ), after
        once_more = replace(waiting, missed=waiting.missed + 1)
        case = Case(utterance=utterance, state=before.state, scope=before.scope, pending=waiting.pending)
        title = calculator_named(waiting.calculator).title
        return self._rules.asks_figure(case, title, once_more, why), replace(before, calculating=once_more)

    def _unknown(
        self, utterance: Utterance, before: Conversation, waiting: Calculating, wanted: Input, back_to: tuple[Line, ...]
    ) -> Turn:
        if wanted.assume is None:
            after = self.left(before)
            case = Case(
                utterance=utterance, state=after.state, scope=after.scope, pending=after.pending, back_to=back_to
            )
            error = CalculationError(
                f"Without {wanted.meaning} it cannot be calculated.", "Nothing is guessed: ask again when you have it."
            )
            return self._rules.cannot_calculate(case, error), after
        given = (*waiting.given, Given(name=waiting.asks, text="unknown"))
        return self._go_on(utterance, before, replace(waiting, given=given, missed=0), back_to)

    def _answers(self, calculator: Calculator, waiting: Calculating, text: str) -> tuple[Given, ...] | None:
        """The inputs that an answer gives; None when it gives none."""
        wanted = calculator.inputs[waiting.asks]
        plain = " ".join(re.sub(r"[^\w.°· -]", " ", text.lower()).split())
        if wanted.named:
            return (Given(name=waiting.asks, text=text),)
        for word, others in wanted.choices.items():
            if any(plain == o.lower() or (len(o) > 1 and f" {o.lower()} " in f" {plain} ") for o in (word, *others)):
                return (Given(name=waiting.asks, text=word),)
        if wanted.choices:
            return None
        found = figures_of(calculator, text, waiting.asks)
        asked = [item for item in found if item.name == waiting.asks]
        if asked:
            return found
        figures = readings_in(readable(text))
        if len(figures) == 1:  # of another kind, or without its unit: the check says so
            return (Given(name=waiting.asks, text=f"{figures[0].value:.12g} {figures[0].unit}".strip()),)
        return None

    @staticmethod
    def _no_figure(waiting: Calculating, wanted: Input) -> CalculationError:
        if wanted.choices:
            return CalculationError("That is none of the choices.", f"Say one of: {', '.join(wanted.choices)}.")
        example = f" in {wanted.unit}" if wanted.unit else ""
        return CalculationError(
            f"There was no one figure for {wanted.meaning}.", f"Say it{example}, or stop to leave the calculation."
        )

    @staticmethod
    def _other(text: str) -> bool:
        return is_question(text) or len(text.split()) > 5
