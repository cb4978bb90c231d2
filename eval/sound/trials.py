"""Cases -> what is said to the recogniser: questions, commands, codes and figures, in voices and noises, all seeded."""

from __future__ import annotations

import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TypeVar

from assistant.domain.knowledge import KnowledgeBase
from assistant.recognition.saying import say_code
from assistant.talk.commands import Command
from eval.cases import EvalCase

T = TypeVar("T")
CLEAN: float | None = None
NOISES: tuple[float | None, ...] = (CLEAN, 20.0, 10.0, 5.0, 0.0)
REPLIES = ("yes", "no", "don't know", "not sure")
FIGURES = (
    "twenty three point eight volts", "zero point three millimetres", "nought point five amps", "four hundred volts",
    "two hundred and thirty volts", "one point two megohms", "six bar", "minus five degrees celsius",
    "fifteen millimetres", "three point nine amps", "eighty newtons", "ten minutes",
)  # fmt: skip
CODE_FORMS = ("code {}", "it shows {}", "what does {} mean", "{}")


class Kind(StrEnum):
    """What is said."""

    QUESTION = "question"
    COMMAND = "command"
    CODE = "code"
    FIGURE = "figure"


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """A text said in a voice in a noise (None: clean); `wanted`: the command, code or figure; `case` of a question."""

    kind: Kind
    text: str
    voice: str
    snr_db: float | None
    wanted: str = ""
    case: EvalCase | None = None

    @property
    def seed(self) -> int:
        """The same noise for the same words in every run."""
        return zlib.crc32(f"{self.kind}|{self.text}|{self.voice}|{self.snr_db}".encode())


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How much: texts of each kind, and the noises; in noise a command is said by every voice, other texts by one, in turn."""

    questions: int = 24
    commands: int = 40
    codes: int = 12
    figures: int = 12
    noises: tuple[float | None, ...] = NOISES


def texts(
    knowledge: KnowledgeBase, cases: Sequence[EvalCase], plan: Plan
) -> Iterator[tuple[Kind, str, str, EvalCase | None]]:
    """Kind, words, what is wanted, and the case."""
    asked = [c for c in cases if c.outcome == "answered" and c.wanted and c.group not in ("benign", "codes")]
    asked = [c for c in asked if c.q.isascii() and 4 <= len(c.q.split()) <= 16]
    for case in _spread(asked, plan.questions):
        yield Kind.QUESTION, case.q, "", case
    for words in _spread([*(str(c) for c in Command), *REPLIES], plan.commands):
        yield Kind.COMMAND, words, words, None
    for place, code in enumerate(_spread(sorted({c.id for c in knowledge.codes}), plan.codes)):
        yield Kind.CODE, CODE_FORMS[place % len(CODE_FORMS)].format(say_code(code)), code, None
    for words in _spread(FIGURES, plan.figures):
        yield Kind.FIGURE, f"it reads {words}", words, None


def trials(
    knowledge: KnowledgeBase, cases: Sequence[EvalCase], plan: Plan, judged: Sequence[str], others: Sequence[str]
) -> tuple[Trial, ...]:
    """Every text clean in every judged voice and one of the others; in each noise in one judged voice, commands in all."""
    found = []
    for place, (kind, text, wanted, case) in enumerate(texts(knowledge, cases, plan)):
        for turn, snr_db in enumerate(plan.noises):
            voices = [*judged, *others[place % len(others) :][:1]] if snr_db is None and others else list(judged)
            if snr_db is not None and kind is not Kind.COMMAND:
                voices = [judged[(place + turn) % len(judged)]]
            found += [Trial(kind=kind, text=text, voice=v, snr_db=snr_db, wanted=wanted, case=case) for v in voices]
    return tuple(found)


def _spread(items: Sequence[T], count: int) -> list[T]:
    """`count` items at even distances."""
    step = max(1.0, len(items) / max(1, count))
    return [items[int(i * step)] for i in range(min(count, len(items)))]
