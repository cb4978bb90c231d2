import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.domain.search import Hit, Passage, Query
from assistant.domain.terms import Kind
from assistant.retrieval.dense import DenseRanker, make_index
from assistant.retrieval.fusion import fuse
from assistant.retrieval.lexical import LexicalRanker
from assistant.retrieval.reranking import Evidence, rerank


def hits(*names):
    return tuple(Hit(entry=name, score=1.0) for name in names)


def test_fusion_adds_reciprocal_ranks():
    # Cormack, Clarke and Büttcher 2009: sum over rankings of 1 / (60 + rank)
    fused = fuse({"a": hits("x", "y"), "b": hits("y", "z", "x")}, {}, 10)
    scores = {h.entry: h.score for h in fused}
    assert scores == pytest.approx({"x": 1 / 61 + 1 / 63, "y": 1 / 62 + 1 / 61, "z": 1 / 62})
    assert [h.entry for h in fused] == ["y", "x", "z"]


def test_ties_in_fusion_go_by_id():
    assert [h.entry for h in fuse({"a": hits("z"), "b": hits("b")}, {}, 10)] == ["b", "z"]


@given(st.permutations(["a", "b", "c", "d"]), st.permutations(["a", "b", "c", "d"]))
def test_fusion_does_not_depend_on_the_order_of_the_rankings(one, two):
    first = fuse({"x": hits(*one), "y": hits(*two)}, {"x": 1.0, "y": 1.0}, 10)
    second = fuse({"y": hits(*one), "x": hits(*two)}, {"x": 1.0, "y": 1.0}, 10)
    assert [h.entry for h in first] == [h.entry for h in second]


def test_equal_documents_are_ranked_by_id():
    ranker = LexicalRanker(["b", "a", "c"], [["film"], ["film"], ["chain"]])
    found = ranker.rank(Query(text="film", terms=("film",), scope=None), 10)
    assert [h.entry for h in found] == ["a", "b"]


def test_unknown_words_find_nothing():
    ranker = LexicalRanker(["a"], [["film"]])
    assert ranker.rank(Query(text="zebra", terms=("zebra",), scope=None), 10) == ()


def test_nearest_passages_are_those_of_brute_force():
    chance = np.random.default_rng(0)
    vectors = chance.standard_normal((300, 32)).astype(np.float32)
    vectors /= np.linalg.norm(vectors, axis=1, keepdims=True)
    passages = [Passage(entry=f"e{i % 40:02d}", section="asked", text=str(i)) for i in range(300)]
    found = DenseRanker(passages, make_index(vectors)).nearest(vectors[7:8], 20)
    exact = sorted(range(300), key=lambda i: -float(vectors[i] @ vectors[7]))[:20]
    assert [p.text for p, _ in found] == [str(i) for i in exact]


def test_the_entry_of_a_named_code_outranks_everything():
    query = Query(text="204", terms=(), scope=None, codes=("204",), exact=("m/code/204",))
    kinds = {"m/code/204": Kind.CODE, "m/fault/x": Kind.FAULT}
    evidence = {"m/fault/x": Evidence(asked_cosine=1.0, asked_bm25=30.0)}
    ranked = rerank(query, hits("m/fault/x", "m/code/204"), kinds, evidence, {"asked_cosine": 50.0})
    assert ranked[0].entry == "m/code/204"
