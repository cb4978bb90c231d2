import pytest

from assistant.corpus.reader import read_knowledge
from assistant.corpus.snapshot import pack_knowledge, unpack_knowledge
from assistant.retrieval.rows import Rows
from tests.corpus.test_reader import faults_of

COMPONENT = """\
- id: {id}
  title: {name} {id}
  name: {name}
  aliases: []
  location: [It is in the cabinet.]
  function: [It does its work.]
  phrasings: [where is {id}, {id} please, find {id}, show {id} now]
  hazards: [electric-shock]
  source: scenario
"""
WIRES = '- {wire: "7", terminal: "XD1:7", origin: KF1, to: "BG1, plug", carries: "+24 V"}\n'
SETTING = """\
- id: delay
  title: Delay of the gate
  aliases: [gate delay]
  holder: KF1
  location: [On the panel.]
  delivered: "{gap}"
  what: [It waits.]
  hazards: []
  source: scenario
"""
SIGNAL = """\
- id: I1
  title: Input I1, gate
  component: BG1
  direction: input
  terminal: "XD1:11"
  wire: "11"
  on_means: [The gate is shut.]
  off_means: [The gate is open.]
  see_at: [Lamp I1 on KF1.]
  hazards: []
  source: scenario
"""


@pytest.fixture
def tabled(pack):
    tiny = pack / "machines/tiny"
    (tiny / "components.yaml").write_text(
        COMPONENT.format(id="KF1", name="controller") + COMPONENT.format(id="BG1", name="gate switch")
    )
    (tiny / "wiring.yaml").write_text(WIRES)
    (tiny / "settings.yaml").write_text(SETTING)
    (tiny / "signals.yaml").write_text(SIGNAL)
    machine = tiny / "machine.yaml"
    machine.write_text(machine.read_text() + "controller: KF1\n")
    return pack


def test_wires_of_both_files_become_rows_with_both_ends(tabled):
    knowledge = read_knowledge(tabled)
    rows = {row.wire: row for row in Rows(knowledge).conductors}
    assert (rows["7"].origin, rows["7"].to, rows["7"].names) == ("KF1", "BG1, plug", ("KF1", "BG1"))
    assert (rows["11"].origin, rows["11"].to, rows["11"].terminal) == ("BG1", "KF1 I1", "XD1:11")
    assert rows["11"].signal == "tiny/signal/I1" and rows["7"].signal is None
    assert unpack_knowledge(pack_knowledge(knowledge)) == knowledge


def test_a_setting_is_read_with_its_references_printed_and_is_no_entry_of_the_search(tabled):
    knowledge = read_knowledge(tabled)
    assert [setting.delivered for setting in knowledge.settings] == ["2 mm to 3 mm"]
    assert not any("/setting/" in entry.full_id for entry in knowledge.entries())


def test_a_file_called_settings_in_the_folder_of_another_kind_holds_that_kind(knowledge):
    assert any(p.full_id == "drumlin/procedure/save-settings" for p in knowledge.procedures)


PLANTED = [
    ("wiring", "origin: KF1", "origin: KF9", "wiring.yaml:1: [wire 7] no component `KF9` in tiny"),
    ("wiring", 'to: "BG1, plug"', 'to: "BG8, plug"', "no component `BG8` in tiny"),
    ("wiring", "XD1:7", "XD1-7", "`XD1-7` is no terminal"),
    ("wiring", 'wire: "7"', 'wire: "11"', "wire 11 is written twice in tiny"),
    ("wiring", "carries:", "carrys:", "unknown key `carrys` (did you mean `carries`?)"),
    ("settings", "holder: KF1", "holder: KF7", "settings.yaml:4: [delay] no component `KF7` in tiny"),
    ("settings", '"{gap}"', '"{gab}"', "`{gab}` is no value here (did you mean gap?)"),
    ("settings", '"{gap}"', '"3 s"', "the figure `3` is not a reference"),
    ("settings", "aliases: [gate delay]", "aliases: []", "no alias"),
    ("settings", "It waits.", "It waits", "no full stop"),
    ("settings", SETTING, SETTING + SETTING.replace("id: delay", "id: other"), "`gate delay` also names tiny/setting/delay"),
    ("signals", "component: BG1", "component: BG5", "no component `BG5` in tiny"),
    ("signals", "direction: input", "direction: inward", "the direction `inward`"),
    ("machine", "controller: KF1", "controller: KF4", "machine.yaml:7: no component `KF4` in tiny"),
]  # fmt: skip


@pytest.mark.parametrize("file, old, new, message", PLANTED, ids=[f"{f}-{n[:18]}" for f, _, n, _ in PLANTED])
def test_each_fault_of_a_table_is_reported_with_its_place(tabled, file, old, new, message):
    path = tabled / f"machines/tiny/{file}.yaml"
    assert old in path.read_text()
    path.write_text(path.read_text().replace(old, new, 1))
    assert any(message in fault for fault in faults_of(tabled)), faults_of(tabled)
