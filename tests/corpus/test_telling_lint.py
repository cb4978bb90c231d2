"""Causes and checks that nothing is learned about are found with file and line."""

import pytest

from assistant.corpus.reader import read_knowledge
from assistant.corpus.telling_lint import information, telling
from assistant.errors import KnowledgeError

MODEL = """\
- id: stops
  title: The belt stops
  source: scenario
  hazards: []
  symptom: ["The belt stops."]
  meaning: ["Something stops it."]
  causes:
    - id: loose
      name: Loose
      weight: 10
      sign: ["It hangs."]
      remedy: ["Fasten it."]
    - id: worn
      name: Worn
      weight: 5
      sign: ["It looks thin."]
      remedy: ["Change it."]
    - id: dirty
      name: Dirty
      weight: 5
      sign: ["It is dusty."]
      remedy: ["Clean it."]
  checks:
    - id: pull
      title: A pull at the belt
      energy: isolated
      minutes: 2
      do: ["Pull at the belt."]
      good: ["It holds."]
      bad: ["It gives."]
      outcomes:
        - {says: [holds], normal: true}
        - {says: [gives], likely: {loose: always}}
    - id: look
      title: A look at the belt
      energy: isolated
      minutes: 1
      do: ["Look at the belt."]
      good: ["It is clean."]
      bad: ["It is dusty."]
      outcomes:
        - {says: [clean], normal: true}
        - {says: [thin], likely: {worn: usually}}
        - {says: [dusty], likely: {dirty: usually}}
  repairs:
    - {id: fasten, title: Fasten it, minutes: 5, energy: isolated, cures: {loose: 0.9}}
    - {id: change, title: Change it, minutes: 9, energy: isolated, cures: {worn: 0.9}}
    - {id: clean, title: Clean it, minutes: 4, energy: isolated, cures: {dirty: 0.9}}
  proof: {minutes: 3, energy: running}
  afterwards: ["See it run."]
  phrasings: [the belt stops, belt stands still, belt quits, belt will not go]
"""


def faults_of(pack, text):
    (pack / "machines/tiny/faults.yaml").write_text(text)
    try:
        read_knowledge(pack)
    except KnowledgeError as error:
        return [str(fault) for fault in error.faults if "faults.yaml" in str(fault)]
    return []


def test_the_sound_model_has_none(pack):
    assert [fault for fault in faults_of(pack, MODEL) if "tell" in fault or "moves" in fault] == []


PLANTED = [
    # nothing speaks for the worn belt any more, and a pull that holds rules the loose one out too little
    (
        ("thin], likely: {worn: usually}", "thin], likely: {loose: never}"),
        ("gives], likely: {loose: always}", "gives], likely: {loose: sometimes}"),
        ":13: [stops] no check moves `worn`",
    ),
    (
        ("thin], likely: {worn: usually}", "thin], likely: {worn: sometimes, dirty: sometimes}"),
        ("dusty], likely: {dirty: usually}", "dusty], likely: {worn: sometimes, dirty: sometimes}"),
        ":18: [stops] no check tells `dirty` from `worn`",
    ),
    (
        ("gives], likely: {loose: always}", "gives], likely: {loose: rarely, worn: rarely, dirty: rarely}"),
        "`pull` tells 0.0000 bit",
    ),
]


@pytest.mark.parametrize("planted", PLANTED, ids=["unmoved", "twins", "silent check"])
def test_each_planted_fault_is_reported_with_file_and_line(pack, planted):
    *edits, expected = planted
    text = MODEL
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    faults = faults_of(pack, text)
    assert any(expected in fault for fault in faults), faults
    assert all(fault.startswith("machines/tiny/faults.yaml:") for fault in faults)


def test_twins_with_one_repair_for_both_are_no_fault(pack):
    text = MODEL
    for old, new in PLANTED[1][0:2]:
        text = text.replace(old, new)
    text = text.replace("cures: {worn: 0.9}", "cures: {worn: 0.9, dirty: 0.9}")
    assert not [fault for fault in faults_of(pack, text) if "no check tells" in fault]


def test_the_likeliest_outcome_over_the_mean_of_the_others():
    weights = {"a": 1.0, "b": 1.0, "c": 3.0}
    table = {"a": (0.8, 0.2), "b": (0.4, 0.6), "c": (0.0, 1.0)}
    # the others of a: (.4 + 3 x 0) / 4 = .1 and .9
    assert telling(weights, table, "a") == pytest.approx(8.0)
    # the others of c: .6 and .4
    assert telling(weights, table, "c") == pytest.approx(2.5)


def test_the_information_of_a_certain_split_is_its_entropy():
    assert information({"a": 1, "b": 1}, {"a": (1.0, 0.0), "b": (0.0, 1.0)}) == pytest.approx(1.0)
    assert information({"a": 1, "b": 3}, {"a": (0.3, 0.7), "b": (0.3, 0.7)}) == pytest.approx(0.0)
