import pytest

from assistant.domain.search import Findings, Hit, Query
from assistant.domain.terms import Hazard, SignalWord


def test_messages_are_ordered_by_severity_and_signal_words_agree(knowledge):
    order = list(SignalWord)
    words = [order.index(m.signal_word) for m in knowledge.messages]
    assert words == sorted(words)
    assert len({m.severity for m in knowledge.messages}) == len(knowledge.messages)


def test_every_hazard_has_a_message_that_stands_alone(knowledge):
    assert {m.hazard for m in knowledge.messages if m.general} == set(Hazard)


@pytest.mark.parametrize(
    ("text", "hazard"),
    [
        ("my hand near the chain and sprocket", Hazard.ENTANGLEMENT),
        ("the carriage is hanging above me", Hazard.FALLING_LOAD),
        ("unscrew the terminal of the mains", Hazard.ELECTRIC_SHOCK),
        ("capacitors in the drive", Hazard.STORED_ENERGY),
        ("braking resistor glowing", Hazard.HOT_SURFACE),
        ("the knife blade is dull", Hazard.CUTTING),
        ("air hose is loose", Hazard.PNEUMATIC),
    ],
)
def test_the_words_alone_raise_a_hazard_when_no_passage_is_found(rules, text, hazard):
    assert hazard in rules.safety.from_words(text)


def test_a_named_component_warns_even_if_it_is_not_the_hit(rules):
    query = Query(text="x", terms=(), scope=None, exact=("drumlin/component/MB1",))
    findings = Findings(query=query, hits=(Hit(entry="trade/fact/ip-code", score=1.0),), covered=1.0)
    assert Hazard.FALLING_LOAD in rules.safety.hazards("x", findings, ("trade/fact/ip-code",))


def test_warnings_are_verbatim_and_most_severe_first(knowledge, rules):
    warnings = rules.safety.warnings(list(Hazard), "")
    texts = {" ".join(m.text) for m in knowledge.messages}
    severity = {m.id: m.severity for m in knowledge.messages}
    assert all(w.text in texts for w in warnings)
    assert [severity[w.id] for w in warnings] == sorted(severity[w.id] for w in warnings)
    assert {w.hazard for w in warnings} == set(Hazard)
