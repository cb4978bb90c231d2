import shutil

import pytest

from assistant.corpus.reader import read_knowledge
from assistant.corpus.skeleton import FILES, new_pack
from assistant.errors import AssistantError
from tests.conftest import ROOT
from tests.test_cli import run


@pytest.fixture
def copy(tmp_path):
    return shutil.copytree(ROOT / "knowledge", tmp_path / "knowledge")


@pytest.mark.parametrize("name", ["brindle", "brindle-two"])
def test_a_new_pack_passes_the_lint_with_an_entry_of_each_file(copy, name):
    folder = new_pack(copy, name)
    own = [e for e in read_knowledge(copy).entries() if e.pack == name]
    assert {p.name for p in folder.iterdir()} == set(FILES)
    assert {str(e.kind) for e in own} >= {
        "component",
        "signal",
        "code",
        "fault",
        "fact",
        "procedure",
        "maintenance",
        "part",
    }


@pytest.mark.engine
def test_a_question_is_answered_from_the_new_pack(copy, tmp_path):
    settings = tmp_path / "s.toml"
    settings.write_text(f'knowledge = "{copy}"\n')
    own = {"HANDLAMP_SETTINGS": str(settings), "HANDLAMP_CACHE_DIR": str(tmp_path / "cache")}
    made = run("new-pack", "brindle", **own)
    assert made.returncode == 0 and b"1. machine.yaml" in made.stdout
    assert b"no faults" in run("check", **own).stdout
    asked = run("ask", "--no-model", "-m", "brindle", "what gap has the brindle sensor", **own)
    assert b"The gap is 2 mm to 3 mm." in asked.stdout
    assert b"Source: brindle/fact/brindle-gap" in asked.stdout
    again = run("new-pack", "brindle", **own)
    assert again.returncode == 1 and b"exists already" in again.stderr


@pytest.mark.parametrize("name", ["", "Big", "../up", "a", "9nine", "brindle-2", "two words", "x" * 40])
def test_a_bad_name_is_refused_and_nothing_written(tmp_path, name):
    with pytest.raises(AssistantError, match="no name for a pack"):
        new_pack(tmp_path, name)
    assert not list(tmp_path.iterdir())


def test_a_folder_that_exists_is_left_alone(copy):
    before = (copy / "machines/drumlin/machine.yaml").read_text()
    with pytest.raises(AssistantError, match="exists already"):
        new_pack(copy, "drumlin")
    assert (copy / "machines/drumlin/machine.yaml").read_text() == before


def test_a_place_that_cannot_be_written_is_said(tmp_path):
    (tmp_path / "machines").write_text("a file, no folder")
    with pytest.raises(AssistantError, match="cannot be written"):
        new_pack(tmp_path, "brindle")
