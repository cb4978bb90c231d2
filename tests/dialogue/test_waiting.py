"""The wait of an isolation is counted down where time is known, and taken at its word where it is not."""

import pytest

from assistant.dialogue.replies import asks_how_long, waited
from assistant.dialogue.session import Session
from assistant.domain.answer import Outcome
from assistant.domain.terms import Energy
from assistant.rules import phrases

pytestmark = pytest.mark.engine


class Clock:
    def __init__(self):
        self.now_s = 100.0

    def __call__(self):
        return self.now_s


def at_the_wait(assistant, clock=None, machine="drumlin"):
    talk = Session(assistant, machine, clock)
    answer = talk.say("isolated")
    while "waited" not in answer.pending.text:
        answer = talk.say("yes")
    return talk


def told(answer):
    return " ".join([answer.lead, *(line.text for line in answer.body)])


def test_a_bare_yes_before_the_time_is_over_passes_nothing(assistant):
    clock = Clock()
    talk = at_the_wait(assistant, clock)
    clock.now_s += 200
    answer = talk.say("yes")
    assert answer.outcome is Outcome.ASK_AGAIN and "waited" in answer.pending.text
    assert "7 min" in told(answer) and phrases.WAIT_WHY in told(
        answer
    )  # 10 min - 200 s = 6 min 40 s, told as whole minutes
    assert {w.hazard for w in answer.warnings} >= {"electric-shock", "stored-energy"}
    clock.now_s += 399
    assert "1 s." in told(talk.say("yes"))
    clock.now_s += 1
    assert "waited" not in talk.say("yes").pending.text


def test_how_long_tells_what_is_left(assistant):
    clock = Clock()
    talk = at_the_wait(assistant, clock)
    clock.now_s += 60
    assert "9 min" in told(talk.say("how long left?"))


def test_a_wait_that_was_done_before_is_said_in_words(assistant):
    talk = at_the_wait(assistant, Clock())
    assert "waited" not in talk.say("it was locked off twenty minutes ago").pending.text


def test_lines_without_their_time_are_taken_at_their_word(assistant):
    talk = at_the_wait(assistant)
    for _ in assistant.knowledge.energy.items("drumlin"):
        talk.say("yes")
    assert talk.conversation.state.energy is Energy.ISOLATED


def test_the_wait_begins_anew_with_a_new_isolation(assistant):
    clock = Clock()
    talk = at_the_wait(assistant, clock)
    clock.now_s += 3600
    talk.say("the power is back on")
    answer = talk.say("isolated")
    while "waited" not in answer.pending.text:
        answer = talk.say("yes")
    assert "10 min" in told(talk.say("yes"))


def test_a_shorter_wait_of_another_machine_is_its_own(assistant):
    clock = Clock()
    talk = at_the_wait(assistant, clock, "skerry")
    clock.now_s += 30
    assert "30 s" in told(talk.say("yes"))


@pytest.mark.parametrize(
    "text",
    ["waited", "I've waited the ten minutes", "yes, ten minutes have passed", "it's been more than 10 minutes", "locked off half an hour ago",
     "it was switched off twenty minutes ago", "the time is up"],
)  # fmt: skip
def test_said_in_so_many_words(text):
    assert waited(text)


@pytest.mark.parametrize(
    "text",
    [
        "yes",
        "only waited two minutes",
        "not waited",
        "i will have waited ten minutes soon",
        "nearly ten minutes have passed",
        "how long",
        "i haven't waited",
    ],
)
def test_not_said_in_so_many_words(text):
    assert not waited(text)


def test_how_long_is_asked_in_few_words():
    assert (
        asks_how_long("how much longer?")
        and asks_how_long("how long to go")
        and not asks_how_long("how do i set the chain")
    )
