import hashlib
import zipfile
from dataclasses import replace

import pytest

from assistant.errors import ModelError
from assistant.weights import fetch as fetching
from assistant.weights.catalogue import Model, Route, read_catalogue
from assistant.weights.fetch import fetch
from assistant.weights.shelf import Shelf, digest_of

FILES = {"am/final.mdl": b"acoustics", "conf/model.conf": b"--x=1", "graph/words.txt": b"one two"}
MODEL = Model(
    role="ears", name="Ears", what="hears", version="1", licence="MIT", size=3, sha256="", needed=False, file="ears-1",
    routes=(Route(site="https://example.invalid/ears-1.zip", member="ears-1"),), folder=True,
)  # fmt: skip


def write(folder, files=FILES):
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    return folder


@pytest.fixture
def site(tmp_path, monkeypatch):
    """Stands in for the maker's site: what it gives is the archive of this list."""
    given = {"files": FILES}

    def answer(url, timeout):
        path = tmp_path / "given.zip"
        with zipfile.ZipFile(path, "w") as archive:
            for name, content in given["files"].items():
                archive.writestr(f"ears-1/{name}", content)
        return path.open("rb")

    monkeypatch.setattr(fetching.urllib.request, "urlopen", answer)
    return given


def test_the_digest_of_a_folder_is_that_of_the_lines_of_sha256sum(tmp_path):
    lines = "".join(f"{hashlib.sha256(c).hexdigest()}  {n}\n" for n, c in sorted(FILES.items()))
    assert digest_of(write(tmp_path / "a")) == hashlib.sha256(lines.encode()).hexdigest()


@pytest.mark.parametrize("change", ["content", "name", "added", "removed"])
def test_any_change_of_a_folder_changes_its_digest(tmp_path, change):
    folder = write(tmp_path / "a")
    before = digest_of(folder)
    if change == "content":
        (folder / "am/final.mdl").write_bytes(b"acoustic")
    elif change == "name":
        (folder / "am/final.mdl").rename(folder / "am/first.mdl")
    elif change == "added":
        (folder / "am/more").write_bytes(b"")
    else:
        (folder / "am/final.mdl").unlink()
    assert digest_of(folder) != before


def test_hidden_files_and_caches_are_no_part_of_a_model(tmp_path):
    folder = write(tmp_path / "a")
    before = digest_of(folder)
    write(folder, {".lock": b"x", "__pycache__/a.pyc": b"x"})
    assert digest_of(folder) == before


def test_a_model_without_a_published_digest_is_pinned_when_it_first_comes(tmp_path, site):
    shelf, said = Shelf((MODEL,), tmp_path / "data", {}), []
    found = fetch(shelf, "ears", said.append)
    assert (found.path / "am/final.mdl").read_bytes() == b"acoustics"
    assert any("pinned" in line for line in said)
    assert shelf.expected(MODEL) == digest_of(write(tmp_path / "same"))
    assert shelf.path("ears") == found.path


def test_what_comes_later_must_be_what_was_pinned(tmp_path, site):
    shelf = Shelf((MODEL,), tmp_path / "data", {})
    fetch(shelf, "ears", lambda text: None)
    (tmp_path / "data/ears-1/am/final.mdl").write_bytes(b"changed")
    site["files"] = {**FILES, "am/final.mdl": b"another"}
    with pytest.raises(ModelError, match="thrown away"):
        fetch(shelf, "ears", lambda text: None)
    site["files"] = FILES
    assert digest_of(fetch(shelf, "ears", lambda text: None).path) == shelf.expected(MODEL)


def test_a_pinned_folder_that_changed_is_corrupt(tmp_path, site):
    shelf = Shelf((MODEL,), tmp_path / "data", {})
    found = fetch(shelf, "ears", lambda text: None)
    assert shelf.path("ears") == found.path
    (found.path / "graph/words.txt").write_bytes(b"one two three")
    with pytest.raises(ModelError, match="corrupt"):
        shelf.path("ears")


def test_an_archive_without_the_folder_is_refused(tmp_path, site):
    other = replace(MODEL, routes=(Route(site="https://example.invalid/x.zip", member="nose-1"),))
    with pytest.raises(ModelError, match="nose-1"):
        fetch(Shelf((other,), tmp_path / "data", {}), "ears", lambda text: None)


def test_no_network_is_one_clear_line(tmp_path, monkeypatch):
    def refuse(url, timeout):
        raise OSError("no route")

    monkeypatch.setattr(fetching.urllib.request, "urlopen", refuse)
    with pytest.raises(ModelError) as caught:
        fetch(Shelf((MODEL,), tmp_path / "data", {}), "ears", lambda text: None)
    assert "cannot be reached" in caught.value.message and "models.ears" in caught.value.hint


def test_a_folder_of_ones_own_is_taken_as_it_is(tmp_path):
    own = write(tmp_path / "own")
    shelf = Shelf((MODEL,), tmp_path / "data", {"ears": own})
    found = shelf.find("ears")
    assert found is not None and found.own and shelf.path("ears") == own


def test_an_empty_folder_is_no_model(tmp_path):
    (tmp_path / "own").mkdir()
    assert Shelf((MODEL,), tmp_path / "data", {"ears": tmp_path / "own"}).find("ears") is None


def test_every_model_of_the_catalogue_has_a_digest_or_is_pinned_from_its_makers_site():
    for model in read_catalogue():
        assert len(model.sha256) == 64 or (not model.sha256 and all(route.site for route in model.routes))
