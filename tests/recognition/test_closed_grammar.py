"""Which phrase of a closed list was said: properties that hold whatever the sound made of each."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from assistant.domain.utterance import Reading
from assistant.recognition.closed_grammar import MARGIN, WIDE_MARGIN, Scored, choose, is_phrase, plain

PHRASES = ("next", "back", "yes", "no", "where was i", "don't know", "two")
LOG = st.floats(-8.0, -0.01)


def scored(scores, priors=None):
    priors = priors or [-4.0] * len(scores)
    return tuple(
        Scored(phrase=p, log_probability=s, prior=q) for p, s, q in zip(PHRASES, scores, priors, strict=False)
    )


def free(log_probability, text="something else that was said"):
    return Reading(text=text, log_probability=log_probability)


LISTS = st.lists(st.tuples(LOG, LOG), min_size=1, max_size=len(PHRASES)).map(
    lambda rows: scored([s for s, _ in rows], [q for _, q in rows])
)


@given(LISTS, LOG)
def test_a_phrase_of_the_list_or_none_with_a_confidence_that_is_one(found, likelihood):
    chosen = choose(free(likelihood), found)
    assert chosen.phrase in ("", *(each.phrase for each in found)) and 0.0 <= chosen.confidence <= 1.0
    assert (chosen.phrase == "") <= (chosen.confidence == 0.0)


@given(LISTS, LOG)
def test_it_is_the_one_that_the_sound_speaks_for_most(found, likelihood):
    chosen = choose(free(likelihood), found)
    assume(chosen.phrase)
    best = next(each for each in found if each.phrase == chosen.phrase)
    assert best.told == max(each.told for each in found)


@given(LISTS, LOG)
def test_the_order_of_the_list_changes_nothing_but_ties(found, likelihood):
    assume(len({each.told for each in found}) == len(found))
    one, other = choose(free(likelihood), found), choose(free(likelihood), found[::-1])
    assert one.phrase == other.phrase and one.confidence == pytest.approx(other.confidence)


@given(LISTS)
def test_a_long_sentence_that_is_surely_heard_is_no_phrase(found):
    assume(max(each.log_probability for each in found) < -0.1 - MARGIN)
    assert choose(free(-0.1, "the film keeps snapping at the corner"), found).phrase == ""


@given(LISTS)
def test_nothing_is_chosen_that_is_far_less_likely_than_what_was_freely_heard(found):
    best = max(found, key=lambda each: each.told)
    chosen = choose(free(min(-0.01, best.log_probability + WIDE_MARGIN + 0.1), "uh"), found)
    assume(best.log_probability + WIDE_MARGIN + 0.1 < -0.01)
    assert chosen.phrase == ""


@given(LISTS, LOG, st.floats(0.1, 3.0))
def test_a_rival_that_the_sound_speaks_for_more_takes_confidence_away(found, likelihood, step):
    assume(len(found) >= 2)
    best = max(found, key=lambda each: each.told)
    rival = next(each for each in found if each is not best)
    nearer = min(best.told, rival.told + step)
    stronger = Scored(phrase=rival.phrase, log_probability=nearer + 0.5 * rival.prior, prior=rival.prior)
    assume(stronger.told < best.told)
    after = choose(free(likelihood), tuple(stronger if each is rival else each for each in found))
    before = choose(free(likelihood), found)
    assert after.phrase == before.phrase and after.confidence <= before.confidence + 1e-12


def test_of_two_that_fit_alike_it_is_the_one_that_is_not_written_over_silence():
    found = scored([-0.9, -0.9], [-1.0, -6.0])
    assert choose(free(-0.8), found).phrase == "back"


def test_a_phrase_poorly_said_is_never_sure_though_nothing_is_near_it():
    plainly, poorly = (choose(free(score, "uh"), scored([score, -7.5])) for score in (-0.2, -1.2))
    assert plainly.phrase == poorly.phrase == "next" and plainly.confidence > 0.9 > 0.45 > poorly.confidence


def test_an_empty_list_has_no_phrase():
    assert choose(free(-0.1), ()).phrase == ""


@pytest.mark.parametrize(("text", "wanted"), [("Don't know.", True), ("2", True), ("Where was I?", True), ("next one", False)])  # fmt: skip
def test_case_punctuation_and_figures_make_no_other_phrase(text, wanted):
    assert is_phrase(text, PHRASES) is wanted


@given(st.text(max_size=40))
def test_plain_is_plain_already(text):
    assert plain(plain(text)) == plain(text)
