"""Whole conversations through session, rules, mouth and ears, with scripted twins for devices and engines."""

import numpy as np
import pytest

from assistant.dialogue.session import Session
from assistant.errors import SoundError
from assistant.recognition.endpointing import Endpointer, Timing
from assistant.talk.conversation import Block, Conversation, End, KeyDown, KeyUp, SourceLost
from assistant.talk.ears import Ears
from assistant.talk.mouth import Mouth
from assistant.talk.screen import PrintedScreen
from assistant.talk.state import LineSaid, Phase, Understood
from tests.talk.twins import ListSink, ListSource, ScriptedDetector, ScriptedRecogniser, ScriptedSpeaker, quiet, speech

pytestmark = pytest.mark.engine


class SessionTurns:
    def __init__(self, session):
        self.session, self.taken = session, []

    def take(self, text, heard):
        self.taken.append((text, heard))
        return self.session.say(text)


class Desk:
    """A conversation with everything around it."""

    def __init__(self, assistant, *texts, open_microphone=False, held=False, speaker=True, machine="drumlin"):
        self.printed = []
        self.turns = SessionTurns(Session(assistant, machine))
        self.sink = ListSink(held)
        self.speaker = ScriptedSpeaker()
        screen = PrintedScreen(self.printed.append, 80)
        self.talk = Conversation(turns=self.turns, screen=screen, open_microphone=open_microphone)
        if speaker:
            mouth = Mouth(
                self.speaker, self.sink, lambda ticket: self.talk.post(LineSaid(ticket=ticket)), lambda error: None
            )
            self.talk.with_mouth(mouth)
            self.mouth = mouth
        self.recogniser = ScriptedRecogniser(*texts)
        endpointer = Endpointer(ScriptedDetector(), Timing(end_silence_ms=96))
        self.talk.with_ears(Ears(self.recogniser, endpointer, self.talk.expecting))

    def text(self):
        return "".join(self.printed)

    def said(self):
        return " ".join(text for text, _ in self.speaker.said)


def utterance(number):
    return ListSource(quiet(5), speech(number), quiet(10))


def test_recordings_are_the_turns_of_one_conversation(assistant):
    desk = Desk(assistant, "what does code 204 mean", "next", "repeat")
    for number in range(3):
        assert desk.talk.listen_to(utterance(number)) == 1
    assert [text for text, _ in desk.turns.taken] == ["what does code 204 mean"]
    assert desk.turns.taken[0][1].engine == "twin"
    said = desk.said()
    assert said.index("Danger!") < said.index("Code two zero four: Turntable overload.") < said.index("Raised when:")
    assert desk.text().count("Raised when:") == 2 and "> next" in desk.text()
    assert desk.talk.talk.phase is Phase.WAITING
    desk.mouth.close()


def test_all_that_is_spoken_is_printed_as_authored(assistant):
    desk = Desk(assistant, "what does code 204 mean")
    desk.talk.listen_to(utterance(0))
    printed = " ".join(desk.text().replace("│", " ").split())
    answer = Session(assistant, "drumlin").say("what does code 204 mean")
    for warning in answer.warnings:
        assert warning.text in printed
    assert answer.lead.upper() in printed and answer.body[0].text in printed
    desk.mouth.close()


def test_an_isolation_is_confirmed_aloud_item_by_item(assistant, knowledge):
    items = knowledge.energy.items("drumlin")
    desk = Desk(assistant, "isolated", *["yes"] * len(items), speaker=False)
    for number in range(len(items) + 1):
        desk.talk.listen_to(utterance(number))
    assert str(desk.turns.session.conversation.state.energy) == "isolated"
    assert "yes" in desk.recogniser.expected[1].phrases and "next" in desk.recogniser.expected[1].phrases


def test_a_yes_before_the_question_was_spoken_confirms_nothing(assistant):
    desk = Desk(assistant, "how do i replace the turntable chain", "yes", "yes", speaker=False)
    desk.talk.listen_to(utterance(0))
    assert desk.turns.session.conversation.pending is not None
    desk.talk.listen_to(utterance(1))
    assert desk.turns.session.conversation.confirmed == () and len(desk.turns.taken) == 1
    desk.talk.listen_to(utterance(2))
    assert len(desk.turns.session.conversation.confirmed) == 1


def test_speech_while_it_talks_silences_it_and_is_the_next_utterance(assistant):
    desk = Desk(assistant, "where is KF1", held=True)
    desk.talk.take(Understood(text="what does code 204 mean"))
    while not desk.sink.played:
        pass
    assert desk.talk.talk.phase is Phase.SPEAKING
    desk.talk.take(Block(samples=np.concatenate([quiet(3), speech(0, 4)])))
    assert desk.talk.talk.phase is Phase.PAUSED and not desk.sink.playing
    desk.talk.take(Block(samples=np.concatenate([speech(0), quiet(6)])))
    assert [text for text, _ in desk.turns.taken] == ["what does code 204 mean", "where is KF1"]
    desk.sink.held = False
    desk.mouth.close()


def test_noise_while_it_talks_lets_the_cut_line_be_said_again(assistant):
    desk = Desk(assistant, held=True)
    desk.talk.take(Understood(text="what does code 204 mean"))
    desk.talk.take(Block(samples=np.concatenate([speech(7, 5), quiet(6)])))
    assert desk.talk.talk.phase is Phase.SPEAKING and desk.talk.talk.at == 0
    desk.mouth.close()


def test_with_a_key_only_what_is_said_while_it_is_down_is_heard(assistant):
    desk = Desk(assistant, "where is KF1", "bystander", speaker=False)
    desk.talk.take(Block(samples=np.concatenate([speech(1), quiet(8)])))
    assert desk.turns.taken == []
    desk.talk.take(KeyDown())
    desk.talk.take(Block(samples=speech(0)))
    desk.talk.take(KeyUp())
    assert [text for text, _ in desk.turns.taken] == ["where is KF1"]


def test_an_open_microphone_needs_the_wake_words_and_says_so(assistant):
    desk = Desk(assistant, "pass me the spanner", "hand lamp where is KF1", open_microphone=True, speaker=False)
    for number in range(2):
        desk.talk.take(Block(samples=np.concatenate([speech(number), quiet(8)])))
    assert [text for text, _ in desk.turns.taken] == ["where is KF1"]
    assert "say the wake words" in desk.text()


def test_a_microphone_that_is_unplugged_is_one_line_and_typing_goes_on(assistant):
    desk = Desk(assistant, "isolated", speaker=False)
    desk.talk.listen_to(utterance(0))
    before = desk.turns.session.conversation
    desk.talk.take(SourceLost(error=SoundError("The microphone is gone.", "Type, or plug it in.")))
    assert "(The microphone is gone. Type, or plug it in.)\n" in desk.text()
    assert desk.turns.session.conversation == before
    desk.talk.take(Understood(text="yes"))
    assert len(desk.turns.session.conversation.confirmed) == 1
    desk.talk.take(KeyDown())
    assert "There is no microphone; type instead." in desk.text()


def test_a_microphone_that_is_unplugged_in_the_middle_of_an_utterance_lets_the_answer_go_on(assistant):
    desk = Desk(assistant, "never heard", held=True)
    desk.talk.take(Understood(text="what does code 204 mean"))
    desk.talk.take(Block(samples=speech(0)))
    assert desk.talk.talk.phase is Phase.PAUSED
    desk.talk.take(SourceLost(error=SoundError("The microphone is gone.")))
    assert desk.talk.talk.phase is Phase.SPEAKING
    desk.mouth.close()


def test_a_recording_of_silence_has_no_turn(assistant):
    desk = Desk(assistant, speaker=False)
    assert desk.talk.listen_to(ListSource(quiet(50))) == 0 and desk.turns.taken == []


def test_what_happens_is_taken_in_order_until_the_end(assistant):
    desk = Desk(assistant, speaker=False)
    for happened in (Understood(text="where is KF1"), Understood(text="slower"), End()):
        desk.talk.post(happened)
    desk.talk.run()
    assert "DANGER" in desk.text() and desk.talk.talk.pace < 1
