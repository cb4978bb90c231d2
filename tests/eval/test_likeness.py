import numpy as np
import pytest

from assistant.domain.search import Passage
from eval.wording.likeness import alike_table, likeness_table, may_meet, too_alike
from tests.eval.observed import observed


def passages(*entries):
    return [Passage(entry=entry, section="asked", text=f"text {i}") for i, entry in enumerate(entries)]


def unit(*angles):
    return np.array([[np.cos(a), np.sin(a)] for a in np.radians(angles)], dtype=np.float32)


def test_near_phrasings_of_two_entries_are_found_nearest_first():
    texts = passages("a/fact/x", "a/fact/y", "trade/fact/z", "a/fact/far")
    found = too_alike(texts, unit(0, 10, 40, 170))
    assert [(a.one, a.other) for a in found] == [
        ("a/fact/x", "a/fact/y"),
        ("a/fact/y", "trade/fact/z"),
        ("a/fact/x", "trade/fact/z"),
    ]
    assert found[0].cosine == pytest.approx(np.cos(np.radians(10)), abs=1e-4)
    assert alike_table(found).rows[0][2:] == ("a/fact/x | a/fact/y", "text 0 | text 1")


def test_two_pairs_of_the_same_entries_are_one_finding_with_the_nearest_texts():
    (found,) = too_alike(passages("a/fact/x", "a/fact/y", "a/fact/y"), unit(0, 20, 5))
    assert (found.pairs, found.text, found.other_text) == (2, "text 0", "text 2")


def test_twins_on_two_machines_and_phrasings_of_one_entry_are_meant_to_be_alike():
    assert too_alike(passages("a/fact/x", "b/fact/x"), unit(0, 0)) == ()
    assert too_alike(passages("a/fact/x", "a/fact/x"), unit(0, 0)) == ()
    assert may_meet("a/fact/x", "trade/fact/x") and not may_meet("a/fact/x", "b/fact/x")


def test_confusion_is_counted_by_likeness():
    seen = [observed(["a/fact/y", "a/fact/x"], {"a/fact/x": 2}), observed(["a/fact/x"], {"a/fact/x": 2})]
    table = likeness_table(passages("a/fact/x", "a/fact/y"), unit(0, 10), seen)
    assert table.rows[-1] == ("0.85", "1", "2", "1", "500.0")  # once in the two questions for x
    assert all(row[3] == "0" for row in table.rows[:-1])
