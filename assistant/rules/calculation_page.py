"""A calculation's result, its question or its error -> the lines that show it; every figure is marked as computed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from assistant.domain.answer import Line, Role
from assistant.domain.calculation import Origin, Result, Taken, Verdict
from assistant.domain.turn import Calculating
from assistant.errors import CalculationError
from assistant.rules import phrases
from assistant.rules.grounding import figures_in


def result_page(result: Result) -> tuple[Line, ...]:
    """The lead first: what it is and how much; then verdict, what to do, what was taken from where, rule, sources."""
    known = frozenset(word for text in strings_of(result) for word, _ in figures_in(text))
    first, *others = result.figures
    put = _Page(known)
    put.one(f"{result.title}: {first.name} {first.text}.")
    put.many("", (f"{item.name}: {item.text}" for item in others), Role.ITEM)
    verdict = "" if result.verdict is Verdict.NO_LIMIT else f"{result.verdict}. "
    put.many(phrases.VERDICT, [f"{verdict}{result.why}".strip()] if verdict or result.why else (), Role.SENTENCE)
    put.many(phrases.LIMIT, [result.limit] if result.limit else (), Role.SENTENCE)
    put.many(phrases.DO_NEXT, result.next, Role.STEP)
    put.many(phrases.REMARKS, result.notes, Role.SENTENCE)
    put.many(phrases.TAKEN, (_taken(item) for item in result.taken), Role.ITEM)
    put.many(phrases.FORMULA, [result.formula], Role.SENTENCE)
    put.many(phrases.SOURCES, (f"{item.text} ({item.standing})" for item in result.sources), Role.ITEM)
    return put.lines()


def asked_page(title: str, waiting: Calculating, why: CalculationError | None) -> tuple[Line, ...]:
    """What is calculated and what was taken so far; with an error, that comes first."""
    given = [
        f"{item.name.replace('_', ' ')}: {item.text} ({_origin(item.origin, item.place)})" for item in waiting.given
    ]
    texts = [title, *given, *((why.message, why.hint) if why else ())]
    put = _Page(frozenset(word for text in texts for word, _ in figures_in(text)))
    if why is not None:
        put.one(why.message)
        put.many("", [why.hint] if why.hint else (), Role.SENTENCE)
    else:
        put.one(f"{title}.")
    put.many(phrases.TAKEN, given, Role.ITEM)
    return put.lines()


def failed_page(error: CalculationError) -> tuple[Line, ...]:
    """What is wrong, then what would be right."""
    texts = (error.message, error.hint)
    put = _Page(frozenset(word for text in texts for word, _ in figures_in(text)))
    put.one(error.message)
    put.many("", [error.hint] if error.hint else (), Role.SENTENCE)
    return put.lines()


def strings_of(result: Result) -> tuple[str, ...]:
    """Every text of a result; the figures in them are those that may be shown."""
    return (
        result.title,
        *(text for item in result.figures for text in (item.name, item.text)),
        *(text for item in result.taken for text in (item.meaning, item.text, item.place)),
        result.formula,
        *(item.text for item in result.sources),
        result.limit,
        result.why,
        *result.next,
        *result.notes,
    )


def _taken(item: Taken) -> str:
    return f"{item.meaning}: {item.text} ({_origin(item.origin, item.place)})"


def _origin(origin: Origin, place: str) -> str:
    match origin:
        case Origin.MACHINE:
            return f"{origin} of {place}"
        case Origin.ASSUMED:
            return f"{origin}: {place}"
        case _:
            return str(origin)


class _Page:
    """Collects lines; each is given those of its figures that the calculation knows."""

    def __init__(self, known: frozenset[str]) -> None:
        self._known = known
        self._lines: list[Line] = []

    def lines(self) -> tuple[Line, ...]:
        return tuple(self._lines)

    def one(self, text: str, role: Role = Role.SENTENCE) -> None:
        computed = tuple(word for word, _ in figures_in(text) if word in self._known)
        self._lines.append(Line(text=text, role=role, computed=computed))

    def many(self, heading: str, texts: Iterable[str] | Sequence[str], role: Role) -> None:
        texts = tuple(texts)
        if heading and texts:
            self._lines.append(Line(text=heading, role=Role.HEADING))
        for text in texts:
            self.one(text, role)
