"""Sound that is no good, and devices that fail, in a conversation: one line, the typed path goes on, the record stays whole."""

import io
import tracemalloc
from dataclasses import replace

import numpy as np
import pytest

from assistant import talk_cli
from assistant.dialogue.session import Session
from assistant.domain.job import JobStatus
from assistant.domain.sound import RATE_HZ
from assistant.domain.utterance import Heard
from assistant.errors import SoundError, VoiceError
from assistant.jobs_cli import new_mark, now
from assistant.recognition import sound_files
from assistant.recognition.endpointing import Endpointer, Timing
from assistant.recognition.level import NO_WORDS, Level
from assistant.recognition.sound_files import FileSource
from assistant.records.ledger import FILE, open_ledger
from assistant.talk import recordings
from assistant.talk.conversation import MUTED, MUTED_S, NOT_YOUR_WORDS, Block, Conversation, SourceLost, VoiceLost
from assistant.talk.ears import Ears, Ended
from assistant.talk.mouth import Mouth
from assistant.talk.recordings import hear_files
from assistant.talk.screen import PrintedScreen
from assistant.talk.state import Understood
from assistant.talk_cli import TalkOptions, _Parts, run_talk
from tests.talk.twins import ScriptedDetector, ScriptedRecogniser, ScriptedSpeaker, quiet, speech

soundfile = pytest.importorskip("soundfile")
pytestmark = pytest.mark.engine
GOOD = Level(speech_dbfs=-15.0, noise_dbfs=-60.0, peak_dbfs=-10.0, clipped=0.0, length_ms=2000, treble_db=-10.0)
SLOW = "guide me through the turntable turns slowly with heavy loads"


class Turns:
    def __init__(self, session):
        self.session = session

    def take(self, text, heard):
        return self.session.say(text)


class Desk:
    def __init__(self, assistant, *texts, open_microphone=True):
        self.printed = []
        screen = PrintedScreen(self.printed.append, 80)
        turns = Turns(Session(assistant, "drumlin"))
        self.talk = Conversation(turns=turns, screen=screen, open_microphone=open_microphone)
        endpointer = Endpointer(ScriptedDetector(), Timing(end_silence_ms=96, least_speech_ms=32))
        self.talk.with_ears(Ears(ScriptedRecogniser(*texts), endpointer, self.talk.expecting))

    def heard(self, text, level=GOOD, confidence=0.9):
        """What the screen says after an utterance, the notes alone."""
        del self.printed[:]
        words = Heard(
            text=f"hand lamp {text}".strip() if text else "",
            confidence=confidence,
            engine="twin",
            start_ms=0,
            end_ms=900,
        )
        self.talk.hear(Ended(heard=words, level=level))
        return [row[1:-2] for row in self.printed if row.startswith("(")]


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"clipped": 0.2}, "clipped"), ({"speech_dbfs": -50.0}, "quiet"), ({"treble_db": -60.0}, "muffled"),
        ({"noise_dbfs": -20.0}, "hardly stands above"), ({"peak_dbfs": -90.0}, "muted"),
    ],
)  # fmt: skip
def test_an_utterance_without_words_says_what_was_wrong_with_its_sound(assistant, wrong, said):
    desk = Desk(assistant)
    assert said in desk.heard("", replace(GOOD, **wrong))[-1]
    assert said in desk.heard("", replace(GOOD, **wrong))[-1]  # each time


def test_good_sound_without_words_is_told_as_that(assistant):
    assert Desk(assistant).heard("")[-1] == NO_WORDS


def test_an_utterance_that_was_understood_says_it_once_until_one_is_good(assistant):
    desk = Desk(assistant)
    clipped = replace(GOOD, clipped=0.2)
    assert "clipped (20.0 %" in desk.heard("where is KF1", clipped)[-1]
    assert desk.heard("where is KF1", replace(GOOD, clipped=0.3)) == []
    assert desk.heard("where is KF1") == []
    assert "clipped" in desk.heard("where is KF1", clipped)[-1]


def test_words_that_nothing_answers_may_be_anothers(assistant):
    assert Desk(assistant).heard("please bring me the coffee and the newspaper")[-1] == NOT_YOUR_WORDS
    assert Desk(assistant).heard("where is KF1") == []


def test_the_level_comes_with_the_utterance_through_the_ears(assistant):
    desk = Desk(assistant, "where is KF1")
    loud = np.full(512 * 10, 32_767, dtype=np.int16)
    desk.talk.take(Block(samples=np.concatenate([quiet(5), loud, quiet(10)])))
    assert any("clipped" in row for row in desk.printed)


def test_pure_silence_from_a_microphone_is_told_once_and_again_after_sound(assistant):
    desk = Desk(assistant)
    second = Block(samples=np.zeros(RATE_HZ, dtype=np.int16))

    def told(seconds):
        del desk.printed[:]
        for _ in range(seconds):
            desk.talk.take(second)
        return sum(MUTED in row for row in desk.printed)

    assert told(round(MUTED_S) - 1) == 0 and told(1) == 1 and told(60) == 0
    desk.talk.take(Block(samples=np.ones(160, dtype=np.int16)))
    assert told(round(MUTED_S)) == 1


@pytest.mark.parametrize(
    "lost",
    [
        SourceLost(error=SoundError("The microphone x gives no more sound.", "Type on.")),
        VoiceLost(error=VoiceError("The loudspeaker is gone.", "Answers are printed.")),
    ],
)
def test_a_device_that_is_lost_is_one_line_and_typing_goes_on(assistant, lost):
    desk = Desk(assistant)
    desk.talk.take(lost)
    assert desk.printed == [f"({lost.error.message} {lost.error.hint})\n"]
    desk.talk.take(Understood(text="where is KF1"))
    assert any("KF1" in row for row in desk.printed)


def test_a_loudspeaker_that_fails_in_the_middle_leaves_the_answer_on_the_screen(assistant):
    desk = Desk(assistant)

    class Failing:
        playing, count = False, 0

        def play(self, sound):
            self.count += 1
            if self.count > 1:
                raise VoiceError("The loudspeaker is gone.", "Answers are printed.")

        def stop(self):
            pass

    from assistant.talk.state import LineSaid

    mouth = Mouth(
        ScriptedSpeaker(),
        Failing(),
        lambda ticket: desk.talk.post(LineSaid(ticket=ticket)),
        lambda error: desk.talk.post(VoiceLost(error=error)),
    )
    desk.talk.with_mouth(mouth)
    desk.talk.take(Understood(text="what does code 204 mean"))
    desk.talk.settle()
    text = "".join(desk.printed)
    assert text.count("The loudspeaker is gone.") == 1 and "CODE 204: TURNTABLE OVERLOAD." in text
    mouth.close()


# --- files


def written(folder, *parts, name="a.wav"):
    soundfile.write(folder / name, np.concatenate(parts), RATE_HZ)
    return FileSource(folder / name)


def test_a_file_without_speech_says_so(assistant, tmp_path):
    notes = []
    hear_files(
        Desk(assistant).talk,
        [written(tmp_path, quiet(40)), written(tmp_path, quiet(40) + 300, name="b.wav")],
        notes.append,
    )
    assert notes[0].startswith("a.wav: It is silent") and notes[1].startswith("b.wav: There is sound, but no speech")


def test_a_long_file_is_announced_at_once_and_says_how_far_it_is(assistant, tmp_path, monkeypatch):
    monkeypatch.setattr(sound_files, "LONG_MS", 60_000)
    monkeypatch.setattr(recordings, "PROGRESS_MS", 60_000)
    desk = Desk(assistant, "hand lamp where is KF1")
    source = written(
        tmp_path, np.zeros(80 * RATE_HZ, dtype=np.int16), speech(0), np.zeros(60 * RATE_HZ, dtype=np.int16)
    )
    order = []
    desk.talk.hear, hear = lambda i: (order.append("heard") if isinstance(i, Ended) else None, hear(i)), desk.talk.hear
    hear_files(desk.talk, [source], order.append)
    assert order == [
        "a.wav lasts 2 min: it is heard from start to end, each utterance answered as it comes; Ctrl-C ends it.",
        "a.wav: 1 of 2 min heard.", "heard", "a.wav: 2 of 2 min heard.",
    ]  # fmt: skip


def test_hours_of_talk_are_not_kept_in_memory(assistant):
    minute = np.concatenate([speech(7, 900), quiet(975)])

    class Hours:
        def blocks(self):
            for _ in range(30):
                yield from np.array_split(minute, 600)

    desk = Desk(assistant)
    tracemalloc.start()
    utterances = desk.talk.listen_to(Hours())
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert utterances == 30
    assert peak < 8_000_000  # those 30 min whole would be 58 MB


def parts_of(assistant, settings, folder, notes):
    if not (folder / "models").exists():
        (folder / "models").symlink_to(settings.data_dir / "models")
    own = replace(settings, data_dir=folder, machine="drumlin")
    return _Parts(assistant, own, TalkOptions(audio=(folder / "none.wav",), silent=True), notes.append)


def test_a_job_is_taken_up_again_after_the_microphone_was_lost_and_the_talk_ended(assistant, settings, tmp_path):
    notes = []
    first = parts_of(assistant, settings, tmp_path, notes)
    talk = first.conversation(PrintedScreen(lambda text: None, 80))
    talk.take(Understood(text=SLOW))
    talk.settle()
    talk.take(SourceLost(error=SoundError("The microphone x gives no more sound.", "Type on.")))
    talk.take(Understood(text="stopped"))
    talk.settle()
    talk.close()
    first.close()
    with open_ledger(tmp_path / FILE) as ledger:
        (state,) = ledger.states()
        assert state.job.status is JobStatus.LEFT_OPEN and state.energy == "stopped"
        ledger.set_current(state.job.id, new_mark(), now())
    again = parts_of(assistant, settings, tmp_path, notes)
    assert any("turntable" in note.lower() for note in notes)
    assert again.turns.take("stopped", None).outcome == "check"
    again.close()
    with open_ledger(tmp_path / FILE) as ledger:
        assert len(ledger.states()) == 1


def test_a_recording_that_breaks_off_leaves_the_job_open_in_the_record(assistant, settings, tmp_path, monkeypatch):
    (tmp_path / "models").symlink_to(settings.data_dir / "models")
    own = replace(settings, data_dir=tmp_path, machine="drumlin")
    source = written(tmp_path, quiet(5), speech(0), quiet(60))
    monkeypatch.setattr("assistant.recognisers.make_recogniser", lambda shelf: ScriptedRecogniser(SLOW))
    monkeypatch.setattr("assistant.recognition.voice_activity.SileroDetector", ScriptedDetector)
    whole = FileSource.blocks

    def breaking(self):
        yield from whole(self)
        raise SoundError(f"{self.path.name} breaks off.", "Record it again.")

    monkeypatch.setattr(FileSource, "blocks", breaking)
    with pytest.raises(SoundError, match="breaks off"):
        run_talk(assistant, own, TalkOptions(audio=(source.path,), silent=True), lambda text: None)
    with open_ledger(tmp_path / FILE) as ledger:
        (state,) = ledger.states()
    assert state.job.fault == "drumlin/fault/turntable-slow" and state.job.status is JobStatus.LEFT_OPEN


def test_without_a_microphone_the_chat_stands_in_with_a_line_that_says_why(
    assistant, settings, tmp_path, monkeypatch, capsys
):
    def none(device):
        raise SoundError(
            "Nothing can be heard through a microphone: it is busy: another program has it.", "Type instead."
        )

    class Piped:
        buffer = io.BytesIO(b"where is KF1\n")

        def isatty(self):
            return False

    monkeypatch.setattr(talk_cli, "open_microphone", none)
    monkeypatch.setattr("sys.stdin", Piped())
    notes = []
    run_talk(assistant, replace(settings, data_dir=tmp_path, machine="drumlin"), TalkOptions(), notes.append)
    assert notes == ["Nothing can be heard through a microphone: it is busy: another program has it. Type instead."]
    assert "Safety relay KF1" in capsys.readouterr().out
