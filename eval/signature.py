"""What a result depends on -> a signature: two results may be compared only where the differing parts are known."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, fields
from pathlib import Path

from assistant.assembly import shelf_of
from assistant.corpus.digest import knowledge_digest
from assistant.settings import Settings

ROOT = Path(__file__).resolve().parent
OBSERVING = ("cases.py", "observation.py", "runs.py", "sentences.py")
"""The bench's own modules that a run depends on; measures, tables and pages are taken from the run and may change."""
SHORT = 12
"""Characters of a digest that are shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """Digests (sha256, shortened) of knowledge, cases and code, the models as role=sha256, the settings and the seed."""

    knowledge: str
    cases: str
    code: str
    models: str
    settings: str
    seed: int

    @property
    def key(self) -> str:
        """One digest of all of it, for file names."""
        text = "|".join(f"{f.name}={getattr(self, f.name)}" for f in fields(self))
        return hashlib.sha256(text.encode()).hexdigest()[:SHORT]

    def __str__(self) -> str:
        """One line, printed with every table."""
        return " ".join(f"{f.name}={getattr(self, f.name)}" for f in fields(self))


def differences(one: Signature, other: Signature) -> tuple[str, ...]:
    """A line a part that differs."""
    return tuple(
        f"{f.name}: {getattr(one, f.name)} against {getattr(other, f.name)}"
        for f in fields(one)
        if getattr(one, f.name) != getattr(other, f.name)
    )


def digest_of(paths: Iterable[Path]) -> str:
    """Digest of files' names and bytes, in the order of their paths."""
    total = hashlib.sha256()
    for path in sorted(paths):
        total.update(f"{path.name}\0".encode())
        total.update(hashlib.sha256(path.read_bytes()).digest())
    return total.hexdigest()[:SHORT]


def sign(settings: Settings, folders: Iterable[Path], *, model: bool = False, seed: int = 0) -> Signature:
    """The signature of a run over the cases of these folders, without loading an engine; `model`: the language model is used."""
    shelf = shelf_of(settings)
    models = []
    for role in ("encoder", "tokenizer", *(["language-model"] if model else [])):
        found = shelf.find(role)
        if found is not None:
            own = digest_of([found.path]) if found.own else shelf.model(role).sha256[:SHORT]
            models.append(f"{role}:{own}")
    code = [p for pattern in ("**/*.py", "**/*.json", "**/*.yaml") for p in (ROOT.parent / "assistant").glob(pattern)]
    code += [ROOT / name for name in OBSERVING]
    cases = [path for folder in (*folders, ROOT / "sentences") for path in folder.glob("*.yaml")]
    return Signature(
        knowledge=knowledge_digest(settings.knowledge)[:SHORT],
        cases=digest_of(cases),
        code=digest_of(code),
        models=",".join(models),
        settings=f"composer:{settings.composer},machine:{settings.machine or '-'}",
        seed=seed,
    )
