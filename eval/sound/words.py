"""Trials heard -> word and character error rates, commands taken right, a yes heard that was none, and the wait; by voice and noise.

Under `said_words`, the one normalisation. Rates are of the whole: all edits over all words said.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from assistant.dialogue.hearing import SURE_REPLY
from assistant.dialogue.replies import Reply, reply_of
from assistant.talk.commands import command_of, plain
from eval.sound.hearing import HeardTrial
from eval.sound.text import said_words
from eval.sound.trials import Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One group of trials; a rate is None where the group has no such trial. `domain`: word error rate of the questions alone."""

    group: str
    count: int
    wer: float | None
    cer: float | None
    domain: float | None
    commands: float | None
    wrong_yes: int
    p95_ms: float


def edits(said: Sequence[str], heard: Sequence[str]) -> int:
    """Fewest insertions, deletions and substitutions from one to the other."""
    row = list(range(len(heard) + 1))
    for place, wanted in enumerate(said, start=1):
        before, row[0] = row[0], place
        for at, got in enumerate(heard, start=1):
            before, row[at] = row[at], min(row[at] + 1, row[at - 1] + 1, before + (wanted != got))
    return row[-1]


def error_rates(pairs: Iterable[tuple[tuple[str, ...], tuple[str, ...]]]) -> tuple[float, float] | None:
    """Word and character error rates of pairs of words said and heard; None when nothing was said."""
    words = wrong_words = signs = wrong_signs = 0
    for said, heard in pairs:
        words, wrong_words = words + len(said), wrong_words + edits(said, heard)
        text = " ".join(said)
        signs, wrong_signs = signs + len(text), wrong_signs + edits(text, " ".join(heard))
    return (wrong_words / words, wrong_signs / signs) if words else None


def same_command(said: str, heard: str) -> bool:
    """Whether what was heard does what was said."""
    if command_of(said) is not None or reply_of(said) is not None:
        return (command_of(said), reply_of(said)) == (command_of(heard), reply_of(heard))
    return plain(said) == plain(heard)


def wrong_yes(trial: HeardTrial) -> bool:
    """Whether a yes that would count was heard where none was said."""
    sure = reply_of(trial.heard.text) is Reply.YES and trial.heard.confidence >= SURE_REPLY
    return sure and reply_of(trial.trial.text) is not Reply.YES


def row(group: str, trials: Sequence[HeardTrial], codes: frozenset[str]) -> Row:
    """The figures of one group."""
    asked = [t for t in trials if t.trial.kind is not Kind.COMMAND]
    commands = [t for t in trials if t.trial.kind is Kind.COMMAND]
    rates = error_rates((said_words(t.trial.text, codes), said_words(t.heard.text, codes)) for t in asked)
    questions = [t for t in asked if t.trial.kind is Kind.QUESTION]
    domain = error_rates((said_words(t.trial.text, codes), said_words(t.heard.text, codes)) for t in questions)
    right = sum(same_command(t.trial.text, t.heard.text) for t in commands)
    waits = sorted(t.elapsed_ms for t in trials)
    return Row(
        group=group,
        count=len(trials),
        wer=rates[0] if rates else None,
        cer=rates[1] if rates else None,
        domain=domain[0] if domain else None,
        commands=right / len(commands) if commands else None,
        wrong_yes=sum(wrong_yes(t) for t in commands),
        p95_ms=waits[min(len(waits) - 1, int(0.95 * len(waits)))] if waits else 0.0,
    )


def rows(trials: Sequence[HeardTrial], codes: frozenset[str]) -> list[Row]:
    """By noise, then by voice and noise."""
    found: dict[str, list[HeardTrial]] = {}
    for trial in trials:
        noise = "clean" if trial.trial.snr_db is None else f"{trial.trial.snr_db:g} dB"
        for group in (noise, f"{noise}, {trial.trial.voice}"):
            found.setdefault(group, []).append(trial)
    return [row(group, found[group], codes) for group in sorted(found, key=lambda g: ("," in g, g))]
