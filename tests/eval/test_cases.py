import pytest

from assistant.errors import KnowledgeError
from eval.cases import SETS, read_cases
from eval.measures import measure


@pytest.mark.parametrize("name", sorted(SETS))
def test_the_committed_cases_are_sound(knowledge, name):
    assert len(read_cases(SETS[name], knowledge)) > 300


PLANTED = [
    (
        "- {q: why, outcome: answered, relevant: {drumlin/fault/panel-darck: 2}}",
        "the nearest is drumlin/fault/panel-dark",
    ),
    ("- {q: why, outcome: answered, relevent: {}}", "did you mean `relevant`?"),
    ("- {q: why, outcome: maybe}", "no outcome `maybe`"),
    ("- {q: why, outcome: refused}", "a refused case names its refusal"),
    ("- {q: why, outcome: answered}\n- {q: Why?, outcome: answered}", "the question is also at"),
    ("- {q: why, outcome: answered}\n- {q: Why?, outcome: not_covered}", "and contradicts it"),
    ("- {q: why, outcome: answered, relevant: {drumlin/fault/panel-dark: 3}}", "the grade 3"),
    ("- {q: why, outcome: answered, relevant: {drumlin/fault/panel-dark: 1}}", "none of grade 2"),
    (
        "- {q: why, outcome: not_covered, relevant: {drumlin/fault/panel-dark: 2}}",
        "yet drumlin/fault/panel-dark answers it",
    ),
]


@pytest.mark.parametrize(("text", "expected"), PLANTED, ids=[p[1][:20] for p in PLANTED])
def test_a_broken_case_is_a_fault_with_its_line(knowledge, tmp_path, text, expected):
    (tmp_path / "a.yaml").write_text(text)
    with pytest.raises(KnowledgeError) as caught:
        read_cases(tmp_path, knowledge)
    assert any(expected in str(fault) and str(fault).startswith("a.yaml:") for fault in caught.value.faults)


def test_a_phrasing_of_an_entry_is_no_test_of_it(knowledge, tmp_path):
    said = knowledge.facts[0].phrasings[0]
    (tmp_path / "a.yaml").write_text(f"- {{q: {said!r}, outcome: answered}}")
    with pytest.raises(KnowledgeError) as caught:
        read_cases(tmp_path, knowledge)
    assert "is a phrasing of" in str(caught.value)


def test_an_interval_holds_its_mean_and_is_the_same_each_time():
    values = [1.0] * 30 + [0.0] * 10
    first, second = measure("x", values), measure("x", values)
    assert first == second and first.low <= first.mean == 0.75 <= first.high
