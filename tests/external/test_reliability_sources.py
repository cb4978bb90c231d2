"""Bounds of mean times against published tables and worked examples."""

import pytest

from assistant.calculation.reliability import log_normal_bounds, student, time_between


@pytest.mark.parametrize(
    ("failures", "low", "high"),
    # Factors of 90 % for an MTBF, NIST/SEMATECH e-Handbook 8.4.5.1 (formula looked up, figures of its table from memory).
    [(1, 0.2108, 19.4958), (2, 0.3177, 5.6281), (3, 0.3869, 3.6689), (10, 0.5895, 1.8432)],
)
def test_factors_of_the_mean_time_between_failures(failures, low, high):
    found = time_between(100.0 * failures, failures, 90)
    assert found.value == pytest.approx(100)
    assert (found.low, found.high) == pytest.approx((100 * low, 100 * high), rel=2e-4)


def test_no_failure_gives_a_lower_bound_only():
    # T / ln(1/alpha), e-Handbook 8.4.5.1: 1000 h at 90 % are 434.3 h.
    found = time_between(1000, 0, 90)
    assert found.value is None and found.high is None
    assert found.low == pytest.approx(434.29, abs=0.01)


@pytest.mark.parametrize(
    ("freedom", "t"),
    # Table of Student's t, 0.975 quantile; any textbook, from memory.
    [(1, 12.706), (2, 4.303), (3, 3.182), (4, 2.776), (9, 2.262), (30, 2.042), (39, 2.023)],
)
def test_quantiles_of_student(freedom, t):
    assert student(0.975, freedom) == pytest.approx(t, abs=6e-4)


def test_bounds_of_a_log_normal_mean():
    # The worked example of Olsson 2005 (40 values, mean of logs 5.127, variance 1.010); method looked up, data from memory;
    # the bounds are worked by hand: 5.632 -+ 2.0227 * 0.19577 -> exp(5.2360), exp(6.0280).
    assert log_normal_bounds(5.127, 1.010, 40, 95) == pytest.approx((187.9, 414.9), rel=2e-3)
