"""A code on the panel as evidence: what it does to the belief, in what order, and how it is taken back."""

import itertools
import math
from dataclasses import replace

import pytest

import assistant.isolation.panel as panel_log
from assistant.domain.entries import CheckOutcome, PanelCode
from assistant.domain.fault_log import Answered, DoCheck, ProofFailed, ReadingNear, Repaired, Revised
from assistant.domain.panel import NO_CODE, NOT_SHOWN, SHOWN, answers_to
from assistant.domain.terms import Energy
from assistant.isolation import Isolator, belief, compile_model, contradiction, counted, explain, seen, taken_back
from tests.isolation.test_parts_of_the_engine import authored

SHOWS = (
    PanelCode(code="204", likely={"dirty": "rarely", "cable": "usually"}),
    PanelCode(code="205", likely={"output": 0.5}, default="rarely"),
)
# under dirty, cable, output: 204 0.1 .85 .02; 205 .1 .1 .5; none the rest, .8 .05 .48: every column sums to one
ROW_204, ROW_205, ROW_NONE = (0.1, 0.85, 0.02), (0.1, 0.1, 0.5), (0.8, 0.05, 0.48)
PRIOR = (0.95 * 30 / 43, 0.95 * 10 / 43, 0.95 * 3 / 43)


def with_panel(**rest):
    return authored(panel=SHOWS, **rest)


def by_hand(*rows):
    """Bayes in the order of the causes, something else last: its row is the mean of the named by their prior."""
    weights = [*PRIOR, 0.05]
    for row in rows:
        mean = (30 * row[0] + 10 * row[1] + 3 * row[2]) / 43
        weights = [w * cell for w, cell in zip(weights, (*row, mean), strict=True)]
    return [w / sum(weights) for w in weights]


def shown(*codes, fault=None, log=()):
    fault = fault or with_panel()
    model = compile_model(fault)
    for code in codes:
        log = seen(model, fault, log, code)
    return model, log


@pytest.mark.parametrize(
    ("codes", "rows"),
    [
        (("204",), [ROW_204]),
        (("205",), [ROW_205]),
        (("204", "205"), [ROW_204, ROW_205]),
        ((NO_CODE,), [ROW_NONE]),
    ],
)
def test_the_posterior_with_codes_is_the_one_reckoned_by_hand(codes, rows):
    model, log = shown(*codes)
    assert list(belief(model, log).values()) == pytest.approx(by_hand(*rows), abs=1e-9)


def test_a_code_that_nobody_mentioned_is_unknown_and_moves_nothing():
    assert list(belief(compile_model(with_panel()), ()).values()) == pytest.approx([*PRIOR, 0.05])


def test_a_code_and_an_answer_count_together_in_any_order():
    fault = with_panel()
    model = compile_model(fault)
    answers = {"lamp": Answered(check="lamp", outcome="dark"), "volts": Answered(check="volts", outcome="low")}
    expected = None
    for order in itertools.permutations(("lamp", "204", "volts", "205")):
        log = ()
        for name in order:
            log = (*log, answers[name]) if name in answers else seen(model, fault, log, name)
        found = list(belief(model, log).values())
        expected = expected or found
        assert found == pytest.approx(expected, abs=1e-12)
    dark = (0.85, 0.98, 0.1)
    columns = [
        (0.02, 0.96, 0.02),
        (0.98, 0.005, 0.02),
        (0.02, 0.58, 0.4),
    ]  # low, right, high as the compiler bounds them
    low = tuple(column[0] / math.fsum(column) for column in columns)
    assert expected == pytest.approx(by_hand(dark, low, ROW_204, ROW_205), abs=1e-9)


def test_a_code_taken_back_is_as_if_it_had_never_been_seen():
    fault = with_panel()
    model, log = shown("204", "205", fault=fault)
    assert belief(model, taken_back(model, log, "204")) == pytest.approx(belief(model, shown("205")[1]))
    assert list(belief(model, taken_back(model, log)).values()) == pytest.approx([*PRIOR, 0.05])
    assert counted(model, taken_back(model, log)) == ()


def test_a_code_said_twice_counts_once():
    once, twice = shown("204"), shown("204", "204")
    assert once == twice and len(once[1]) == 1


def test_no_code_takes_back_the_codes_and_a_code_takes_back_that():
    model, log = shown("204", NO_CODE)
    assert [a.seen for a in counted(model, log)] == [NO_CODE]
    assert list(belief(model, log).values()) == pytest.approx(by_hand(ROW_NONE))
    model, log = shown("205", log=log)
    assert list(belief(model, log).values()) == pytest.approx(by_hand(ROW_205))


def test_a_code_of_another_fault_leaves_the_log_alone():
    assert shown("999")[1] == () and answers_to(with_panel(), "999") == ()
    assert shown(NO_CODE, fault=authored())[1] == ()


def test_a_code_is_never_offered_and_costs_no_minutes():
    model, log = shown("204")
    codes = [check for check in model.checks if not check.offered]
    assert [c.id for c in codes] == ["code 204", "code 205", "no code"] and all(c.minutes == 0.0 for c in codes)
    for said in ((), log):
        actions = [option.action for option in Isolator(model).decide(said, Energy.STOPPED).options]
        assert {a.check for a in actions if isinstance(a, DoCheck)} == {"lamp", "volts"}


def test_a_code_of_an_outcome_answers_its_check_which_is_not_asked_again():
    fault = with_codes({"dark": ("301",), "lit": (NO_CODE,)})
    model, log = shown("301", fault=fault)
    assert log == (Answered(check="lamp", outcome="dark", seen="301"),)
    assert belief(model, log) == pytest.approx(belief(model, (Answered(check="lamp", outcome="dark"),)))
    actions = [option.action for option in Isolator(model).decide(log, Energy.STOPPED).options]
    assert "lamp" not in {a.check for a in actions if isinstance(a, DoCheck)}
    assert shown("301", NO_CODE, fault=fault)[1][1:] == (
        Revised(check="lamp", to=None),
        Answered(check="lamp", outcome="lit", seen=NO_CODE),
    )


def with_codes(codes):
    fault = authored()
    lamp = fault.checks[0]
    outcomes = tuple(replace(o, codes=codes.get(o.says[0], ())) for o in lamp.outcomes)
    return replace(fault, checks=(replace(lamp, outcomes=outcomes), *fault.checks[1:]))


def with_flicker():
    """The lamp may flicker too, and code 301 leaves dark and flickering."""
    fault = authored()
    lamp = fault.checks[0]
    flicker = CheckOutcome(says=("flickers",), likely={"cable": 0.01, "dirty": "rarely", "output": 0.3}, codes=("301",))
    outcomes = (replace(lamp.outcomes[0], codes=("301",)), flicker, lamp.outcomes[1])
    return replace(fault, checks=(replace(lamp, outcomes=outcomes), *fault.checks[1:]))


def test_a_code_of_several_outcomes_leaves_those_and_the_check_is_still_asked():
    fault = with_flicker()
    model, log = shown("301", fault=fault)
    assert log == (ReadingNear(check="lamp", shares=(("dark", 0.5), ("flickers", 0.5)), seen="301"),)
    rows = model.checks[0].likelihood
    weights = [p * (d + f) for p, d, f in zip(model.prior, rows[0], rows[1], strict=True)]
    assert list(belief(model, log).values()) == pytest.approx([w / sum(weights) for w in weights], abs=1e-12)
    actions = [option.action for option in Isolator(model).decide(log, Energy.STOPPED).options]
    assert "lamp" in {a.check for a in actions if isinstance(a, DoCheck)}
    answered = (*log, Answered(check="lamp", outcome="dark"))
    assert belief(model, answered) == pytest.approx(belief(model, (Answered(check="lamp", outcome="dark"),)))
    assert seen(model, fault, answered, "301") == answered  # the closer answer stays


def test_after_a_surprising_proof_the_code_speaks_of_what_was_cured_and_may_be_seen_anew():
    model, log = shown("204")
    log = (*log, Answered(check="volts", outcome="low"), Repaired(repair="cable"), ProofFailed())
    names = [repair.id for repair in model.repairs]
    assert "cable" in names, names
    assert counted(model, log) == ()
    again = seen(model, with_panel(), log, "204")
    assert [a.seen for a in counted(model, again)] == ["204"] and belief(model, again) != belief(model, log)


def test_the_explanation_names_the_code_as_the_reason():
    model, log = shown("204")
    told = explain(model, log, Isolator(model).decide(log, Energy.STOPPED))
    (sign,) = told.codes
    assert (sign.code, sign.check) == ("204", "code 204")
    assert sign.speaks_for == ("cable",) and sign.against == ("dirty", "output")
    only = replace(with_panel(), panel=(PanelCode(code="204", likely={"cable": "always"}, default=0.001),))
    model, log = shown("204", fault=only)
    told = explain(model, log, Isolator(model).decide(log, Energy.STOPPED))
    assert {gone.cause: (gone.by, gone.outcome) for gone in told.ruled_out} == {
        "dirty": ("code 204", SHOWN),
        "output": ("code 204", SHOWN),
    }


def test_a_code_that_fits_no_other_answer_is_a_suspect():
    model, log = shown("204")
    log = (*log, Answered(check="lamp", outcome="lit"), Answered(check="volts", outcome="right"))
    found = contradiction(model, log)
    assert {suspect.check for suspect in found.suspects} == {"code 204", "lamp", "volts"}
    assert next(s for s in found.suspects if s.check == "code 204").instead == NOT_SHOWN


# --- faults planted, each seen to be caught


def test_a_code_that_is_taken_back_but_still_counts_is_caught(monkeypatch):
    monkeypatch.setattr(panel_log, "_without", lambda log, old: log)
    with pytest.raises(AssertionError):
        test_a_code_taken_back_is_as_if_it_had_never_been_seen()


def test_a_code_that_counts_each_time_it_is_said_is_caught(monkeypatch):
    monkeypatch.setattr(panel_log, "_with", lambda model, log, answer: (*log, answer))
    with pytest.raises(AssertionError):
        test_a_code_said_twice_counts_once()


def test_a_panel_without_a_code_that_counts_beside_one_is_caught(monkeypatch):
    monkeypatch.setattr(panel_log, "counted", lambda model, log: ())
    with pytest.raises(AssertionError):
        test_no_code_takes_back_the_codes_and_a_code_takes_back_that()


def test_a_rest_that_is_not_left_over_is_caught(monkeypatch):
    import assistant.isolation.compilation as compilation

    whole_of = compilation.panel_check

    def even(panel, causes):
        whole = whole_of(panel, causes)
        none = replace(whole.outcomes[-1], normal=False)
        return replace(whole, outcomes=(*whole.outcomes[:-1], none, CheckOutcome(says=("left",), normal=True)))

    monkeypatch.setattr(compilation, "panel_check", even)
    with pytest.raises(AssertionError):
        test_the_posterior_with_codes_is_the_one_reckoned_by_hand((NO_CODE,), [ROW_NONE])
