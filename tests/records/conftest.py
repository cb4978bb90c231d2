import pytest

from assistant.records.ledger import FILE, open_ledger


@pytest.fixture
def path(tmp_path):
    return tmp_path / "data" / FILE


@pytest.fixture
def ledger(path):
    """An empty record in which every process is said to live."""
    with open_ledger(path, alive=lambda pid: True) as opened:
        yield opened
