import pytest

from assistant.domain.answer import Line, Role
from assistant.domain.draft import Draft
from assistant.domain.search import Sentence
from assistant.domain.terms import Energy
from eval.fuzz import LIES, fuzz


def test_every_line_of_every_entry_in_every_state_holds(knowledge, rules):
    for entry in knowledge.entries():
        for energy in Energy:
            body = rules._bodies.build(entry, Draft(sentences=()), energy)
            for line in (Line(text=body.lead, source=entry.full_id), *body.lines):
                assert rules.ground.holds_line(line, ""), (entry.full_id, line)


PLANTED = [
    ("drumlin/fact/link-wait", "Wait 5 min before you open it.", "another figure"),
    ("drumlin/fact/link-wait", "Wait 10 s before you open it.", "another unit"),
    ("drumlin/component/FC3", "It sits beside FC9.", "another designation"),
    ("drumlin/code/204", "See code 999.", "another code"),
    ("no/such/entry", "Look.", "a source that does not exist"),
]


@pytest.mark.parametrize(("source", "text", "lie"), PLANTED, ids=[p[2] for p in PLANTED])
def test_a_line_that_lies_does_not_hold(rules, source, text, lie):
    assert not rules.ground.holds_line(Line(text=text, source=source), "")


def test_a_heading_holds_no_figure_but_the_users_own(rules):
    assert not rules.ground.holds_line(Line(text="204 things:", role=Role.HEADING), "what now")
    assert rules.ground.holds_line(Line(text="999 is no code."), "code 9-9-9")


def test_ten_thousand_lying_drafts_reach_no_answer(knowledge, rules):
    tried, passed = fuzz(knowledge, rules, 10_000, seed=1)
    assert tried == 10_000 and passed == []


def test_the_fuzzer_would_see_a_hole(knowledge, rules, monkeypatch):
    monkeypatch.setattr(rules.ground, "holds_draft", lambda draft, allowed: True)
    _, passed = fuzz(knowledge, rules, 300, seed=1)
    assert len(passed) == 300 and len(LIES) == 11


def test_an_honest_draft_holds(knowledge, rules):
    fact = knowledge.facts[0]
    good = Sentence(entry=fact.full_id, section="answer", text=fact.answer[0])
    assert rules.ground.holds_draft(Draft(sentences=(good,)), [fact.full_id])
    assert not rules.ground.holds_draft(Draft(sentences=(good,)), ["other/fact/x"])


def test_a_computed_figure_holds_only_as_the_one_that_was_computed(knowledge, rules):
    fault = knowledge.faults[0]
    told = Line(text="Something: 51 %", source=fault.full_id, computed=("51",))
    assert rules.ground.holds_line(told, "")
    assert not rules.ground.holds_line(Line(text="Something: 52 %", source=fault.full_id, computed=("51",)), "")
    assert not rules.ground.holds_line(Line(text="Something: 51 %", source=fault.full_id), "")
