"""A folder of authored files -> one sha256 over their names and bytes."""

from __future__ import annotations

import hashlib
from pathlib import Path


def knowledge_files(root: Path) -> tuple[Path, ...]:
    """Every YAML file below the folder, in a fixed order."""
    return tuple(sorted(root.rglob("*.yaml"), key=lambda p: p.relative_to(root).as_posix()))


def knowledge_digest(root: Path) -> str:
    """sha256 in hex over (relative name, bytes) of every file."""
    digest = hashlib.sha256()
    for path in knowledge_files(root):
        digest.update(path.relative_to(root).as_posix().encode())
        digest.update(b"\0")
        digest.update(path.read_bytes())
        digest.update(b"\0")
    return digest.hexdigest()
