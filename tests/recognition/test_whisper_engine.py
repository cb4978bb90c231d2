import shutil
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.assembly import shelf_of
from assistant.domain.sound import RATE_HZ, Expectation, Outlook
from assistant.domain.utterance import Reading
from assistant.errors import ModelError
from assistant.recognisers import WHISPER, make_recogniser
from assistant.recognition.closed_grammar import is_phrase, plain
from assistant.recognition.whisper_engine import READINGS, SURE_QUESTION, WhisperRecogniser, distinct, undoubled
from assistant.talk.commands import PHRASES, REPLIES
from eval.sound.hall import hall_noise, in_hall
from eval.sound.text import said_words
from tests.recognition.conftest import by_espeak
from tests.recognition.recordings import AFTER_30_S, TWO_CITIES, part, two_cities

COMMANDS = (*REPLIES, *(phrase for phrases in PHRASES.values() for phrase in phrases))
CLAUSES = tuple(clause.text for clause in TWO_CITIES)


@pytest.fixture(scope="module")
def folder(settings):
    found = shelf_of(settings).find(WHISPER)
    if found is None:
        pytest.skip(f"its model is not installed: handlamp models fetch {WHISPER}")
    return found.path


@pytest.fixture(scope="module")
def recogniser(settings, folder):
    pytest.importorskip("faster_whisper", reason="faster-whisper is not installed (the `voice` extra)")
    return make_recogniser(shelf_of(settings), WHISPER)


@pytest.fixture(scope="module")
def person():
    """A recording of 44 s."""
    return two_cities()


@pytest.fixture(params=["packaged voice", "espeak-ng"])
def say(request, tmp_path):
    """Text -> int16 at 16 kHz, in each voice that is here."""
    if request.param == "packaged voice":
        return request.getfixturevalue("speak")
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed")
    return lambda text: by_espeak(tmp_path, text, "en-gb", "150")


def hear(recogniser, sound, start_ms=0, **expected):
    hearing = recogniser.listen(Expectation(**expected), start_ms)
    assert hearing.accept(sound) == ""
    return hearing.finish()


def not_asked(readings):
    raise AssertionError(f"the outlook was asked about {readings}")


class Asked:
    """An outlook that keeps what it was asked; readings with the word are about the knowledge, others hardly."""

    def __init__(self, word="", terms=(), settled=False):
        self.word, self.terms, self.settled = word, terms, settled
        self.readings = []

    def __call__(self, readings):
        self.readings.append(tuple(readings))
        chances = tuple(0.999 if self.word and self.word in plain(reading).split() else 0.001 for reading in readings)
        return Outlook(chances=chances, terms=self.terms, settled=self.settled)


def in_noise(person, number, snr_db):
    return in_hall(part(person, TWO_CITIES[number]), snr_db, 7)


# --- free speech


@pytest.mark.engine
@pytest.mark.parametrize("number", [0, 2, 7, 10])
def test_a_person_who_speaks_freely_is_heard_and_a_sure_recogniser_asks_nobody(recogniser, person, number):
    heard = hear(recogniser, part(person, TWO_CITIES[number]), 500, outlook=not_asked)
    assert said_words(heard.text) == said_words(TWO_CITIES[number].text)
    assert SURE_QUESTION <= heard.confidence <= 1.0
    assert heard.readings == () and heard.engine == recogniser.name == "whisper tiny.en"
    length_ms = 1000 * (TWO_CITIES[number].end_s - TWO_CITIES[number].start_s)
    assert (heard.start_ms, heard.end_ms) == (500, pytest.approx(500 + length_ms, abs=1))


@pytest.mark.engine
def test_a_person_who_is_heard_less_surely_is_heard_rightly_too(recogniser, person):
    heard = hear(recogniser, part(person, TWO_CITIES[4]))
    assert said_words(heard.text) == said_words(TWO_CITIES[4].text)
    assert 0.75 <= heard.confidence <= 1.0 and heard.readings == ()


@pytest.mark.engine
def test_the_size_of_the_blocks_changes_nothing(recogniser, person):
    sound = part(person, TWO_CITIES[2])
    whole = hear(recogniser, sound)
    for size in (160, 512, 7001):
        hearing = recogniser.listen(Expectation(), 0)
        assert {hearing.accept(sound[at : at + size]) for at in range(0, len(sound), size)} == {""}
        assert hearing.finish() == whole


@pytest.mark.engine
def test_the_same_sound_is_heard_the_same_whatever_was_heard_before(recogniser, folder, person):
    sound = in_noise(person, 5, 5.0)
    outlook = Asked("epoch", ("The epoch of wisdom.",))
    expected = [{}, {"terms": ("epoch",)}, {"phrases": CLAUSES}, {"outlook": outlook}]
    first = [hear(recogniser, sound, **each) for each in expected]
    hear(recogniser, part(person, TWO_CITIES[1]), phrases=COMMANDS)
    again = [hear(recogniser, sound, **each) for each in reversed(expected)][::-1]
    assert first == again == [hear(WhisperRecogniser(folder, threads=1), sound, **each) for each in expected]


@pytest.mark.engine
def test_what_was_finished_can_be_finished_again(recogniser, person):
    hearing = recogniser.listen(Expectation(), 0)
    hearing.accept(part(person, TWO_CITIES[0]))
    assert hearing.finish() == hearing.finish()


@pytest.mark.engine
@pytest.mark.parametrize("expected", [{}, {"phrases": COMMANDS}, {"outlook": Asked("epoch", ("The epoch of wisdom.",))}])
def test_what_was_taken_in_before_the_silence_is_what_is_heard_unless_more_was_said(recogniser, person, expected):
    said, more = in_noise(person, 5, 5.0), part(person, TWO_CITIES[9])
    quiet = np.zeros(RATE_HZ // 4, dtype=np.int16)
    hearing = recogniser.listen(Expectation(**expected), 0)
    hearing.accept(said)
    hearing.settle()
    hearing.accept(quiet)
    taken = hearing.finish()
    assert taken == replace(hear(recogniser, said, **expected), end_ms=taken.end_ms)
    assert taken.end_ms == pytest.approx(1000 * (len(said) + len(quiet)) / RATE_HZ, abs=1)
    hearing.resume()
    hearing.accept(more)
    assert hearing.finish() == hear(recogniser, np.concatenate([said, quiet, more]), **expected)


@pytest.mark.engine
def test_nothing_is_taken_in_of_nothing(recogniser):
    hearing = recogniser.listen(Expectation(), 0)
    hearing.settle()
    assert hearing.finish().text == ""


CHANCE = np.random.default_rng(1)
NOTHING_SAID = {
    "no sound": np.zeros(0, dtype=np.int16),
    "one sample": np.zeros(1, dtype=np.int16),
    "10 ms of silence": np.zeros(RATE_HZ // 100, dtype=np.int16),
    "silence": np.zeros(2 * RATE_HZ, dtype=np.int16),
    "white noise": (1000 * CHANCE.standard_normal(3 * RATE_HZ)).astype(np.int16),
    "a loud hall": (2000 * hall_noise(3 * RATE_HZ, 3)).astype(np.int16),
    "a quiet hall": (300 * hall_noise(3 * RATE_HZ, 4)).astype(np.int16),
}


@pytest.mark.engine
@pytest.mark.parametrize("name", NOTHING_SAID)
def test_silence_and_noise_are_nothing(recogniser, name):
    heard = hear(recogniser, NOTHING_SAID[name], outlook=not_asked)
    assert (heard.text, heard.confidence, heard.readings) == ("", 0.0, ())


@pytest.mark.engine
@pytest.mark.parametrize("name", NOTHING_SAID)
def test_silence_and_noise_are_no_command_that_is_acted_on(recogniser, name):
    heard = hear(recogniser, NOTHING_SAID[name], phrases=COMMANDS)
    assert heard.confidence < 0.3, heard  # below it nothing is acted on


@pytest.mark.engine
def test_speech_longer_than_the_model_takes_is_cut_at_30_s(recogniser, person):
    heard = hear(recogniser, person)
    assert heard.end_ms == pytest.approx(44_374, abs=2) and 0.0 < heard.confidence <= 1.0
    assert heard.text.startswith("It was the best of times") and "nothing before us" in heard.text
    assert AFTER_30_S.split()[2] not in heard.text
    changed = person.copy()
    changed[30 * RATE_HZ :] = 0
    assert hear(recogniser, changed) == heard


@pytest.mark.engine
def test_what_comes_after_words_that_are_said_again_is_heard(recogniser, person):
    sound = person[round(0.9 * RATE_HZ) : round(10.52 * RATE_HZ)]  # "it was the ..." five times over
    assert said_words(hear(recogniser, sound).text)[-6:] == said_words(TWO_CITIES[4].text)


# --- priming


@pytest.mark.engine
def test_terms_make_their_words_likelier(recogniser, person):
    sound = person[round(28.66 * RATE_HZ) : round(29.76 * RATE_HZ)]  # "in short", between two pauses
    assert plain(hear(recogniser, sound).text) != "in short"
    assert plain(hear(recogniser, sound, terms=("in short",)).text) == "in short"


@pytest.mark.engine
def test_a_designation_is_written_as_it_was_primed(recogniser, tmp_path):
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed")
    sound = in_hall(by_espeak(tmp_path, "check the proximity switch B G one", "en-gb", "150"), 10.0, 5)
    assert "BG1" not in hear(recogniser, sound).text
    assert "BG1" in hear(recogniser, sound, terms=("dancer", "carriage", "rollers", "BG1")).text


@pytest.mark.engine
def test_more_terms_than_the_model_can_take_are_cut(recogniser, person):
    heard = hear(recogniser, part(person, TWO_CITIES[0]), terms=("carriage",) * 1000)
    assert "best of times" in heard.text


# --- a closed list


@pytest.mark.engine
@pytest.mark.parametrize("snr_db", [None, 10.0])
def test_a_phrase_that_a_person_says_is_chosen_from_the_list_as_it_is_written_there(recogniser, person, snr_db):
    heard = [
        hear(recogniser, in_noise(person, n, snr_db), phrases=CLAUSES, outlook=not_asked) for n in range(len(CLAUSES))
    ]
    right = [h.text == text for h, text in zip(heard, CLAUSES, strict=True)]
    assert sum(right) >= len(CLAUSES) - (0 if snr_db is None else 1), [(h.text, h.confidence) for h in heard]
    assert all(0.0 < h.confidence <= 1.0 and h.readings == () for h in heard)


@pytest.mark.engine
@pytest.mark.parametrize("number", [0, 5, 8, 10])
def test_a_sentence_that_is_no_phrase_of_the_list_is_freely_heard(recogniser, person, number):
    heard = hear(recogniser, part(person, TWO_CITIES[number]), phrases=COMMANDS)
    assert not is_phrase(heard.text, COMMANDS) and heard.confidence > 0.6
    assert said_words(heard.text)[-2:] == said_words(TWO_CITIES[number].text)[-2:]


@pytest.mark.engine
@pytest.mark.parametrize("said", ["next", "go on", "yes", "don't know"])
def test_a_command_is_chosen_and_no_other_reading_is_preferred_to_it(recogniser, say, said):
    heard = hear(recogniser, in_hall(say(said), None, 5), phrases=COMMANDS, outlook=not_asked)
    assert heard.text == said and 0.0 < heard.confidence <= 1.0


@pytest.mark.engine
def test_a_question_is_no_command(recogniser, say):
    heard = hear(recogniser, in_hall(say("the film is torn on one side"), None, 5), phrases=COMMANDS)
    assert plain(heard.text) == "the film is torn on one side" and heard.confidence > 0.6


# --- what the knowledge makes of it


@pytest.mark.engine
@pytest.mark.parametrize("number", [2, 5])
def test_a_recogniser_that_is_not_sure_asks_and_hands_its_readings_over(recogniser, person, number):
    outlook = Asked(terms=("The age of steam.",))
    heard = hear(recogniser, in_noise(person, number, 0.0), outlook=outlook)
    assert len(outlook.readings) == 2 and outlook.readings[0]
    texts = [reading.text for reading in heard.readings]
    assert heard.text in texts and 1 < len(texts) <= READINGS
    assert len({plain(text) for text in texts}) == len(texts), texts
    likely = [reading.log_probability for reading in heard.readings]
    assert likely == sorted(likely, reverse=True) and max(likely) < 0.0
    assert set(texts) <= {text for asked in outlook.readings for text in asked}
    assert not set(outlook.readings[0]) & set(outlook.readings[1])
    assert 0.0 < heard.confidence < SURE_QUESTION


@pytest.mark.engine
def test_the_reading_that_the_knowledge_is_about_is_preferred(recogniser, person):
    sound = in_noise(person, 5, 0.0)
    plainly = hear(recogniser, sound, outlook=Asked())
    other = plain(plainly.readings[1].text).split()
    word = next(w for w in other if w not in plain(plainly.text).split())
    preferred = hear(recogniser, sound, outlook=Asked(word))
    assert word in plain(preferred.text).split() and preferred.text != plainly.text
    assert preferred.readings == plainly.readings


@pytest.mark.engine
@pytest.mark.parametrize("number", [2, 5])
def test_what_is_settled_stays_as_it_was_first_heard(recogniser, person, number):
    sound = in_noise(person, number, 0.0)
    first = hear(recogniser, sound)
    outlook = Asked("what", ("What is it?",), settled=True)
    assert hear(recogniser, sound, outlook=outlook) == first
    assert len(outlook.readings) == 1 and outlook.readings[0][0] == first.text and first.readings == ()


# --- folders


def broken(folder, copy, name, size):
    for path in folder.iterdir():
        (copy / path.name).symlink_to(path)
    (copy / name).unlink()
    if size:
        (copy / name).write_bytes((folder / name).read_bytes()[:size])
    return copy


@pytest.mark.engine
@pytest.mark.parametrize("name", ["model.bin", "tokenizer.json"])
@pytest.mark.parametrize("size", [0, 5000])
def test_a_file_that_is_missing_or_cut_short_is_said_and_nothing_is_looked_for_elsewhere(
    folder, tmp_path, monkeypatch, name, size
):
    tokenizers = pytest.importorskip("tokenizers")
    looked_for = []
    monkeypatch.setattr("faster_whisper.transcribe.tokenizers.Tokenizer", Tokenizers(tokenizers.Tokenizer, looked_for))
    with pytest.raises(ModelError) as caught:
        WhisperRecogniser(broken(folder, tmp_path, name, size))
    assert str(tmp_path) in caught.value.message and caught.value.hint
    assert looked_for == []


class Tokenizers:
    """The library's class; what it would fetch from the network is noted instead."""

    def __init__(self, library, looked_for):
        self.from_file = library.from_file
        self._looked_for = looked_for

    def from_pretrained(self, name):
        self._looked_for.append(name)
        raise OSError(name)


# --- the pure parts

WORDS = st.lists(st.sampled_from(["the", "film", "Film,", "snaps", "snaps.", "3"]), max_size=8)
READING = st.builds(
    Reading,
    text=st.sampled_from(["Where is FC3?", "where is fc3", "Where is it", "", "where, is it!", "Snaps."]),
    log_probability=st.floats(-9, 0),
)


@given(st.lists(READING, max_size=9))
def test_distinct_readings_are_the_likeliest_of_each_wording(readings):
    ranked = sorted(readings, key=lambda r: -r.log_probability)
    found = distinct(ranked)
    words = [plain(r.text) for r in found]
    assert len(set(words)) == len(words) and set(words) == {plain(r.text) for r in readings}
    assert all(r is next(other for other in ranked if plain(other.text) == plain(r.text)) for r in found)
    assert [r.log_probability for r in found] == sorted((r.log_probability for r in found), reverse=True)


@given(st.lists(st.sampled_from("abcdefgh"), min_size=2, max_size=8, unique=True), st.integers(2, 4))
def test_a_sentence_said_several_times_over_is_said_once(words, times):
    sentence = " ".join(words)
    assert undoubled(" ".join([f"{sentence.capitalize()}."] * times)) == f"{sentence.capitalize()}."


@given(st.lists(st.sampled_from("abcdefgh"), max_size=8, unique=True).map(" ".join))
def test_a_sentence_said_once_stays_as_it_is(text):
    assert undoubled(text) == text


@given(WORDS)
def test_what_is_left_of_a_sentence_is_its_beginning_and_is_left_again(words):
    once = undoubled(" ".join(words))
    assert " ".join(words).startswith(once) and bool(once) == bool(words)
    assert undoubled(once) == once
    assert {plain(word) for word in once.split()} == {plain(word) for word in words}


@pytest.mark.parametrize("text", ["no no", "yes", "two two", "a b a b a", ""])
def test_single_words_that_are_repeated_and_halves_are_kept(text):
    assert undoubled(text) == text
