import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.dialogue.cause_named import named_causes
from assistant.dialogue.check_reply import Miss, reply_to_check
from assistant.dialogue.replies import done_said, passed_said
from assistant.domain.entries import Asked, Check, CheckOutcome
from assistant.domain.terms import Energy

LENS = Check(
    id="lens", title="Lens", energy=Energy.STOPPED, minutes=1, do=("Look.",), good=("Clear.",), bad=("Dirty.",),
    outcomes=(
        CheckOutcome(says=("clear", "clean", "nothing on it", "no dirt"), normal=True),
        CheckOutcome(says=("dirty", "dust on it", "smeared", "not clean"), likely={"dirt": "always"}),
        CheckOutcome(says=("scratched", "cracked lens"), likely={"scratch": "always"}),
    ),
)  # fmt: skip
LAMP = Check(
    id="lamp", title="Lamp", energy=Energy.STOPPED, minutes=1, do=("Look.",), good=("On.",), bad=("Off.",),
    outcomes=(CheckOutcome(says=("lit", "on", "yes"), normal=True), CheckOutcome(says=("dark", "off", "no", "not lit"), likely={"x": "always"})),
)  # fmt: skip
VOLTS = Check(
    id="volts", title="Volts", energy=Energy.STOPPED, minutes=2, do=("Measure.",), good=("24.",), bad=("0.",), live=True,
    reading=Asked(unit="V", lowest=0, highest=60),
    outcomes=(CheckOutcome(says=("about 24", "present"), normal=True, within="rail"), CheckOutcome(says=("none", "dead"), below="rail")),
)  # fmt: skip


@pytest.mark.parametrize(("text", "outcome"), [
    ("clear", "clear"), ("it's clean", "clear"), ("Dirty.", "dirty"), ("the lens is smeared", "dirty"), ("there is dust on it", "dirty"),
    ("not clean", "dirty"), ("it's not clean", "dirty"), ("no dirt", "clear"), ("cracked lens", "scratched"), ("the second one", "dirty"),
    ("2", "dirty"), ("number three", "scratched"),
])  # fmt: skip
def test_an_outcome_is_heard_in_the_technicians_words(text, outcome):
    reply = reply_to_check(text, LENS)
    assert reply.outcome == outcome and reply.sure


@pytest.mark.parametrize("text", ["not dirty", "isn't scratched", "banana", "7", "it is not smeared"])
def test_a_denied_outcome_is_never_taken_for_it(text):
    reply = reply_to_check(text, LENS)
    assert reply.outcome == "" and reply.miss is Miss.NOTHING


def test_two_outcomes_in_one_answer_are_asked_again():
    assert reply_to_check("dirty and scratched", LENS).miss is Miss.SEVERAL


def test_an_outcome_among_many_other_words_is_not_sure():
    reply = reply_to_check("the old one from last winter was dirty before they moved the whole line", LENS)
    assert reply.outcome == "dirty" and not reply.sure


@pytest.mark.parametrize(
    ("text", "outcome"), [("yes", "lit"), ("nope", "dark"), ("it's on", "lit"), ("off", "dark"), ("not lit", "dark")]
)
def test_yes_and_no_stand_for_outcomes_that_say_so(text, outcome):
    assert reply_to_check(text, LAMP).outcome == outcome


@pytest.mark.parametrize("text", ["don't know", "no idea", "not sure"])
def test_not_knowing_is_an_answer(text):
    assert reply_to_check(text, LENS).unknown


def test_a_reading_is_taken_where_one_is_asked_for():
    reading = reply_to_check("twenty three point eight volts", VOLTS).reading
    assert reading is not None and (reading.value, reading.unit) == (pytest.approx(23.8), "V")
    assert reply_to_check("dead", VOLTS).outcome == "none"
    assert reply_to_check("clear 24 volts", LENS).reading is None


@given(st.sampled_from([LENS, LAMP, VOLTS]), st.data())
def test_every_authored_saying_is_heard_as_its_own_outcome(check, data):
    outcome = data.draw(st.sampled_from(check.outcomes))
    saying = data.draw(st.sampled_from(outcome.says))
    frame = data.draw(st.sampled_from(["{}", "it's {}", "it is {}.", "looks {}", "{}!"]))
    assert reply_to_check(frame.format(saying), check).outcome in (outcome.says[0], "") or check is VOLTS


def test_every_saying_of_the_knowledge_is_heard_as_its_own_outcome(knowledge):
    wrong = []
    for fault in knowledge.faults:
        for check in fault.checks:
            for outcome in check.outcomes:
                for saying in outcome.says:
                    reply = reply_to_check(saying, check)
                    if reply.outcome != outcome.says[0] and reply.reading is None and not reply.unknown:
                        wrong.append((fault.full_id, check.id, saying, reply))
    assert wrong == []


@pytest.mark.parametrize(
    ("text", "done"),
    [
        ("done", True),
        ("all done", True),
        ("I've fitted it", True),
        ("not yet", False),
        ("no", False),
        ("where is it", None),
    ],
)
def test_done_and_not_done(text, done):
    assert done_said(text) is done


@pytest.mark.parametrize(
    ("text", "passed"),
    [
        ("it's gone", True),
        ("works now", True),
        ("still there", False),
        ("same again", False),
        ("it came back", False),
        ("what now", None),
    ],
)
def test_gone_and_still_there(text, passed):
    assert passed_said(text) is passed


def test_a_cause_is_named_by_its_words(knowledge):
    fault = next(f for f in knowledge.faults if f.full_id == "drumlin/fault/turntable-slow")
    (cause,) = named_causes(fault, "the chain is dry")
    assert "chain" in next(c.name for c in fault.causes if c.id == cause).lower()
    assert named_causes(fault, "xylophone") == []
    assert named_causes(fault, "2") == [fault.causes[1].id]


@pytest.mark.parametrize(
    "text",
    [
        "nothing lit",
        "nothing is lit there",
        "none lit",
        "none of them is on",
        "it isnt lit",
        "it isnt on",
        "isnt lit at all",
        "it is hardly lit",
        "nobody saw it lit",
        "i cannot see it on",
        "it wasnt lit",
    ],
)
def test_a_denial_in_any_word_or_without_its_apostrophe_is_no_yes(text):
    assert reply_to_check(text, LAMP).outcome != "lit"


@pytest.mark.parametrize("text", ["it isnt clean", "it isn’t clean"])
def test_a_negation_without_its_apostrophe_is_the_one_with_it(text):
    assert reply_to_check(text, LENS).outcome == reply_to_check("it isn't clean", LENS).outcome == "dirty"
