from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.dialogue.replies import reply_of
from assistant.domain.utterance import Heard
from assistant.rendering.spoken import SpokenKind, SpokenLine
from assistant.talk import rules
from assistant.talk.commands import PHRASES, Command
from assistant.talk.rules import react
from assistant.talk.state import (
    FASTEST,
    LOUDEST,
    QUIETEST,
    SLOWEST,
    Answered,
    Ask,
    Cue,
    LineSaid,
    NobodySpoke,
    Note,
    Phase,
    Say,
    SetVolume,
    Silence,
    SpeechStarted,
    Talk,
    Understood,
    question_of,
    unit_starts,
)


def line(text, kind=SpokenKind.SENTENCE, pause=False):
    return SpokenLine(
        text=text, shown=text, kind=kind, pause_after=pause, pace=0.85 if kind is SpokenKind.WARNING else 1.0
    )


LINES = (
    line("danger", SpokenKind.WARNING), line("warning", SpokenKind.WARNING),
    line("lead", SpokenKind.LEAD), line("one", pause=True),
    line("step", SpokenKind.STEP), line("note", SpokenKind.NOTE, pause=True),
    line("last", SpokenKind.STEP),
    line("question?", SpokenKind.QUESTION, pause=True),
)  # fmt: skip
ANSWER = LINES[:6]


def heard(text, confidence=0.9):
    return Understood(text=text, heard=Heard(text=text, confidence=confidence, engine="twin", start_ms=0, end_ms=1))


def texts(actions):
    return [action.line.text for action in actions if isinstance(action, Say)]


def run(events, talk=None):
    """The state after the events and every action, in order."""
    talk, done = talk or Talk(), []
    for event in events:
        event = LineSaid(ticket=talk.ticket) if event == "said" else event
        talk, actions = react(talk, event)
        done += actions
    return talk, done


def told(lines=LINES, events=()):
    return run([Answered(lines=lines), *events])


def test_an_answer_is_told_line_by_line_until_it_pauses():
    talk, done = told(events=["said", "said", "said", "said"])
    assert texts(done) == ["danger", "warning", "lead", "one"] and talk.phase is Phase.WAITING


def test_next_goes_on_and_a_yes_or_a_done_where_nothing_is_asked_does_too():
    for word in ("next", "Go on.", "yes", "done", "okay next please"):
        talk, done = told(ANSWER, ["said"] * 4 + [heard(word)])
        assert texts(done)[-1] == "step", word


def test_the_end_of_what_is_said_is_told():
    talk, done = told(ANSWER, ["said"] * 4 + [heard("next")] + ["said"] * 2 + [heard("next")])
    assert done[-1] == Cue(text=rules.ALL_SAID) and talk.phase is Phase.WAITING


def test_in_guided_work_next_back_and_where_go_on_to_the_session():
    for word in ("next", "back", "where was I"):
        first = ANSWER[4:]
        _, done = run([Answered(lines=first, guided=True), "said", "said", heard(word)])
        assert done[-1].text == word and isinstance(done[-1], Ask) and done[-1].heard is not None


def test_back_and_repeat_lead_to_the_start_of_a_unit():
    _, done = told(ANSWER, ["said"] * 4 + [heard("next"), "said", heard("repeat")])
    assert texts(done)[-2:] == ["note", "step"]
    _, done = told(ANSWER, ["said"] * 4 + [heard("next"), "said", "said", heard("back")])
    assert texts(done)[-1] == "lead"


def test_where_was_i_names_the_subject_and_goes_on_from_the_unit():
    _, done = told(ANSWER, ["said"] * 4 + [heard("next"), "said", "said", heard("where was I")])
    assert done[-2:] == [Cue(text="lead"), done[-1]] and texts(done)[-1] == "step"


def test_speech_pauses_at_once_and_noise_lets_the_cut_line_be_said_again():
    talk, done = told(events=["said", SpeechStarted()])
    assert talk.phase is Phase.PAUSED and done[-1] == Silence()
    talk, done = run([heard("")], talk)
    assert texts(done) == ["warning"] and talk.phase is Phase.SPEAKING


def test_stop_stops_and_next_says_the_cut_line_again():
    talk, done = told(events=["said", SpeechStarted(), heard("stop")])
    assert talk.phase is Phase.STOPPED and not texts(done[-2:])
    assert texts(run([heard("next")], talk)[1]) == ["warning"]


def test_anything_else_said_while_it_talks_is_the_next_utterance():
    _, done = told(events=[SpeechStarted(), heard("where is fuse three")])
    assert done[-1] == Ask(text="where is fuse three", heard=heard("where is fuse three").heard)


def test_a_yes_before_the_question_was_put_does_not_answer_it():
    talk, done = told(events=["said"] * 4 + [heard("yes")])
    assert not [a for a in done if isinstance(a, Ask)] and texts(done)[-1] == "question?"
    _, done = run([heard("yes")], talk)
    assert isinstance(done[-1], Ask) and done[-1].text == "yes"


def test_a_yes_while_the_warnings_are_said_lets_them_be_said():
    talk, done = told(events=[SpeechStarted(), heard("yes")])
    assert texts(done) == ["danger", "danger"] and talk.phase is Phase.SPEAKING


def test_slower_says_the_line_again_slower_and_louder_goes_on():
    talk, done = told(events=[SpeechStarted(), heard("slower")])
    assert done[-1].pace == pytest.approx(0.85 / 1.15)
    talk, done = told(events=[SpeechStarted(), heard("louder")])
    assert (
        isinstance(done[-2], SetVolume)
        and done[-2].volume == pytest.approx(0.7 * 1.4)
        and texts(done[-1:]) == ["danger"]
    )


def test_pace_and_volume_have_bounds():
    talk, _ = run([Understood(text=word) for word in ("slower", "louder") for _ in range(30)])
    assert talk.pace == SLOWEST and talk.volume == LOUDEST
    talk, _ = run([Understood(text=word) for word in ("faster", "quieter") for _ in range(60)], talk)
    assert talk.pace == FASTEST and talk.volume == QUIETEST


def test_an_open_microphone_hears_only_who_says_the_wake_words():
    talk = Talk(open_microphone=True)
    assert run([heard("pass me the spanner")], talk)[1] == [Note(text=rules.NOT_ADDRESSED)]
    _, done = run([heard("Hand lamp, where is FC3?")], talk)
    assert done[-1].text == "where is FC3?"
    woken, done = run([heard("hand lamp")], talk)
    assert done == [Cue(text=rules.LISTENING)]
    assert isinstance(run([heard("where is FC3")], woken)[1][-1], Ask)


def test_an_open_microphone_takes_what_is_typed_what_interrupts_and_commands_in_the_middle():
    talk = Talk(open_microphone=True)
    assert isinstance(run([Understood(text="where is FC3")], talk)[1][-1], Ask)
    waiting, _ = run([Answered(lines=ANSWER), "said", "said", "said", "said"], talk)
    assert texts(run([heard("next")], waiting)[1]) == ["step"]
    assert run([heard("pass me the spanner")], waiting)[1] == [Note(text=rules.NOT_ADDRESSED)]
    _, done = run([Answered(lines=ANSWER), SpeechStarted(), heard("where is fuse three")], talk)
    assert isinstance(done[-1], Ask)


def test_a_line_that_ends_after_it_was_cut_changes_nothing():
    talk, _ = told()
    stale = LineSaid(ticket=talk.ticket)
    talk, _ = run([SpeechStarted()], talk)
    assert react(talk, stale) == (talk, ())


WORDS = st.sampled_from(
    [phrase for phrases in PHRASES.values() for phrase in phrases]
    + ["yes", "no", "not sure", "", "hand lamp", "hand lamp next", "why is it dark"]
)
EVENTS = st.one_of(
    st.just("said"), st.just("said"), st.just(SpeechStarted()), WORDS.map(heard), WORDS.map(lambda w: Understood(text=w)),
    st.just(LineSaid(ticket=1)), st.sampled_from([Answered(lines=LINES), Answered(lines=ANSWER, guided=True), Answered(lines=())]),
)  # fmt: skip


def watched(events, talk):
    """Run the events one by one and give (event, state before, state after, actions)."""
    for event in events:
        event = LineSaid(ticket=talk.ticket) if event == "said" else event
        after, actions = react(talk, event)
        yield event, talk, after, actions
        talk = after


@settings(max_examples=400)
@given(st.lists(EVENTS, max_size=40), st.booleans())
def test_whatever_happens_the_voice_keeps_its_promises(events, open_microphone):
    talking = False
    begun = set()
    for event, before, after, actions in watched(events, Talk(open_microphone=open_microphone)):
        if isinstance(event, LineSaid) and event.ticket == before.ticket and before.phase is Phase.SPEAKING:
            talking = False
        if isinstance(event, Answered):
            begun = set()
        for action in actions:
            if isinstance(action, Silence):
                talking = False
            if isinstance(action, Say):
                assert not talking, "two lines at once"
                talking = True
                begun.add(action.line.text)
                warnings = {each.text for each in after.lines if each.kind is SpokenKind.WARNING}
                assert action.line.kind is SpokenKind.WARNING or warnings <= begun, "a line before its warning"
            if isinstance(action, Ask) and reply_of(action.text) is not None:
                question = question_of(before)
                assert question is None or before.lines[question].text in begun or before.phase is Phase.IDLE
        if isinstance(event, SpeechStarted) and before.phase is Phase.SPEAKING:
            assert actions == (Silence(),)
        assert talking == (after.phase is Phase.SPEAKING), "the state knows whether something is being said"
        assert 0 <= after.at < max(1, len(after.lines)) and after.reached <= len(after.lines)
        assert SLOWEST <= after.pace <= FASTEST and QUIETEST <= after.volume <= LOUDEST


@settings(max_examples=200)
@given(st.lists(EVENTS, max_size=25))
def test_after_stop_nothing_is_said_until_somebody_speaks_or_an_answer_comes(events):
    talk, _ = run(events)
    talk, _ = run([heard("stop")], replace(talk, open_microphone=False))
    for event in (LineSaid(ticket=talk.ticket), LineSaid(ticket=talk.ticket - 1), SpeechStarted()):
        assert not texts(react(talk, event)[1])


@given(st.integers(0, 2**6 - 1), st.integers(0, 2**6 - 1))
def test_next_alone_reaches_every_line_in_order(pauses, warnings):
    count = (warnings % 3, 6)
    lines = tuple(line(f"w{n}", SpokenKind.WARNING) for n in range(count[0]))
    lines += tuple(line(f"l{n}", pause=bool(pauses >> n & 1)) for n in range(count[1] - 1)) + (line("end", pause=True),)
    talk, done = run([Answered(lines=lines)])
    for _ in range(20):
        talk, more = run(["said"] if talk.phase is Phase.SPEAKING else [Understood(text="next")], talk)
        done += more
    assert texts(done) == [each.text for each in lines]


def test_units_begin_at_warnings_and_after_pauses():
    assert unit_starts(LINES) == (0, 1, 2, 4, 6)


@pytest.mark.parametrize("command", list(Command))
def test_every_command_works_while_it_talks_and_before_anything_was_said(command):
    for word in PHRASES[command]:
        talk, done = told(events=["said", SpeechStarted(), heard(word)])
        assert not [action for action in done if isinstance(action, Ask)], word
        talk, done = run([Understood(text=word)])
        assert not [action for action in done if isinstance(action, Ask | Say)], word


def test_a_stop_while_nothing_is_said_and_a_state_is_asked_is_stopped_heard_short():
    asked = (line("lead", SpokenKind.LEAD, pause=True), line("What state?", SpokenKind.QUESTION, pause=True))
    states = Answered(lines=asked, choices=("running", "stopped", "isolated"))
    waiting, _ = react(react(Talk(), states)[0], LineSaid(ticket=1))
    assert waiting.phase is Phase.WAITING
    assert react(waiting, Understood(text="Stop.", heard=heard("Stop.")))[1] == (
        Ask(text="stopped", heard=heard("Stop.")),
    )
    assert react(waiting, Understood(text="stop"))[1] == (
        Silence(),
        Note(text=rules.STOPPED),
    )  # typed, it is what it says
    speaking, _ = react(Talk(), states)
    assert react(speaking, Understood(text="stop", heard=heard("stop")))[1][-1] == Note(text=rules.STOPPED)
    other, _ = react(react(Talk(), replace(states, choices=("yes", "no")))[0], LineSaid(ticket=1))
    assert react(other, Understood(text="stop", heard=heard("stop")))[1][-1] == Note(text=rules.STOPPED)


# --- over the voice

RELAY = (
    line("The safety relay K F 1 sits in the second row of the cabinet, left of the drive.", SpokenKind.LEAD),
    line("Both channels are lit when the circuit is whole.", pause=True),
)


def over(said, lines=RELAY, talk=None, before=(), confidence=0.9):
    """What comes of it when it is said over the answer."""
    talk, _ = told(lines, before) if talk is None else run([Answered(lines=lines), *before], talk)
    talk, _ = react(talk, SpeechStarted())
    assert talk.phase is Phase.PAUSED
    return react(talk, heard(said, confidence))


@pytest.mark.parametrize(
    "said", ["the safety relay KF1", "sits in the second row of a cabinet", "row of the cabinet left of the drive"]
)
def test_the_words_that_it_was_saying_itself_do_not_interrupt_it(said):
    talk, actions = over(said)
    assert talk.phase is Phase.SPEAKING and texts(actions) == [RELAY[0].text]


def test_a_single_word_of_the_line_is_its_own_voice_unless_it_is_surely_heard_or_a_choice():
    assert isinstance(over("cabinet", confidence=0.6)[1][0], NobodySpoke)
    assert [a.text for a in over("cabinet", confidence=0.8)[1] if isinstance(a, Ask)] == ["cabinet"]
    lines = (line("Is it stopped?", SpokenKind.QUESTION, pause=True),)
    talk, _ = run([Answered(lines=lines, choices=("running", "stopped")), SpeechStarted(), heard("stopped", 0.6)])
    assert talk.phase is not Phase.SPEAKING


def test_a_choice_of_many_words_and_a_word_of_power_are_somebodys_though_the_line_holds_them():
    lines = (line("What do you find: load within limits, or the power is back on?", SpokenKind.QUESTION, pause=True),)
    for said in ("load within limits", "the power is back on", "power is on"):
        talk, _ = run([Answered(lines=lines, choices=("load within limits", "load too heavy")), SpeechStarted()])
        _, actions = react(talk, heard(said, 0.4))
        assert [a.text for a in actions if isinstance(a, Ask)] == [said]


def test_the_ears_are_told_that_nobody_spoke_only_where_the_voice_goes_on_by_itself():
    for said in ("", "you", "row of the cabinet left of the drive"):
        assert over(said)[1][0] == NobodySpoke(), said
    for said in ("stop", "next", "louder", "where is the fuse"):
        assert NobodySpoke() not in over(said)[1], said


def test_the_end_of_the_line_before_is_its_own_voice_too():
    talk, actions = over("of the cabinet left of the drive", before=["said"])
    assert texts(actions) == [RELAY[1].text]


@pytest.mark.parametrize(
    "said", ["where is the safety relay", "the drive is hot", "is the circuit of the drive whole", "the relay"]
)
def test_a_question_in_the_words_of_the_answer_is_a_question(said):
    _, actions = over(said)
    assert [a.text for a in actions if isinstance(a, Ask)] == [said]


@pytest.mark.parametrize("said", ["start.", "splunk", "it's done"])
def test_a_short_word_over_the_answer_that_is_not_surely_heard_leaves_it_silent(said):
    talk, actions = over(said, confidence=0.4)
    assert talk.phase is Phase.STOPPED and actions == (Note(text=rules.NOT_UNDERSTOOD),)
    talk, actions = react(talk, heard("next"))
    assert texts(actions) == [RELAY[0].text]


def test_a_short_word_that_is_not_surely_heard_cuts_no_warning_off():
    talk, actions = over("splunk", lines=LINES, confidence=0.4)
    assert talk.phase is Phase.SPEAKING and texts(actions) == ["danger"]


@pytest.mark.parametrize("said", ["Thank you.", "you", "Bye."])
def test_a_courtesy_that_nobody_said_does_not_interrupt(said):
    talk, actions = over(said)
    assert talk.phase is Phase.SPEAKING and texts(actions) == [RELAY[0].text]


@pytest.mark.parametrize(
    ("said", "confidence"), [("stopped", 0.4), ("yes", 0.4), ("splunk", 0.6), ("what is that", 0.4)]
)
def test_a_choice_a_reply_a_sure_word_and_more_words_are_taken_as_ever(said, confidence):
    lines = (*RELAY, line("Running, stopped or isolated?", SpokenKind.QUESTION, pause=True))
    talk, _ = run([Answered(lines=lines, choices=("running", "stopped", "isolated")), *["said"] * 2, heard("next")])
    talk, _ = react(talk, SpeechStarted())
    _, actions = react(talk, heard(said, confidence))
    assert Note(text=rules.NOT_UNDERSTOOD) not in actions and actions


@pytest.mark.parametrize("word", ["next", "back"])
def test_guided_work_is_led_on_by_a_word_that_was_heard_and_by_no_cough(word):
    talk, _ = run([Answered(lines=LINES[4:6], guided=True), "said", "said"])
    moved, actions = react(talk, heard(word, rules.SURE_MOVE - 0.01))
    assert actions == (Cue(text="Say it again."),) and moved == talk
    _, actions = react(talk, heard(word, rules.SURE_MOVE))
    assert [a.text for a in actions if isinstance(a, Ask)] == [word]
