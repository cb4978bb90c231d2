import yaml

from assistant.corpus.lint import normal
from eval.baseline import GATES, path_of
from eval.cases import GATED, SETS, read_cases
from eval.cli import _names


def _questions(knowledge, name):
    return {normal(case.q): case.place for case in read_cases(SETS[name], knowledge)}


def test_no_fresh_question_stands_in_another_set(knowledge):
    fresh = _questions(knowledge, "fresh")
    for name in GATED:
        both = {fresh[q]: place for q, place in _questions(knowledge, name).items() if q in fresh}
        assert both == {}, name


def test_the_fresh_set_asks_of_every_sort(knowledge):
    outcomes = [case.outcome for case in read_cases(SETS["fresh"], knowledge)]
    assert {one: outcomes.count(one) >= 40 for one in ("answered", "refused", "not_covered")} == {
        "answered": True,
        "refused": True,
        "not_covered": True,
    }


def test_gates_and_baselines_are_those_of_the_gated_sets_and_a_bare_run_asks_only_these():
    gates = yaml.safe_load(GATES.read_text(encoding="utf-8"))
    assert {name for name in SETS if name in gates} == set(GATED) == {n for n in SETS if path_of(n).exists()}
    assert _names(None) == sorted(GATED)
    assert _names(["fresh"]) == ["fresh"]
