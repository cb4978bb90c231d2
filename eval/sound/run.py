"""The bench of hearing: says the trials, hears them, prints words, commands, codes and figures, answers found, and waits."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from assistant.assembly import Options, make_assistant, shelf_of
from assistant.dialogue.outlook import KnowledgeOutlook
from assistant.dialogue.session import Session
from assistant.errors import SettingsError
from assistant.pipeline import Assistant
from assistant.recognisers import make_recogniser
from assistant.recognition.priming import priming_terms
from assistant.recognition.saying import say_text
from assistant.recognition.voice_activity import SileroDetector
from assistant.settings import Settings, load_settings
from eval.cases import SETS, read_cases
from eval.sound.confirmed import SCOPE, Outcome, outcome_of
from eval.sound.found import found
from eval.sound.hearing import HeardTrial, Listener
from eval.sound.text import said_words
from eval.sound.trials import CLEAN, Kind, Plan, Trial, trials
from eval.sound.voices import JUDGED, VoiceBox
from eval.sound.words import Row, grouped, rows, same_command


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What to measure; `engine` "" for the recogniser in use, no `voices` for those the bars hold for."""

    questions: int
    noises: tuple[float, ...] = ()
    voices: tuple[str, ...] = ()
    engine: str = ""
    misses: bool = False
    unprimed: bool = False


def main(wish: Wish) -> None:
    """Print the figures.

    Raises:
        SettingsError: no voice is installed, or not the one that was asked for.
        ModelError: the recogniser cannot be had.

    """
    settings = load_settings()
    box = VoiceBox(settings.cache_dir / "voices")
    try:
        _measure(wish, settings, box, _voices(wish, box))
    finally:
        box.close()


def _voices(wish: Wish, box: VoiceBox) -> list[str]:
    installed = [voice.name for voice in box.voices]
    wanted = list(wish.voices) or [name for name in JUDGED if name in installed]
    absent = [name for name in wanted if name not in installed]
    if absent or not wanted:
        raise SettingsError(
            f"Voices not installed: {', '.join(absent or JUDGED)}.",
            "Install flite, espeak-ng or the `voice-piper` extra.",
        )
    return wanted


def _measure(wish: Wish, settings: Settings, box: VoiceBox, voices: Sequence[str]) -> None:
    assistant = make_assistant(settings, Options(model=False), print)
    knowledge = assistant.knowledge
    codes = frozenset(code.id for code in knowledge.codes)
    recogniser = make_recogniser(shelf_of(settings), f"recogniser-{wish.engine}" if wish.engine else "")
    most = Plan()
    fewer = {kind: min(wish.questions, getattr(most, kind)) for kind in ("commands", "codes", "figures")}
    plan = replace(most, questions=wish.questions, noises=(CLEAN, *wish.noises), **fewer)
    planned = trials(knowledge, read_cases(SETS["development"], knowledge), plan, voices, ())
    print(f"{recogniser.name}; {len(planned)} utterances; voices {', '.join(voices)}", flush=True)
    detector = SileroDetector()

    def outlook_in(scope: str | None) -> KnowledgeOutlook:
        conversation = Session(assistant, scope).conversation
        return KnowledgeOutlook(knowledge, assistant.looked_up, lambda: conversation)

    def heard(some: Sequence[Trial], terms: tuple[str, ...], *, twice: bool = True) -> list[HeardTrial]:
        asked = outlook_in if twice else None
        listener = Listener(recogniser, detector, box, terms, lambda: time.perf_counter() * 1000, asked)
        return [listener.hear(trial, say_text(trial.text, codes)) for trial in some]

    terms = priming_terms(knowledge, SCOPE)
    primed = heard(planned, terms)
    print("Primed with the terms of the machine in scope, listened to again where it was not sure:")
    _tell(primed, assistant, codes)
    if wish.unprimed:
        asked = [t for t in planned if t.kind is Kind.QUESTION]
        print("Questions, primed, listened to once:")
        _tell(heard(asked, terms, twice=False), assistant, codes)
        print("Questions, not primed, listened to once:")
        _tell(heard(asked, (), twice=False), assistant, codes)
    for line in _misses(primed, codes) if wish.misses else ():
        print(line)


def _tell(done: Sequence[HeardTrial], assistant: Assistant, codes: frozenset[str]) -> None:
    for row in rows(done, codes):
        print(_line(row))
    for noise, some in grouped(done).items():
        if "," in noise:
            continue
        share = found(some, assistant)
        if share is not None:
            print(
                f"{noise:8} R@3 typed {share.typed:.3f}, heard {share.heard:.3f}, heard without repair {share.unrepaired:.3f}"
            )
        named = [t for t in some if t.trial.kind in (Kind.CODE, Kind.FIGURE)]
        count = Counter(outcome_of(t, assistant, codes) for t in named)
        if named:
            print(
                f"{noise:8} codes and figures after confirmation: "
                + ", ".join(f"{outcome} {count[outcome]}" for outcome in Outcome)
                + f" of {len(named)}",
                flush=True,
            )


def _misses(done: Sequence[HeardTrial], codes: frozenset[str]) -> list[str]:
    """What was said and heard, where they differ."""
    found = []
    for trial in done:
        said, heard = trial.trial.text, trial.heard.text
        if trial.trial.kind is Kind.COMMAND:
            differ = not same_command(said, heard)
        else:
            differ = said_words(said, codes) != said_words(heard, codes)
        if differ:
            noise = "clean" if trial.trial.snr_db is None else f"{trial.trial.snr_db:g} dB"
            found.append(f"{noise} {trial.trial.voice}: {said!r} -> {heard!r} ({trial.heard.confidence:.2f})")
    return found


def _line(row: Row) -> str:
    wer, cer, figures, right = (
        f"{100 * v:.1f} %" if v is not None else "-" for v in (row.wer, row.cer, row.figures_wer, row.commands)
    )
    return (
        f"{row.group:18} questions {row.questions} WER {wer} CER {cer} | codes, figures {row.figures} WER {figures}"
        f" | commands {row.said_commands} right {right} wrong yes {row.wrong_yes}"
        f" | median {row.median_ms:.0f} p95 {row.p95_ms:.0f} ms"
    )
