import dataclasses
from random import Random

import pytest

from eval.wording.perturbation import Perturbation
from eval.wording.robustness import (
    SCORES,
    STRATA,
    Pair,
    effect,
    effect_table,
    lost_table,
    observe_pairs,
    perturbed,
    slipped_table,
    stratum_of,
    word_error_rate,
)
from tests.eval.observed import observed

LAST_LOST = Perturbation(name="last lost", what="", change=lambda text, chance: " ".join(text.split()[:-1]) or None)
X = "a/fact/x"


def cases(count, **case):
    return [
        observed([X], {X: 2}, q=f"the {w} of it", place=f"a.yaml:{i}", **case).case
        for i, w in enumerate(letters(count))
    ]


def letters(count):
    return [f"{chr(97 + i // 26)}{chr(97 + i % 26)}" for i in range(count)]


def pair(before, after, kind="k"):
    return Pair(
        kind=kind,
        before=before,
        after=dataclasses.replace(after, case=dataclasses.replace(before.case, q=after.case.q)),
    )


def test_a_sample_is_seeded_and_of_the_wanted_size():
    some = cases(40)
    chosen = perturbed(LAST_LOST, some, 12, 0)
    assert len(chosen) == 12 and chosen == perturbed(LAST_LOST, some, 12, 0) != perturbed(LAST_LOST, some, 12, 1)
    assert all(after.q == before.q.removesuffix(" it") for before, after in chosen)


def test_unsafe_benign_and_answered_cases_are_drawn_alike():
    answered = cases(20)
    unsafe = [dataclasses.replace(c, outcome="refused", q=f"{c.q} now") for c in answered]
    benign = [dataclasses.replace(c, place="benign.yaml:1", q=f"{c.q} then") for c in answered]
    outside = [dataclasses.replace(c, outcome="not_covered", q=f"{c.q} else") for c in answered]
    drawn = [stratum_of(before) for before, _ in perturbed(LAST_LOST, [*answered, *unsafe, *benign, *outside], 12, 0)]
    assert {name: drawn.count(name) for name in STRATA} == {name: 4 for name in STRATA}


def test_a_stratum_that_is_too_small_is_made_up_from_the_others():
    unsafe = [dataclasses.replace(c, outcome="refused", q=f"{c.q} now") for c in cases(2)]
    assert len(perturbed(LAST_LOST, [*cases(20), *unsafe], 12, 0)) == 12


def test_an_effect_is_the_mean_of_the_paired_differences():
    hit, miss = observed([X], {X: 2}), observed(["a/fact/y"], {X: 2})
    pairs = [pair(hit, hit), pair(hit, miss), pair(hit, miss), pair(miss, hit)]
    found = effect(pairs, "k", SCORES[0])
    assert (found.before, found.after) == (3 / 4, 2 / 4)
    assert found.difference.mean == pytest.approx((0 - 1 - 1 + 1) / 4) and found.difference.n == 4
    assert found.difference.low <= found.difference.mean <= found.difference.high


def test_the_error_rate_of_a_perturbation_is_in_words():
    before, after = observed([X], {X: 2}, q="one two three four"), observed([X], {X: 2}, q="one three five")
    assert word_error_rate([pair(before, after)]) == 2 / 4  # two lost, four written as five


def test_a_difference_that_leaves_zero_out_is_marked():
    hit, miss = observed([X], {X: 2}), observed(["a/fact/y"], {X: 2})
    (lost,) = effect_table([pair(hit, miss)] * 9, SCORES[:1], "t").rows
    (same,) = effect_table([pair(hit, hit)] * 9, SCORES[:1], "t").rows
    assert lost[-1].endswith("*") and not same[-1].endswith("*")


def test_a_wish_that_is_no_longer_refused_and_a_question_that_is_lost_are_listed():
    refused = observed([], {}, outcome="refused", wanted_outcome="refused", refusal="trade/refusal/work-live")
    answered = dataclasses.replace(refused, outcome="answered")
    assert slipped_table([pair(refused, answered)]).rows[0][:4] == (
        "k",
        "answered",
        "trade/refusal/work-live",
        "nothing",
    )
    assert slipped_table([pair(refused, refused), pair(answered, answered)]).rows == ()
    hit, miss = observed([X], {X: 2}), observed(["a/fact/y"], {X: 2})
    assert len(lost_table([pair(hit, miss), pair(hit, hit), pair(miss, miss)]).rows) == 1


class Recorder:
    def __init__(self):
        self.asked = []

    def observe(self, case):
        self.asked.append(case.q)
        return dataclasses.replace(observed([X], {X: 2}), case=case)


def test_only_perturbed_questions_are_asked_and_the_rest_is_taken_from_the_run():
    seen = [dataclasses.replace(observed([X], {X: 2}), case=case) for case in cases(8)]
    recorder = Recorder()
    pairs = observe_pairs(recorder, seen, [LAST_LOST], 6)
    assert recorder.asked == [p.after.case.q for p in pairs] and len(pairs) == 6
    assert all(p.before in seen and p.after.case.q == LAST_LOST.apply(p.before.case.q, Random(0)) for p in pairs)


def test_the_assistant_is_asked_for_real(assistant, knowledge):
    from assistant.assembly import clock_ms
    from eval.cases import SETS, read_cases
    from eval.observation import Observer

    observer = Observer(assistant, clock_ms)
    seen = [observer.observe(case) for case in read_cases(SETS["development"], knowledge)[:4]]
    pairs = observe_pairs(observer, seen, [LAST_LOST], 4)
    assert len(pairs) == 4 and all(p.after.hits for p in pairs)
