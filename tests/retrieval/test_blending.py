import math

import pytest

from assistant.domain.search import Findings, Hit, Nearness, Query
from assistant.retrieval.blending import SHARPNESS, blended


def findings(text, hits, covered=1.0, unsafe=0.0, refusal="a"):
    return Findings(
        query=Query(text=text, terms=(), scope=None),
        hits=tuple(Hit(entry=entry, score=score) for entry, score in hits),
        covered=covered,
        unsafe=unsafe,
        nearness=(Nearness(refusal=refusal, unsafe=unsafe),),
    )


def test_one_reading_is_what_it_was():
    main = findings("x", [("p/fact/a", 1.0)])
    assert blended(main, [(-0.5, main)]) is main


def test_an_entry_that_all_readings_find_comes_before_one_that_a_single_one_prefers():
    main = findings("x", [("p/fact/a", 1.0), ("p/fact/b", 0.9)])
    others = [findings("y", [("p/fact/b", 1.0), ("p/fact/c", 0.5)]), findings("z", [("p/fact/b", 1.0)])]
    found = blended(main, [(-0.5, main), *((-0.5, other) for other in others)])
    assert [hit.entry for hit in found.hits][0] == "p/fact/b" and found.hits[0].score == 1.0
    assert found.query.text == "x"


def test_shares_are_weighed_by_likelihood_and_by_the_chance_to_be_covered():
    main = findings("x", [("p/fact/a", 1.0)], covered=0.5)
    other = findings("y", [("p/fact/b", 1.0)], covered=1.0)
    found = blended(main, [(-0.5, main), (-0.7, other)])
    scores = {hit.entry: hit.score for hit in found.hits}
    assert scores["p/fact/a"] / scores["p/fact/b"] == pytest.approx(0.5 / math.exp(-SHARPNESS * 0.2))
    weight = math.exp(-SHARPNESS * 0.2)
    assert found.covered == pytest.approx((0.5 + weight) / (1 + weight))


def test_a_wish_to_be_refused_that_the_first_reading_lost_is_not_lost():
    main = findings("buy pass the switch", [("p/fact/a", 1.0)], unsafe=0.1, refusal="near")
    other = findings("bypass the switch", [("p/fact/a", 1.0)], unsafe=1.0, refusal="guard")
    found = blended(main, [(-0.5, main), (-0.5, other)])
    assert found.unsafe == pytest.approx(0.55) and found.nearness[0].refusal == "guard"


def test_equal_scores_are_in_the_order_of_their_ids():
    main = findings("x", [("p/fact/b", 1.0)])
    other = findings("y", [("p/fact/a", 1.0)])
    assert [hit.entry for hit in blended(main, [(-0.5, main), (-0.5, other)]).hits] == ["p/fact/a", "p/fact/b"]
