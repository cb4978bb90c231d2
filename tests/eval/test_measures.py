"""Checks of the bench's own measures against other implementations and worked examples; each names its source."""

import itertools

import jiwer
import numpy as np
import pytest
from scipy.stats import permutation_test
from sklearn.metrics import precision_score, recall_score

from eval.measures import (
    area_under_risk,
    edit_distance,
    error_rate,
    measure,
    ndcg_at,
    precision_recall,
    randomisation_p,
    reciprocal_rank,
    risk_coverage,
)

WORDS = "film chain brake sensor fuse drive table mast gap eye".split()


# jiwer 4 (edit distance by rapidfuzz) on random word strings.
@pytest.mark.parametrize("seed", range(10))
def test_word_and_character_error_rates_are_those_of_jiwer(seed):
    chance = np.random.default_rng(seed)
    said = [" ".join(chance.choice(WORDS, chance.integers(1, 9))) for _ in range(12)]
    heard = [" ".join(chance.choice(WORDS, chance.integers(1, 9))) for _ in range(12)]
    words = error_rate([s.split() for s in said], [h.split() for h in heard])
    assert words == pytest.approx(jiwer.wer(said, heard))
    assert error_rate(said, heard) == pytest.approx(jiwer.cer(said, heard))


# Textbook example of the edit distance (Jurafsky and Martin, Speech and Language Processing, "intention" to "execution", unit costs; from memory).
def test_intention_is_five_edits_from_execution():
    assert edit_distance("intention", "execution") == 5


# scikit-learn's precision_score and recall_score on random flags.
@pytest.mark.parametrize("seed", range(10))
def test_precision_and_recall_are_those_of_scikit_learn(seed):
    chance = np.random.default_rng(seed)
    flagged, true = chance.random(50) < 0.4, chance.random(50) < 0.5
    assert precision_recall(flagged.tolist(), true.tolist()) == pytest.approx(
        (precision_score(true, flagged), recall_score(true, flagged))
    )


def test_nothing_flagged_is_full_precision_and_nothing_to_flag_full_recall():
    assert precision_recall([False, False], [True, False]) == (1.0, 0.0)
    assert precision_recall([True, False], [False, False]) == (0.0, 1.0)


# Definition of the risk-coverage curve (El-Yaniv and Wiener 2010): risk among the most confident share.
def test_the_risk_curve_is_the_mean_loss_of_the_most_confident():
    curve = risk_coverage([0.9, 0.8, 0.8, 0.1], [0.0, 1.0, 0.0, 1.0])
    assert curve == ((1 / 4, 0.0), (3 / 4, 1 / 3), (1.0, 2 / 4))


# Definition of AURC (Geifman, Uziel and El-Yaniv 2019): the mean of the selective risks at coverages 1/n, 2/n, ... 1.
def test_the_area_under_the_risk_curve_is_the_mean_of_the_selective_risks():
    assert area_under_risk([0.9, 0.7, 0.5, 0.3], [0.0, 0.0, 1.0, 1.0]) == pytest.approx((0 + 0 + 1 / 3 + 2 / 4) / 4)
    assert area_under_risk([0.9, 0.7, 0.5, 0.3], [1.0, 1.0, 0.0, 0.0]) == pytest.approx((1 + 1 + 2 / 3 + 2 / 4) / 4)


# scipy.stats.permutation_test with permutation_type "samples" and all sign changes, which is exact for few pairs.
@pytest.mark.parametrize("seed", range(5))
def test_the_randomisation_test_is_that_of_scipy(seed):
    chance = np.random.default_rng(seed)
    one, other = chance.normal(0.5, 1, 9), chance.normal(0, 1, 9)
    exact = permutation_test(
        (one, other), lambda a, b, axis: np.mean(a - b, axis=axis), permutation_type="samples", n_resamples=np.inf
    ).pvalue
    assert randomisation_p(one.tolist(), other.tolist(), rounds=40_000) == pytest.approx(exact, abs=0.02)


def test_a_paired_test_of_equal_results_finds_nothing():
    assert randomisation_p([1.0, 0.0, 1.0], [1.0, 0.0, 1.0]) == 1.0


# Exact sign-flip enumeration of a worked example: differences 1, 1, 1: only +++ and --- are as far out, 2 of 8.
def test_three_wins_of_three_are_a_quarter():
    sums = [abs(sum(signs)) for signs in itertools.product((1, -1), repeat=3)]
    assert sum(s >= 3 for s in sums) / 8 == 0.25
    assert randomisation_p([1.0] * 3, [0.0] * 3, rounds=40_000) == pytest.approx(0.25, abs=0.01)


# The example of the Wikipedia article "Mean reciprocal rank" (from memory): ranks 3, 2, 1 give 11/18.
def test_the_mean_reciprocal_rank_of_three_two_one_is_eleven_eighteenths():
    rankings = [["catten", "cati", "cats"], ["torii", "tori", "toruses"], ["viruses", "virii", "viri"]]
    right = ["cats", "tori", "viruses"]
    ranks = [reciprocal_rank(r, frozenset([w])) for r, w in zip(rankings, right, strict=True)]
    assert sum(ranks) / 3 == pytest.approx((1 / 3 + 1 / 2 + 1) / 3) == pytest.approx(11 / 18)


# Järvelin and Kekäläinen 2002 define the gain vector; here the exponential gains of Burges et al. 2005, written out.
def test_a_gain_of_two_at_the_second_place():
    log3 = np.log2(3)
    assert ndcg_at(10, ["b", "a"], {"a": 2, "b": 1}) == pytest.approx((1 + 3 / log3) / (3 + 1 / log3))


# scipy's bootstrap (percentile) of a mean, other resamples: the intervals agree to a few hundredths.
def test_the_interval_is_that_of_scipys_percentile_bootstrap():
    from scipy.stats import bootstrap

    values = np.random.default_rng(3).random(80)
    other = bootstrap((values,), np.mean, method="percentile", random_state=1).confidence_interval
    ours = measure("x", values.tolist())
    assert (ours.low, ours.high) == pytest.approx((other.low, other.high), abs=0.01)
