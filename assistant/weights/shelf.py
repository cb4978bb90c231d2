"""Role -> path of a verified file: a path of the user's own, the data folder, or an installed package."""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from assistant.errors import ModelError, ModelMissing, UnknownName
from assistant.weights.catalogue import Model

STAMPS = "verified.json"
PINS = "pinned.json"
"""sha256 of models whose maker publishes none, as they first came: role -> hex."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A model file that is here: `own` when the user named the path (its sha256 is then not the catalogue's to say)."""

    model: Model
    path: Path
    origin: str
    own: bool = False


class Shelf:
    """The model files of this machine."""

    def __init__(self, models: tuple[Model, ...], folder: Path, own_paths: Mapping[str, Path]) -> None:
        """`folder` holds fetched files; `own_paths` are role -> path from the settings."""
        self.models = models
        self._folder = folder
        self._own = dict(own_paths)

    def model(self, role: str) -> Model:
        """The catalogue's entry.

        Raises:
            UnknownName: no such role.

        """
        for model in self.models:
            if model.role == role:
                return model
        raise UnknownName(f"There is no model role `{role}`.", f"Roles: {', '.join(m.role for m in self.models)}.")

    def find(self, role: str) -> Found | None:
        """Where the file of a role lies, unverified; None when it is not here."""
        model = self.model(role)
        if role in self._own:
            path = self._own[role]
            return Found(model=model, path=path, origin="settings", own=True) if _is_there(model, path) else None
        fetched = self.target(model)
        if _is_there(model, fetched):
            return Found(model=model, path=fetched, origin="fetched")
        for route in model.routes:
            packaged = _installed_member(route.package, route.member) if route.package else None
            if packaged is not None and _is_there(model, packaged):
                return Found(model=model, path=packaged, origin=f"package {route.package}")
        return None

    def target(self, model: Model) -> Path:
        """Where a fetched file lies."""
        return self._folder / model.file

    def path(self, role: str) -> Path:
        """The verified file of a role; it is hashed before its first load and again whenever it has changed.

        Raises:
            ModelMissing: it is not here.
            ModelError: its bytes are not those that the catalogue names.

        """
        found = self.find(role)
        if found is None:
            named = f" at {self._own[role]}" if role in self._own else ""
            raise ModelMissing(f"The {role} is not installed{named}.", f"Run `handlamp models fetch {role}`.")
        if not found.own and not self._stamped(found):
            self.verify(found)
            self._stamp(found)
        return found.path

    def verify(self, found: Found) -> str:
        """The sha256 of the file or folder.

        Raises:
            ModelError: it differs from the catalogue's, or from the one pinned when it first came.

        """
        actual = digest_of(found.path)
        expected = self.expected(found.model)
        if not found.own and expected and actual != expected:
            raise ModelError(
                f"The {found.model.role} file {found.path.name} is corrupt: sha256 {actual[:12]}…, expected"
                f" {expected[:12]}….",
                f"Remove {found.path} and run `handlamp models fetch {found.model.role}`.",
            )
        return actual

    def expected(self, model: Model) -> str:
        """The sha256 that a model must have: the catalogue's, else the pinned one, else "" for any."""
        return model.sha256 or str(self._read(PINS).get(model.role, ""))

    def pin(self, model: Model, sha256: str) -> None:
        """Keep the sha256 of a model whose maker publishes none.

        Raises:
            ModelError: the data folder cannot be written.

        """
        pins = {**self._read(PINS), model.role: sha256}
        try:
            self._write(PINS, pins)
        except OSError as error:
            raise ModelError(f"the sha256 cannot be kept in {self._folder}: {error.strerror}.") from error

    def _read(self, name: str) -> dict[str, Any]:
        try:
            data = json.loads((self._folder / name).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return data if isinstance(data, dict) else {}

    def _write(self, name: str, data: Mapping[str, Any]) -> None:
        self._folder.mkdir(parents=True, exist_ok=True)
        (self._folder / name).write_text(json.dumps(data, indent=1, sort_keys=True), encoding="utf-8")

    def _stamped(self, found: Found) -> bool:
        return self._read(STAMPS).get(f"{found.model.sha256}:{found.path}") == _stamp_of(found.path)

    def _stamp(self, found: Found) -> None:
        stamps = {**self._read(STAMPS), f"{found.model.sha256}:{found.path}": _stamp_of(found.path)}
        try:
            self._write(STAMPS, stamps)
        except OSError:
            return  # a read-only data folder costs a hash at each start, nothing else


def files_of(path: Path) -> tuple[Path, ...]:
    """The file itself, or every file of a folder, sorted; hidden ones and compiled Python are not part of a model."""
    if path.is_file():
        return (path,)
    inside = (p for p in path.rglob("*") if p.is_file())
    return tuple(
        sorted(
            p for p in inside if not any(part[0] in "._" for part in p.relative_to(path).parts) and p.suffix != ".pyc"
        )
    )


def digest_of(path: Path) -> str:
    """The sha256 of a file; of a folder, that of the lines `sha256  relative/path` of its files, as sha256sum prints them.

    Raises:
        ModelError: something cannot be read.

    """
    if path.is_file():
        return sha256_of(path)
    lines = "".join(f"{sha256_of(p)}  {p.relative_to(path).as_posix()}\n" for p in files_of(path))
    return hashlib.sha256(lines.encode()).hexdigest()


def _is_there(model: Model, path: Path) -> bool:
    return path.is_dir() and bool(files_of(path)) if model.folder else path.is_file()


def _stamp_of(path: Path) -> list[int]:
    """What changes when a file does: sizes, times and inodes."""
    return [number for p in files_of(path) for s in [p.stat()] for number in (s.st_size, s.st_mtime_ns, s.st_ino)]


def sha256_of(path: Path) -> str:
    """The file's sha256 in hex.

    Raises:
        ModelError: it cannot be read.

    """
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise ModelError(f"The model file {path} cannot be read: {error.strerror}.", "Check its rights.") from error


def _installed_member(package: str, member: str) -> Path | None:
    try:
        located = importlib.metadata.distribution(package).locate_file(member)
    except importlib.metadata.PackageNotFoundError:
        return None
    path = Path(str(located))
    return path if path.exists() else None
