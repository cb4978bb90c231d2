import pytest
import yaml

from assistant.corpus.figures import format_value
from assistant.corpus.prose import count_words, stray_figures
from assistant.corpus.reader import read_knowledge
from assistant.corpus.snapshot import pack_knowledge, unpack_knowledge
from assistant.domain.terms import Value
from assistant.errors import IndexFailure, KnowledgeError
from tests.conftest import FACT, ROOT


def faults_of(root):
    with pytest.raises(KnowledgeError) as caught:
        read_knowledge(root)
    return [str(fault) for fault in caught.value.faults]


def broken(pack, old, new):
    path = pack / "machines/tiny/facts.yaml"
    path.write_text(FACT.replace(old, new))
    return faults_of(pack)


def test_a_sound_pack_is_read_and_its_references_are_printed(pack):
    knowledge = read_knowledge(pack)
    assert knowledge.facts[0].answer == ("The gap is 2 mm to 3 mm.",)
    assert knowledge.facts[0].figures == ("gap: 2 mm to 3 mm",)


PLANTED = [
    ("title: The gap", "titel: The gap", ":2: unknown key `titel` (did you mean `title`?)"),
    ("  source: scenario\n", "", "the key `source` is missing"),
    ("{gap}", "{gapp}", ":6: [gap] `{gapp}` is no value here (did you mean gap?)"),
    ("The gap is {gap}.", "The gap is 2.5 mm.", "the figure `2.5` is not a reference"),
    ("loses the flag.", "loses the flag", "no full stop"),
    ("A wider gap loses the flag.", "A wider gap loses the flag. It is bad.", "more than one sentence"),
    ("A wider gap loses the flag.", "A wider gap; it loses the flag.", "a semicolon"),
    ("A wider gap loses the flag.", "Look at BG9 first.", "no component `BG9` in tiny"),
    ("A wider gap loses the flag.", "It raises code 999.", "no code 999 in tiny"),
    ("A wider gap loses the flag.", "Measure at XD9:4 first.", "no terminal `XD9:4`"),
    ("A wider gap loses the flag.", " ".join(["word"] * 26) + ".", "26 words, at most 25"),
    (", distance to the flag", "", "3 phrasings, at least 4"),
    ("hazards: []", "hazards: [falling]", "Input should be"),
    ("hazards: []", "hazards: []\n  see: [tiny/fact/gab]", "no entry `tiny/fact/gab` (the nearest is tiny/fact/gap)"),
    ("- id: gap", "- id: gap\n  id: gap", "the key `id` is written twice"),
    ("answer: [", "answer: [[", "is not YAML"),
]


@pytest.mark.parametrize(("old", "new", "expected"), PLANTED, ids=[p[2][:30] for p in PLANTED])
def test_each_planted_fault_is_reported_with_file_and_line(pack, old, new, expected):
    faults = broken(pack, old, new)
    assert any(expected in fault for fault in faults), faults
    assert all(fault.startswith("machines/tiny/facts.yaml:") for fault in faults)


def test_faults_of_all_files_come_in_one_run_and_nothing_is_loaded(pack):
    (pack / "machines/tiny/codes.yaml").write_text("- id: 101\n  title: no\n")
    faults = broken(pack, "title", "titel")
    assert {fault.split(":")[0] for fault in faults} == {"machines/tiny/facts.yaml", "machines/tiny/codes.yaml"}


def test_binary_junk_is_a_fault_and_no_exception(pack):
    (pack / "machines/tiny/facts.yaml").write_bytes(b"\xff\xfe\x00junk")
    assert any("not UTF-8" in fault for fault in faults_of(pack))


def test_isolated_work_must_begin_with_isolation(pack):
    (pack / "machines/tiny/procedures.yaml").write_text(
        "- id: p\n  title: Work\n  phrasings: [a b c, d e f, g h i, j k l]\n  hazards: [entanglement]\n"
        "  source: scenario\n  purpose: [It is done.]\n  energy: isolated\n  minutes: 5\n  who: [A person.]\n"
        "  tools: []\n  steps: [{do: Open the hatch.}]\n  prove: [{do: Run it.}]\n"
    )
    assert any("does not begin with isolation" in fault for fault in faults_of(pack))


def test_the_real_knowledge_has_every_entry_of_the_contract(knowledge):
    required = yaml.safe_load((ROOT / "tests/corpus/required_ids.yaml").read_text())
    have = {str(entry.full_id) for entry in knowledge.entries()}
    assert [entry for entry in required if entry not in have] == []


def test_a_snapshot_gives_the_same_knowledge_and_the_same_bytes(knowledge):
    data = pack_knowledge(knowledge)
    again = unpack_knowledge(data)
    assert again == knowledge
    assert pack_knowledge(again) == data


def test_a_broken_snapshot_is_an_index_failure():
    with pytest.raises(IndexFailure):
        unpack_knowledge(b'{"digest": 3}')


@pytest.mark.parametrize(
    ("value", "printed"),
    [
        (Value(value=10, unit="min"), "10 min"),
        (Value(min=2, max=3, unit="mm"), "2 mm to 3 mm"),
        (Value(value=24, unit="V DC", tolerance=1), "24 V DC ± 1 V DC"),
        (Value(value=100, unit="Ω", tolerance="5 %"), "100 Ω ± 5 %"),
        (Value(max=1.2, unit="V"), "at most 1.2 V"),
        (Value(min=1, unit="m"), "at least 1 m"),
        (Value(value=325, unit="V", about=True), "about 325 V"),
        (Value(text="T 2 A L"), "T 2 A L"),
    ],
)
def test_values_are_printed_with_unit_and_tolerance(value, printed):
    assert format_value(value) == printed


# ASD-STE100, sections 5 and 6: 20 words in an instruction, 25 in a description (check rows D1-01, D1-02, D1-12, D1-13).
def test_words_are_counted_as_the_writing_standard_counts_them():
    assert count_words("Turn the main switch to OFF and attach your lock.") == 10
    long = "Before you open the door of the cabinet, make sure that the main switch is locked and that the lamp is off."
    assert count_words(long) == 22
    assert count_words("Use a {gap} film-force cell.") == 5


def test_names_with_digits_are_no_figures_but_values_are():
    assert stray_figures("FC3 feeds XD2:14 and I3, see code 204 and IEC 60204-1, use an M12 and IP54.") == ()
    assert stray_figures("Set it to 3 mm at 24 V.") == ("3", "24")
