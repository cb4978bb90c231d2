import pytest

from assistant.corpus.reader import read_knowledge
from assistant.errors import KnowledgeError

SOUND = """\
isolation:
  - {id: "off", ask: "Is it off?"}
  - {id: waited, kind: wait, ask: "Have you waited {drain}?"}
  - {id: tester-before, ask: "Has the tester shown a known source?"}
  - {id: dead, kind: prove, point: XD1:1, ask: "Is XD1 dead?"}
  - {id: tester-after, ask: "Has the tester shown it again?"}
"""
WIRING = "- {wire: '1', terminal: 'XD1:1', origin: supply, to: door, carries: the supply}\n"


def machine(pack, items):
    path = pack / "machines/tiny/machine.yaml"
    path.write_text(path.read_text() + items)
    text = path.read_text().replace("values: {", "values: {drain: {value: 4, unit: min}, ")
    path.write_text(text)
    (pack / "machines/tiny/wiring.yaml").write_text(WIRING)
    return read_knowledge(pack)


def test_items_of_a_machine_are_read_with_their_references_printed(pack):
    energy = machine(pack, SOUND).energy
    assert [item.id for item in energy.items("tiny")] == ["off", "waited", "tester-before", "dead", "tester-after"]
    assert energy.items("tiny")[1].ask == "Have you waited 4 min?"


def test_a_machine_without_items_has_the_common_ones(pack):
    energy = machine(pack, "").energy
    assert energy.items("tiny") == energy.isolation_items


PLANTED = [
    ('"off", ask', "started, ask", 7, "begin with the item `off`"),
    ("{drain}", "{drian}", 9, "`{drian}` in item `waited` names no value"),
    ("{drain}", "a while", 9, "the wait `waited` says no time"),
    ("point: XD1:1, ", "", 11, "the proof `dead` names no point"),
    ("point: XD1:1, ", "point: XD9:1, ", 11, "the proof `dead` names no point"),
    ("kind: prove, point: XD1:1, ", "", 7, "isolation proves nothing dead"),
    ("tester-after", "tester-again", 7, "not proved before and after"),
    ("Is it off?", "Is it off.", 8, "item `off` is no question"),
    ("id: waited", "id: dead", 7, "two isolation items are the same"),
    ("kind: wait", "kind: waits", 9, "Input should be"),
]


@pytest.mark.parametrize(("old", "new", "line", "expected"), PLANTED, ids=[p[3][:30] for p in PLANTED])
def test_each_planted_fault_is_reported_with_file_and_line(pack, old, new, line, expected):
    with pytest.raises(KnowledgeError) as caught:
        machine(pack, SOUND.replace(old, new))
    faults = [str(fault) for fault in caught.value.faults]
    assert any(fault.startswith(f"machines/tiny/machine.yaml:{line}:") and expected in fault for fault in faults), (
        faults
    )
