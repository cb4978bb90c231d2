"""Questions heard and the share of them that finds its entry: typed, heard, heard without repair."""

from types import SimpleNamespace

import pytest

from assistant.domain.utterance import Heard
from eval.cases import EvalCase
from eval.sound.found import DEPTH, found
from eval.sound.hearing import HeardTrial
from eval.sound.trials import Kind, Trial


def asked(question, heard, *wanted, confidence=0.9):
    case = (
        EvalCase(q=question, outcome="answered", relevant=dict.fromkeys(wanted, 2), machine="drumlin")
        if wanted
        else None
    )
    return HeardTrial(
        trial=Trial(kind=Kind.QUESTION if wanted else Kind.COMMAND, text=question, voice="v", snr_db=None, case=case),
        heard=Heard(text=heard, confidence=confidence, engine="twin", start_ms=0, end_ms=900),
        elapsed_ms=1.0,
    )


class Looking:
    """An assistant that finds what is written down for a text, the better when it knows that it was heard."""

    def __init__(self, **rankings):
        self.rankings, self.scopes = rankings, []

    def looked_up(self, utterance, before):
        self.scopes.append(before.scope)
        name = utterance.text + ("_heard" if utterance.heard is not None else "")
        hits = self.rankings.get(name, self.rankings.get(utterance.text, ()))
        return SimpleNamespace(hits=[SimpleNamespace(entry=entry) for entry in hits])


@pytest.fixture
def sessions(monkeypatch):
    made = lambda assistant, machine: SimpleNamespace(conversation=SimpleNamespace(scope=machine))  # noqa: E731
    monkeypatch.setattr("eval.sound.found.Session", made)


def test_the_three_shares_are_of_typed_heard_and_unrepaired_words(sessions):
    looking = Looking(mast=("e1",), mass=("e9",), mass_heard=("e8", "e1"), fuse=("e2",))
    share = found([asked("mast", "mass", "e1"), asked("fuse", "fuse", "e2")], looking)
    assert (share.typed, share.heard, share.unrepaired) == (1.0, 1.0, 0.5)
    assert set(looking.scopes) == {"drumlin"}


def test_an_entry_counts_among_the_first_three_only(sessions):
    ranking = ("a", "b", "c", "e1")
    assert found([asked("q", "q", "e1")], Looking(q=ranking)).typed == 0.0
    assert found([asked("q", "q", "e1")], Looking(q=ranking[1:])).typed == 1.0 and DEPTH == 3


def test_nothing_heard_finds_nothing_and_is_not_looked_up(sessions):
    looking = Looking(**{"q": ("e1",), " ": ("e1",)})
    share = found([asked("q", " ", "e1")], looking)
    assert (share.typed, share.heard, share.unrepaired) == (1.0, 0.0, 0.0) and len(looking.scopes) == 1


def test_what_is_no_question_does_not_count(sessions):
    looking = Looking(q=("e1",))
    assert found([asked("next", "next")], looking) is None and found([], looking) is None
    assert found([asked("next", "next"), asked("q", "q", "e1")], looking).typed == 1.0


@pytest.mark.engine
def test_over_the_real_search_a_word_heard_wrong_is_found_by_its_sound(assistant):
    question, wanted = "the film keeps snapping", "drumlin/fault/film-snaps"
    ids = {str(entry.full_id) for entry in assistant.knowledge.entries()}
    assert wanted in ids
    share = found([asked(question, question, wanted), asked(question, "", wanted)], assistant)
    assert (share.typed, share.heard, share.unrepaired) == (1.0, 0.5, 0.5)
