"""What authors may get wrong about codes on the panel is found with file and line."""

import pytest

from tests.corpus.test_telling_lint import MODEL, faults_of

CODES = """\
- id: "{0}"
  title: The belt {1}
  source: scenario
  hazards: []
  display: [CODE {0}, BELT {1}]
  meaning: ["The belt is not well."]
  raised_when: ["The belt is not well for long."]
  clears_when: ["The belt is well again."]
  causes:
    - {{name: Loose}}
  first: ["Look at the belt."]
  phrasings: [the belt says {1} now, belt gives up and is {1}, it shows that it is {1}, the {1} number came]
"""
PANEL = """\
  panel:
    - {code: "104", likely: {loose: usually}}
    - {code: "105", likely: {worn: sometimes, dirty: 0.3}, default: rarely}
"""
AT_CHECK = ("says: [dusty], likely: {dirty: usually}}", 'says: [dusty], likely: {dirty: usually}, codes: ["105"]}')
SOUND = MODEL.replace("  proof:", f"{PANEL}  proof:")


def faults(pack, text):
    codes = "".join(CODES.format(code, word) for code, word in (("104", "slack"), ("105", "thin")))
    (pack / "machines/tiny/codes.yaml").write_text(codes)
    return [fault for fault in faults_of(pack, text) if "phrasings" not in fault]


def line_of(text, part):
    return next(number for number, line in enumerate(text.splitlines(), start=1) if part in line)


def test_a_sound_panel_has_none(pack):
    assert faults(pack, SOUND) == []


PLANTED = {
    "unknown code": (('"104", likely', '"304", likely'), '"304"', "no code 304 in tiny"),
    "unknown cause": (("{loose: usually}}\n", "{moon: usually}}\n"), "moon", "no cause `moon`"),
    "unknown word": (("{loose: usually}}\n", "{loose: mostly}}\n"), "mostly", "no likelihood word `mostly`"),
    "number": (("dirty: 0.3", "dirty: 1.3"), "1.3", "the likelihood 1.3"),
    "default": (("default: rarely}\n", "default: seldom}\n"), "seldom", "no likelihood word `seldom`"),
    "sum": (
        ("{worn: sometimes, dirty: 0.3}", "{loose: usually, worn: sometimes}"),
        "  panel:",
        "the codes under `loose` sum to 1.70",
    ),
    "no cause": (("{loose: usually}}\n", "{}}\n"), '"104"', "code 104 speaks for no cause"),
    "moves nothing": (
        ("{loose: usually}}\n", "{loose: rarely}, default: rarely}\n"),
        '"104"',
        "code 104 moves nothing: it tells 0.0000 bit",
    ),
    "twice in the panel": (
        ('"105", likely', '"104", likely'),
        "sometimes, dirty",
        "what code 104 tells stands at `panel` already",
    ),
    "key": (("default: rarely}\n", "defualt: rarely}\n"), "defualt", "unknown key `defualt`"),
}


@pytest.mark.parametrize("planted", PLANTED.values(), ids=PLANTED)
def test_each_planted_fault_is_reported_with_file_and_line(pack, planted):
    (old, new), part, expected = planted
    assert old in SOUND
    text = SOUND.replace(old, new)
    found = faults(pack, text)
    where = f"machines/tiny/faults.yaml:{line_of(text, part)}:"
    assert any(fault.startswith(where) and expected in fault for fault in found), (where, found)


def test_a_code_that_a_check_reads_is_not_told_again_in_the_panel(pack):
    text = SOUND.replace(*AT_CHECK)
    where = f"machines/tiny/faults.yaml:{line_of(text, 'worn: sometimes, dirty')}:"
    (found,) = faults(pack, text)
    assert found.startswith(where) and "what code 105 tells stands at `look` already" in found


def test_a_code_that_two_checks_read_is_reported_and_two_outcomes_of_one_are_not(pack):
    one = SOUND.replace(*AT_CHECK).replace(
        '    - {code: "105", likely: {worn: sometimes, dirty: 0.3}, default: rarely}\n', ""
    )
    assert faults(pack, one) == []
    same = one.replace(
        "says: [thin], likely: {worn: usually}}", 'says: [thin], likely: {worn: usually}, codes: ["105", none]}'
    )
    assert faults(pack, same) == []
    other = one.replace(
        "says: [gives], likely: {loose: always}}", 'says: [gives], likely: {loose: always}, codes: ["105"]}'
    )
    (found,) = faults(pack, other)
    assert (
        "what code 105 tells stands at `pull` already" in found and f"faults.yaml:{line_of(other, '[dusty]')}:" in found
    )


def test_an_unknown_code_of_an_outcome_is_reported(pack):
    text = SOUND.replace(
        "says: [thin], likely: {worn: usually}}", 'says: [thin], likely: {worn: usually}, codes: ["304"]}'
    )
    (found,) = faults(pack, text)
    assert f"faults.yaml:{line_of(text, '304')}:" in found and "no code 304 in tiny" in found
