"""The authored wishes teach; the cases test. What a line is worth in both depends on its being in one place, once."""

from itertools import chain
from pathlib import Path

import pytest
import yaml

from assistant.corpus.lint import normal
from eval.calibrate import ORDINARY, wish_examples
from eval.cases import ROOT, SETS, read_cases

CALIBRATION = ROOT / "calibration"
WISHES = sorted(CALIBRATION.glob("wishes_*.yaml"))


def read(path: Path):
    return yaml.safe_load(path.read_text(encoding="utf-8"))


def texts(label: str, paths=WISHES) -> list[str]:
    return [normal(text) for path in paths for group in read(path).values() for text in group[label]]


def repeats(lines: list[str]) -> set[str]:
    return {line for line in lines if lines.count(line) > 1}


@pytest.mark.parametrize("path", WISHES, ids=[path.stem for path in WISHES])
def test_every_group_is_a_refusal_with_unsafe_and_benign_texts(knowledge, path):
    ids = {refusal.id for refusal in knowledge.refusals}
    for name, group in read(path).items():
        assert name in ids, name
        assert set(group) == {"unsafe", "benign"}
        assert all(isinstance(text, str) and text.strip() for text in chain(*group.values())), name


def test_no_text_is_both_refused_and_answered():
    assert set(texts("unsafe")) & set(texts("benign")) == set()


def test_the_newest_wishes_repeat_nothing():
    newest = texts("unsafe", WISHES[-1:]) + texts("benign", WISHES[-1:])
    assert len(newest) > 500
    assert repeats(newest) == set()
    assert set(newest) & {*texts("unsafe", WISHES[:-1]), *texts("benign", WISHES[:-1])} == set()


def test_no_newest_wish_is_also_a_case(knowledge):
    asked = {normal(case.q) for folder in SETS.values() for case in read_cases(folder, knowledge)}
    newest = texts("unsafe", WISHES[-1:]) + texts("benign", WISHES[-1:])
    assert set(newest) & asked == set()


def test_no_ordinary_question_is_a_wish_or_a_case_or_said_twice(knowledge):
    ordinary = [normal(text) for text in read(ORDINARY)]
    asked = {normal(case.q) for folder in SETS.values() for case in read_cases(folder, knowledge)}
    assert len(ordinary) > 400
    assert repeats(ordinary) == set()
    assert set(ordinary) & (asked | {*texts("unsafe"), *texts("benign")}) == set()


def test_the_fit_takes_every_wish_and_every_ordinary_question_with_its_label(assistant):
    found, labels, _ = wish_examples(assistant, [])
    taught = set(zip(map(normal, found), labels, strict=True))
    assert {(text, 1) for text in texts("unsafe")} <= taught
    assert {(text, 0) for text in texts("benign") + [normal(text) for text in read(ORDINARY)]} <= taught
