import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.dialogue.critical import critical_in
from assistant.dialogue.hearing import ASK_AGAIN_BELOW, NONE_OF_THESE, SURE_REPLY, HearingSession
from assistant.dialogue.session import Session
from assistant.domain.terms import Energy
from assistant.domain.turn import Conversation, Pending, PendingKind, State
from assistant.domain.utterance import Heard, Reading, Utterance
from assistant.rules.verdict import Case

CODES, NAMES = {"203", "204", "304", "101"}, {"FC3", "FC4"}


class Twin:
    """Takes every turn and keeps the texts that were acted on."""

    def __init__(self, rules):
        self.rules, self.acted = rules, []

    def turn(self, utterance, before):
        self.acted.append(utterance.text)
        case = Case(utterance=utterance, state=before.state, pending=before.pending)
        return self.rules.ask_again(case, "acted"), before

    def told(self, entry, question, before):
        raise AssertionError("nothing is asked for by its id")


@pytest.fixture
def ears(rules):
    twin = Twin(rules)
    session = HearingSession(Session(twin), CODES, NAMES)
    return session, twin


def heard(text, confidence=0.9):
    return Heard(text=text, confidence=confidence, engine="twin", start_ms=0, end_ms=1000)


def say(session, text, confidence=0.9):
    return session.take(text, heard(text, confidence))


@pytest.mark.parametrize(
    ("text", "back"),
    [
        ("code 204", "two zero four"),
        ("what does two oh four mean", "two zero four"),
        ("where is FC3", "F C three"),
        ("it reads 23.8 V", "twenty three point eight volts"),
        ("it is isolated", "isolated"),
        ("power is back on", "power is on"),
        ("the machine is stopped", "stopped"),
    ],
)
def test_what_could_do_harm_is_read_back_and_acted_on_after_a_yes(ears, text, back):
    session, twin = ears
    answer = say(session, text)
    assert answer.outcome == "ask_again" and back in answer.lead and answer.lead.endswith("Yes?")
    assert answer.pending.choices == ("yes", "no") and twin.acted == []
    say(session, "yes")
    assert twin.acted == [text] and not session.reads_back


@pytest.mark.parametrize(
    ("text", "acted"),
    [
        ("go 2 0 4", "code 204"), ("two oh four", "code 204"), ("code 204", "code 204"), ("two hundred and four", "code 204"),
        ("the panel shows 204", "the panel shows 204"), ("what does code 204 mean", "what does code 204 mean"),
        ("code 204 at FC3", "code 204 at FC3"),
    ],
)  # fmt: skip
def test_of_a_bare_code_that_was_confirmed_the_code_is_acted_on_and_no_word_heard_wrong_beside_it(ears, text, acted):
    session, twin = ears
    assert say(session, text).lead.startswith("I heard code two zero four")
    say(session, "yes")
    assert twin.acted == [acted]


def test_what_can_do_no_harm_is_acted_on_at_once(ears):
    session, twin = ears
    say(session, "why does the film snap")
    assert twin.acted == ["why does the film snap"]


def test_typed_text_is_never_read_back_and_drops_what_waits(ears):
    session, twin = ears
    say(session, "code 204")
    session.take("code 101", None)
    assert twin.acted == ["code 101"]
    say(session, "yes")
    assert twin.acted == [
        "code 101",
        "yes",
    ]  # the yes is an answer to whatever the session asks, not to the dropped code


def test_a_no_asks_again_and_the_second_hearing_is_read_back_too(ears):
    session, twin = ears
    say(session, "code 204")
    assert "Say it again" in say(session, "no").lead
    assert "two zero three" in say(session, "code 203").lead
    say(session, "yes")
    assert twin.acted == ["code 203"]


def test_after_two_failures_a_numbered_choice_is_offered_and_its_number_is_enough(ears):
    session, twin = ears
    say(session, "code 204")
    say(session, "no")
    say(session, "code 304")
    answer = say(session, "no")
    assert answer.pending.choices[-1] == NONE_OF_THESE and "one: code three zero four" in answer.lead
    place = answer.pending.choices.index("code two zero four")
    say(session, ["one", "two", "three"][place])
    assert twin.acted == ["code 204"]


def test_none_of_these_is_none(ears):
    session, twin = ears
    for text in ("code 204", "no", "code 304", "no", NONE_OF_THESE):
        answer = say(session, text)
    assert twin.acted == [] and "type it" in answer.lead


def test_a_correction_is_read_back_in_its_turn(ears):
    session, twin = ears
    say(session, "code 204")
    assert "two zero three" in say(session, "no, two zero three").lead
    say(session, "yes")
    assert twin.acted == ["code 203"]


def test_below_the_confidence_it_is_asked_again_and_not_even_read_back_for_a_yes(ears):
    session, twin = ears
    answer = say(session, "code 204", ASK_AGAIN_BELOW - 0.01)
    assert "Say it again" in answer.lead
    say(session, "yes")
    assert "204" not in " ".join(twin.acted)


def test_a_yes_that_is_hardly_heard_confirms_nothing(ears):
    session, twin = ears
    say(session, "code 204")
    assert say(session, "yes", SURE_REPLY - 0.01).lead.endswith("Yes?")
    assert twin.acted == []


def test_another_question_drops_the_read_back(ears):
    session, twin = ears
    say(session, "code 204")
    say(session, "why does the film snap at the corner")
    assert twin.acted == ["why does the film snap at the corner"]
    say(session, "yes")
    assert "code 204" not in twin.acted


@pytest.mark.parametrize("text", ["code 20", "code 2 0", "code 2004", "error 12"])
def test_a_code_that_was_not_heard_whole_is_asked_for_digit_by_digit(ears, text):
    session, twin = ears
    assert "digit by digit" in say(session, text).lead
    assert twin.acted == []


def test_power_heard_takes_an_isolation_back_before_anything_is_confirmed(ears):
    session, twin = ears
    session.session.conversation = Conversation(state=State(energy=Energy.ISOLATED), isolated="drumlin")
    answer = say(session, "the power is back on")
    assert session.session.conversation.state.energy is Energy.UNKNOWN and answer.state.energy is Energy.UNKNOWN
    assert twin.acted == []


def test_the_yes_to_a_read_back_is_no_yes_to_the_isolation_item_that_waits(ears):
    session, twin = ears
    item = Pending(kind=PendingKind.CONFIRM, text="Is the isolator locked off?", choices=("yes", "no"))
    session.session.conversation = Conversation(pending=item)
    say(session, "code 204")
    assert session.session.conversation.pending == item
    say(session, "yes")
    assert twin.acted == ["code 204"] and session.session.conversation.pending == item


def test_an_isolation_item_takes_no_yes_that_is_hardly_heard(ears):
    session, twin = ears
    item = Pending(kind=PendingKind.CONFIRM, text="Is the isolator locked off?", choices=("yes", "no"))
    session.session.conversation = Conversation(pending=item)
    assert say(session, "yes", SURE_REPLY - 0.01).pending == item and twin.acted == []
    say(session, "yes", SURE_REPLY)
    assert twin.acted == ["yes"]


@pytest.mark.parametrize(("text", "why"), [("yes", "Yes or no?"), ("No.", "Yes or no?"), ("done", "Yes or no?")])
def test_a_check_takes_no_reply_that_is_hardly_heard(ears, text, why):
    session, twin = ears
    check = Pending(kind=PendingKind.CHECK, text="Is the film threaded?", choices=("yes", "no", "don't know"))
    session.session.conversation = Conversation(pending=check)
    answer = say(session, text, SURE_REPLY - 0.01)
    assert answer.pending == check and answer.lead == why and twin.acted == []
    say(session, text, SURE_REPLY)
    assert twin.acted == [text]


def test_a_check_takes_no_named_state_that_is_hardly_heard(ears):
    session, twin = ears
    check = Pending(kind=PendingKind.CHECK, text="How is the knife?", choices=("sharp", "blunt"))
    session.session.conversation = Conversation(pending=check)
    assert say(session, "Blunt.", SURE_REPLY - 0.01).lead == "Say it again." and twin.acted == []
    say(session, "Blunt.", SURE_REPLY)
    assert twin.acted == ["Blunt."]


@pytest.mark.parametrize(("kind", "text"), [("check", "don't know"), ("check", "next"), ("confirm", "no")])
def test_what_leads_nowhere_wrong_is_taken_also_when_hardly_heard(ears, kind, text):
    session, twin = ears
    session.session.conversation = Conversation(
        pending=Pending(kind=PendingKind(kind), text="?", choices=("yes", "no"))
    )
    say(session, text, SURE_REPLY - 0.01)
    assert twin.acted == [text]


WORDS = [
    "code 204",
    "code 203",
    "it reads 12 V",
    "yes",
    "no",
    "one",
    "two",
    "where is FC3",
    "isolated",
    "next",
    "",
    "why is it slow now",
    "power is back on",
]


@given(st.lists(st.tuples(st.sampled_from(WORDS), st.sampled_from([0.1, 0.4, 0.9])), max_size=12))
@settings(deadline=None)
def test_nothing_critical_is_ever_acted_on_without_a_sure_yes_or_choice_right_after_it_was_read_back(rules, turns):
    twin = Twin(rules)
    session = HearingSession(Session(twin), CODES, NAMES)
    lead = ""
    for text, confidence in turns:
        before = len(twin.acted)
        answer = say(session, text, confidence)
        for acted in twin.acted[before:]:
            parts = critical_in(acted, NAMES, None).parts
            assert not parts or (
                all(p in lead for p in parts) and text in ("yes", "one", "two") and confidence >= SURE_REPLY
            )
        lead = answer.lead


def test_the_real_assistant_reads_back_a_code_and_then_answers_it(assistant):
    session = HearingSession.of(assistant, Session(assistant, "drumlin"), looking=True)
    first = say(session, "it shows two zero four")
    assert first.outcome == "ask_again" and first.hits[0].entry == "drumlin/code/204"
    second = say(session, "yes")
    assert second.outcome == "answered" and second.codes == ("204",) and second.heard.text == "it shows two zero four"


def test_a_word_heard_wrong_still_finds_what_was_meant_and_is_shown_as_heard(assistant):
    text = "how tall can the palette be"
    typed = Session(assistant).say(text)
    spoken = HearingSession.of(assistant, Session(assistant)).take(text, heard(text))
    assert spoken.question == typed.question == text
    searched = assistant.looked_up(Utterance(text=text, heard=heard(text)), Conversation()).query.text
    assert searched.startswith(text) and "pallet" in searched
    assert assistant.looked_up(Utterance(text=text), Conversation()).query.text == text


def test_a_sentence_heard_badly_is_read_back_whole_before_it_is_answered(ears):
    session, twin = ears
    answer = say(session, "Where is used free?", 0.48)
    assert answer.lead == "I heard: Where is used free. Yes?" and twin.acted == []
    say(session, "yes")
    assert twin.acted == ["Where is used free?"]


def test_a_sentence_read_back_names_no_figure_that_is_not_confirmed(ears):
    session, _ = ears
    lead = say(session, "the table made 3 turns then stopped it", 0.4).lead
    assert "three" in lead and not any(c.isdigit() for c in lead)


def test_after_two_failures_the_other_readings_of_the_sound_are_offered(ears):
    session, twin = ears
    sound = Heard(
        text="where is used free",
        confidence=0.48,
        engine="twin",
        start_ms=0,
        end_ms=900,
        readings=(
            Reading(text="where is used free", log_probability=-0.7),
            Reading(text="where is the fuse tray", log_probability=-0.9),
        ),
    )
    session.take(sound.text, sound)
    say(session, "no")
    session.take(sound.text, sound)
    answer = say(session, "no")
    assert answer.pending.choices == ("where is used free", "where is the fuse tray", NONE_OF_THESE)
    say(session, "two")
    assert twin.acted == ["where is the fuse tray"]


def test_short_words_heard_badly_are_not_read_back(ears):
    session, twin = ears
    say(session, "what else", 0.4)
    assert twin.acted == ["what else"]


def test_a_bare_state_that_a_question_offers_is_read_back_as_a_declaration():
    asked = Pending(
        kind=PendingKind.CONFIRM, text="What state is the machine in now?", choices=("running", "stopped", "isolated")
    )
    assert critical_in("Running.", NAMES, asked).parts == ("the machine runs, or power is on",)
    assert critical_in("stopped", NAMES, asked).parts == ("the machine is stopped",)
    assert critical_in("stopped", NAMES, None).parts == ()
    check = Pending(kind=PendingKind.CHECK, text="The table?", choices=("it stopped", "it turns"))
    assert critical_in("stopped", NAMES, check).parts == ()
