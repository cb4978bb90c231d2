import re
import shutil
import xml.etree.ElementTree as ET

import pytest

from assistant.corpus.drawing import read_drawing
from assistant.corpus.reader import read_knowledge
from assistant.errors import KnowledgeError
from assistant.rendering.plan import svg_plan, text_plan
from tests.conftest import ROOT

DRAWN = ("drumlin", "skerry")


@pytest.fixture
def copy(tmp_path):
    return shutil.copytree(ROOT / "knowledge", tmp_path / "knowledge")


def faults_after(copy, pattern, new):
    path = copy / "machines/drumlin/drawing.yaml"
    text = path.read_text()
    path.write_text(re.sub(pattern, new, text))
    assert path.read_text() != text
    with pytest.raises(KnowledgeError) as caught:
        read_knowledge(copy)
    return caught.value.faults


@pytest.mark.parametrize(
    ("pattern", "new", "said"),
    [
        (r"  FC3: .*\n", "", "FC3 has no place"),
        (r"FC3: \{view: cabinet, at: \[154", "FC3: {view: cabinet, at: [30", "FC3 is told to be the third from the left, drawn as number"),
        (r"(FC3:.*)rail: upper", r"\1rail: middle", "FC3 is told to be on the upper rail"),
        (r"TA1: \{view: cabinet, at: \[40, 400, 220, 150\]", "TA1: {view: cabinet, at: [150, 680, 20, 15]", "TA1 is told to be above XD1"),
        (r"KF2: \{view: cabinet, at: \[130, 270, 270", "KF2: {view: cabinet, at: [560, 270, 30", "KF2 is told to be between KF1 and QA1"),
        (r"QA1: \{view: cabinet, at: \[440, 270, 110", "QA1: {view: cabinet, at: [2, 270, 16", "QA1 is told to be right of KF2"),
        (r"BG4: \{view: machine, at: \[1240, 90", "BG4: {view: machine, at: [1240, 320", "BG4 is told to be over BG3"),
        (r"FC4: \{view: cabinet, at: \[218", "FC4: {view: cabinet, at: [170", "FC3 and FC4 lie on each other"),
        (r"TB1: \{view: cabinet, at: \[480", "TB1: {view: cabinet, at: [580", "TB1 lies outside the view"),
        (r"  PG1:", "  PG9:", "PG9 is no component of this pack"),
        (r"PG1: \{view: cabinet", "PG1: {view: attic", "PG1 names no view"),
        (r"at: \[30, 15, 110, 50\]", "at: [30, 15, 110]", "needs `at: [x, y, width, height]`"),
    ],
)  # fmt: skip
def test_a_drawing_that_disagrees_is_a_fault_with_its_line(copy, pattern, new, said):
    faults = faults_after(copy, pattern, new)
    hits = [f for f in faults if said in f.message]
    assert hits, [str(f) for f in faults]
    assert hits[0].file == "machines/drumlin/drawing.yaml"
    named = said.split(" ")[0]
    lines = (copy / hits[0].file).read_text().splitlines()
    if "no place" not in said and re.match(r"[A-Z]{2}\d", named):
        assert lines[hits[0].line - 1].strip().startswith(named + ":")


def test_a_pack_without_a_drawing_is_sound(copy):
    (copy / "machines/drumlin/drawing.yaml").unlink()
    read_knowledge(copy)
    assert read_drawing(copy, "drumlin") is None


@pytest.mark.parametrize("pack", DRAWN)
def test_the_plan_marks_one_designation_and_shows_the_others_of_its_view_within_80_columns(pack):
    drawing = read_drawing(ROOT / "knowledge", pack)
    for placed in drawing.places:
        plan = text_plan(drawing, placed)
        assert max(map(len, plan.splitlines())) <= 80
        grid = "\n".join(line for line in plan.splitlines() if line.startswith("|"))
        assert re.findall(r">(\w+)<", grid) == [placed.designation]
        assert sorted(re.findall(r"[A-Z]{2}\d+", grid)) == sorted(p.designation for p in drawing.seen(placed.view))


def test_the_plan_keeps_the_order_of_the_fuses():
    drawing = read_drawing(ROOT / "knowledge", "drumlin")
    row = next(line for line in text_plan(drawing, drawing.find("fc3")).splitlines() if ">FC3<" in line)
    assert re.findall(r"FC\d", row) == [f"FC{n}" for n in range(1, 8)]


@pytest.mark.parametrize("pack", DRAWN)
def test_the_picture_is_sound_and_names_the_part_its_neighbours_and_the_live_side(pack):
    drawing = read_drawing(ROOT / "knowledge", pack)
    for placed in drawing.places:
        texts = [
            (t.text, t.get("font-weight"))
            for t in ET.fromstring(svg_plan(drawing, placed)).iter()
            if t.tag.endswith("text")
        ]
        assert [text for text, weight in texts if weight == "bold"] == [placed.designation]
        words = " ".join(text for text, _ in texts)
        assert all(near.designation in words.split("next to it")[1] for near in drawing.neighbours(placed))
        assert placed.view == "machine" or ("QB1" in words and "live" in words)


@pytest.mark.parametrize("pack", DRAWN)
def test_the_words_below_a_picture_are_wrapped_and_stay_inside_it(pack):
    drawing = read_drawing(ROOT / "knowledge", pack)
    for placed in drawing.places:
        root = ET.fromstring(svg_plan(drawing, placed))
        high = float(root.get("viewBox").split()[3])
        below = [t for t in root if t.tag.endswith("text")]
        assert max(len(t.text) for t in below) <= 88
        assert max(float(t.get("y")) for t in below) < high
