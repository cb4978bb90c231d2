"""Trials heard -> word and character errors, commands taken right, a yes heard that was none, the wait; by noise and voice.

Questions are counted apart from codes and figures. Under `said_words`, the one normalisation. Rates are of the whole: all
edits over all words said.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from assistant.dialogue.hearing import SURE_REPLY
from assistant.dialogue.replies import Reply, reply_of
from assistant.talk.commands import command_of, plain
from eval.measures import percentile
from eval.sound.hearing import HeardTrial
from eval.sound.text import said_words
from eval.sound.trials import Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One group of trials; a rate is None where the group has no such trial."""

    group: str
    questions: int
    wer: float | None
    cer: float | None
    figures: int
    figures_wer: float | None
    said_commands: int
    commands: float | None
    wrong_yes: int
    median_ms: float
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
    asked = [t for t in trials if t.trial.kind is Kind.QUESTION]
    figures = [t for t in trials if t.trial.kind in (Kind.CODE, Kind.FIGURE)]
    commands = [t for t in trials if t.trial.kind is Kind.COMMAND]
    rates, of_figures = _rates(asked, codes), _rates(figures, codes)
    right = sum(same_command(t.trial.text, t.heard.text) for t in commands)
    waits = [t.elapsed_ms for t in trials]
    return Row(
        group=group,
        questions=len(asked),
        wer=rates[0] if rates else None,
        cer=rates[1] if rates else None,
        figures=len(figures),
        figures_wer=of_figures[0] if of_figures else None,
        said_commands=len(commands),
        commands=right / len(commands) if commands else None,
        wrong_yes=sum(wrong_yes(t) for t in commands),
        median_ms=percentile(waits, 0.5) if waits else 0.0,
        p95_ms=percentile(waits, 0.95) if waits else 0.0,
    )


def _rates(trials: Sequence[HeardTrial], codes: frozenset[str]) -> tuple[float, float] | None:
    return error_rates((said_words(t.trial.text, codes), said_words(t.heard.text, codes)) for t in trials)


def rows(trials: Sequence[HeardTrial], codes: frozenset[str]) -> list[Row]:
    """By noise, then by voice and noise."""
    found = grouped(trials)
    return [row(group, found[group], codes) for group in sorted(found, key=lambda g: ("," in g, g))]


def grouped(trials: Iterable[HeardTrial]) -> dict[str, list[HeardTrial]]:
    """Each trial under its noise, and under its noise and voice."""
    found: dict[str, list[HeardTrial]] = {}
    for trial in trials:
        noise = noise_of(trial)
        for group in (noise, f"{noise}, {trial.trial.voice}"):
            found.setdefault(group, []).append(trial)
    return found


def noise_of(trial: HeardTrial) -> str:
    """Clean, or the signal over noise."""
    return "clean" if trial.trial.snr_db is None else f"{trial.trial.snr_db:g} dB"
