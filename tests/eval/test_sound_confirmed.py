"""A code or figure heard, with the confirmation between: right, wrong, or not acted on."""

from types import SimpleNamespace

import pytest

from assistant.domain.utterance import Heard
from eval.sound import confirmed
from eval.sound.confirmed import Outcome, _judged, outcome_of
from eval.sound.hearing import HeardTrial
from eval.sound.trials import Kind, Trial

pytestmark = pytest.mark.engine
SAID = "what does code two zero four mean"


@pytest.fixture
def codes(knowledge):
    return frozenset(code.id for code in knowledge.codes)


def trial(heard, said=SAID, confidence=0.9, kind=Kind.CODE):
    return HeardTrial(
        trial=Trial(kind=kind, text=said, voice="v", snr_db=None),
        heard=Heard(text=heard, confidence=confidence, engine="twin", start_ms=0, end_ms=900),
        elapsed_ms=1.0,
    )


@pytest.mark.parametrize(
    ("heard", "outcome"),
    [
        ("What does code 204 mean?", Outcome.RIGHT),
        ("what does code two oh four mean", Outcome.RIGHT),
        ("What does code 205 mean?", Outcome.NOT),  # the careful one says no each time
        ("What does code 20 mean?", Outcome.NOT),  # not whole: asked again
        ("what does it mean", Outcome.NOT),  # taken for a question in which no code is
        (" ", Outcome.NOT),
    ],
)
def test_what_comes_of_a_code(assistant, codes, heard, outcome):
    assert outcome_of(trial(heard), assistant, codes) is outcome


@pytest.mark.parametrize(
    ("heard", "outcome"),
    [("It reads 23.8 volts.", Outcome.RIGHT), ("It reads 28.3 volts.", Outcome.NOT), ("it reads fine", Outcome.NOT)],
)
def test_what_comes_of_a_figure(assistant, codes, heard, outcome):
    said = trial(heard, "it reads twenty three point eight volts", kind=Kind.FIGURE)
    assert outcome_of(said, assistant, codes) is outcome


def test_one_heard_with_little_confidence_is_chosen_by_its_number(assistant, codes):
    assert outcome_of(trial("What does code 204 mean?", confidence=0.1), assistant, codes) is Outcome.RIGHT
    assert outcome_of(trial("What does code 205 mean?", confidence=0.1), assistant, codes) is Outcome.NOT


def test_a_talk_that_acts_without_asking_is_caught(assistant, codes, monkeypatch):
    class Rash:
        reads_back = False

        def __init__(self, session, codes, names):
            self._session = session

        def take(self, text, heard):
            return self._session.say(text, heard)

    monkeypatch.setattr(confirmed, "HearingSession", Rash)
    assert outcome_of(trial("What does code 205 mean?"), assistant, codes) is Outcome.WRONG
    assert outcome_of(trial("What does code 204 mean?"), assistant, codes) is Outcome.RIGHT


def test_a_code_in_the_answer_that_nobody_said_or_confirmed_is_wrong():
    wanted = ("code two zero four",)

    def judged(codes, text, parts=()):
        return _judged(wanted, parts, text, SimpleNamespace(codes=codes), SAID)

    assert judged(("305",), "the table hums") is Outcome.WRONG
    assert judged(("204",), "the table hums") is Outcome.NOT  # it was said, and not acted on as a code
    assert judged((), "the table hums") is Outcome.NOT
    assert judged(("204",), "code 204", wanted) is Outcome.RIGHT
    assert judged(("204",), "code 305", ("code three zero five",)) is Outcome.WRONG
