from assistant.domain.terms import Kind
from eval.wording.coverage import confusion_table, confusions, unasked, unasked_table, unfound, unfound_table
from tests.eval.observed import observed

X, Y, Z, W = "a/fact/x", "a/fact/y", "a/fact/z", "a/fact/w"


def test_an_entry_that_no_question_found_among_three_is_listed_with_what_came_first():
    seen = [observed([Y, Z, W, X], {X: 2}, q="one"), observed([Z], {X: 2}, q="two"), observed([Y], {Y: 2})]
    (found,) = unfound(seen)
    assert (found.entry, found.asked, found.found) == (X, 2, 0)
    assert (found.questions, found.instead) == (("one", "two"), (Y, Z))


def test_one_question_that_found_it_is_enough_unless_seldom_is_asked_for():
    seen = [observed([Y, Z, X], {X: 2}), observed([Z], {X: 2})]
    assert unfound(seen) == ()
    assert [(u.entry, u.found, u.asked) for u in unfound(seen, 0.5)] == [(X, 1, 2)]
    assert unfound_table(seen).rows == (("1", "2", X, Z, "what now"),)


def test_confusions_are_counted_and_the_most_frequent_comes_first():
    seen = [
        observed([Y, X], {X: 2}, q="one"),
        observed([Y, X], {X: 2}, q="two"),
        observed([Z, X], {X: 2}),
        observed([X, Y], {X: 2}),
        observed([Y], {X: 2}, wanted_outcome="not_covered"),
    ]
    first, second = confusions(seen)
    assert (first.wanted, first.instead, first.questions) == (X, Y, ("one", "two"))
    assert (second.wanted, second.instead) == (X, Z)
    assert confusion_table(seen).rows[0] == ("2", X, Y, "one / two")


def test_where_several_would_answer_the_nearest_to_the_top_was_wanted_and_grade_one_is_no_answer():
    (found,) = confusions([observed([Z, Y], {X: 2, Y: 2, Z: 1})])
    assert (found.wanted, found.instead) == (Y, Z)


def test_a_question_without_hits_is_confused_with_its_outcome():
    (found,) = confusions([observed([], {X: 2}, outcome="refused")])
    assert found.instead == "(refused)"


def test_entries_that_no_case_asks_for_are_listed_with_the_cases_beside(knowledge):
    fact, other = (str(f.full_id) for f in knowledge.facts[:2])
    refusal = str(knowledge.refusals[0].full_id)
    seen = [
        observed([], {fact: 2, other: 1}),
        observed([], {}, wanted_outcome="refused", refusal=refusal),
    ]
    found = {str(entry.full_id): beside for entry, beside in unasked(knowledge, seen)}
    assert fact not in found and refusal not in found and found[other] == 1
    assert str(knowledge.refusals[1].full_id) in found
    assert not [e for e in found if f"/{Kind.SIGNAL}/" in e and not _phrased(knowledge, e)]
    assert len(unasked_table(knowledge, seen).rows) == len(found)


def _phrased(knowledge, wanted):
    return next(e.phrasings for e in knowledge.entries() if str(e.full_id) == wanted)
