import os
import socket
from pathlib import Path

import pytest
from hypothesis import settings as hypothesis_settings

from assistant.assembly import Options, make_assistant, make_encoder, shelf_of
from assistant.corpus.reader import read_knowledge
from assistant.rules.verdict import Rules
from assistant.settings import Settings, load_settings

ROOT = Path(__file__).resolve().parents[1]
# the same examples in every run, so that a red run is the work's own; EXPLORE=1 looks for new ones
hypothesis_settings.register_profile("same", derandomize=True)
if not os.environ.get("EXPLORE"):
    hypothesis_settings.load_profile("same")


@pytest.fixture(autouse=True)
def no_network(monkeypatch):
    """Invariant 7: any socket opened by a test is a failure."""

    def refuse(*_args, **_kwargs):
        raise AssertionError("a socket was opened at run time")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "create_connection", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)


@pytest.fixture(scope="session")
def knowledge():
    return read_knowledge(ROOT / "knowledge")


@pytest.fixture(scope="session")
def rules(knowledge):
    return Rules(knowledge)


@pytest.fixture(scope="session")
def settings() -> Settings:
    return load_settings({})


@pytest.fixture(scope="session")
def encoder(settings):
    return make_encoder(shelf_of(settings))


@pytest.fixture(scope="session")
def assistant(settings):
    return make_assistant(settings, Options(model=False), lambda text: None)


@pytest.fixture(scope="session")
def full_assistant(settings):
    return make_assistant(settings, Options(), lambda text: None)


@pytest.fixture
def pack(tmp_path):
    """A tiny sound pack to break in one place at a time."""
    return make_pack(tmp_path / "knowledge")


def make_pack(root: Path) -> Path:
    (root / "safety").mkdir(parents=True)
    (root / "safety" / "energy.yaml").write_text((ROOT / "knowledge/safety/energy.yaml").read_text())
    machine = root / "machines" / "tiny"
    machine.mkdir(parents=True)
    (machine / "machine.yaml").write_text(
        "name: Tiny\naliases: [tiny]\nwhat: [It is small.]\nwords: [tiny]\nsubsystems: {'1': supply}\n"
        "values: {gap: {min: 2, max: 3, unit: mm}}\n"
    )
    (machine / "facts.yaml").write_text(FACT)
    return root


FACT = """\
- id: gap
  title: The gap of the sensor
  phrasings: [how near must it be, what gap, sensor too far away, distance to the flag]
  hazards: []
  source: scenario
  answer: ["The gap is {gap}."]
  details: ["A wider gap loses the flag."]
"""
