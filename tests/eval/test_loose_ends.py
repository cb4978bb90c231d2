import pytest

from assistant.corpus.draftbook import read_draftbook
from eval.wording.loose_ends import ISOLATES, unisolated, unisolated_table, unused_table, unused_values
from tests.conftest import ROOT

PROCEDURE = """\
- id: {id}
  title: {title}
  purpose: [It is done so.]
  energy: {energy}
  minutes: 5
  who: [A fitter.]
  tools: []
  steps:
    - do: {first}
    - do: Look at it.
    - do: Look again.
    - do: {fourth}
  prove:
    - do: Run it.
      energy: running
  phrasings: [how is it done, do it, steps for it, do the thing]
  hazards: {hazards}
  source: scenario
"""


def procedure(pack, **changes):
    said = {"id": "do-it", "title": "Do it", "energy": "stopped", "first": "Open it.", "fourth": "Shut it."}
    (pack / "machines/tiny/procedures.yaml").write_text(PROCEDURE.format(**{**said, "hazards": "[cutting]", **changes}))
    return unisolated(read_draftbook(pack))


def test_a_value_that_nothing_refers_to_is_found_with_its_owner(pack):
    assert [v.owner for v in unused_values(read_draftbook(pack)) if v.owner != "energy"] == []
    machine = pack / "machines/tiny/machine.yaml"
    machine.write_text(machine.read_text().replace("values: {", "values: {planted: {value: 7, unit: mm}, "))
    facts = pack / "machines/tiny/facts.yaml"
    facts.write_text(facts.read_text() + "  values: {own: {max: 3, unit: V}}\n")
    (pack / "trade").mkdir()
    (pack / "trade/values.yaml").write_text("values: {common: {value: 1, source: x}}\n")
    found = [(v.owner, v.name, v.printed) for v in unused_values(read_draftbook(pack)) if v.owner != "energy"]
    assert found == [
        ("machine tiny", "planted", "7 mm"),
        ("tiny/fact/gap", "own", "at most 3 V"),
        ("trade", "common", "1"),
    ]
    assert ("machine tiny", "planted", "7 mm") in unused_table(unused_values(read_draftbook(pack))).rows


def test_a_value_hidden_by_one_of_the_same_name_counts_as_unused(pack):
    facts = pack / "machines/tiny/facts.yaml"
    facts.write_text(facts.read_text() + "  values: {gap: {value: 9, unit: mm}}\n")
    assert ("machine tiny", "gap") in [(v.owner, v.name) for v in unused_values(read_draftbook(pack))]


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"energy": "isolated", "hazards": "[crushing]"}, (0, "no step isolates")),
        ({"hazards": "[electric-shock]"}, (1, "names electric-shock")),
        ({"energy": "isolated", "hazards": "[crushing]", "fourth": "Isolate the machine."}, (2, "only in step 4")),
        ({"hazards": "[entanglement]"}, (3, "held still by a stop alone")),
    ],
)
def test_guarded_work_without_isolation_is_found_and_ranked(pack, changes, expected):
    (found,) = procedure(pack, **changes)
    assert (found.rank, found.entry) == (expected[0], "tiny/procedure/do-it")
    assert expected[1] in found.why and expected[1] in unisolated_table((found,)).rows[0][-1]


@pytest.mark.parametrize(
    "changes",
    [
        {"hazards": "[cutting]"},
        {"energy": "isolated", "hazards": "[crushing]", "first": "Isolate the machine as isolate-and-prove-dead says."},
        {"hazards": "[electric-shock]", "id": "isolate-it"},
    ],
)
def test_work_that_cannot_or_does_isolate_is_no_finding(pack, changes):
    assert procedure(pack, **changes) == ()


def test_a_word_of_being_isolated_is_no_isolating_step():
    assert not ISOLATES.search("Carry out the test before the machine is isolated.")
    assert ISOLATES.search("Prove the tester, then prove the drive dead.") and ISOLATES.search("Lock out QB1.")


def test_in_the_committed_knowledge_nothing_isolated_is_without_isolation_in_any_step():
    assert [u.entry for u in unisolated(read_draftbook(ROOT / "knowledge")) if u.rank == 0] == []
