"""Role -> path of a verified file: a path of the user's own, the data folder, or an installed package."""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from assistant.errors import ModelError, ModelMissing, UnknownName
from assistant.weights.catalogue import Model

STAMPS = "verified.json"


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
            return Found(model=model, path=path, origin="settings", own=True) if path.is_file() else None
        fetched = self.target(model)
        if fetched.is_file():
            return Found(model=model, path=fetched, origin="fetched")
        for route in model.routes:
            packaged = _installed_member(route.package, route.member) if route.package else None
            if packaged is not None:
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
        """The sha256 of the file.

        Raises:
            ModelError: it differs from the catalogue's.

        """
        actual = sha256_of(found.path)
        if not found.own and actual != found.model.sha256:
            raise ModelError(
                f"The {found.model.role} file {found.path.name} is corrupt: sha256 {actual[:12]}…, expected"
                f" {found.model.sha256[:12]}….",
                f"Remove {found.path} and run `handlamp models fetch {found.model.role}`.",
            )
        return actual

    def _stamps(self) -> dict[str, list[int]]:
        try:
            data = json.loads((self._folder / STAMPS).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return {}
        return data if isinstance(data, dict) else {}

    def _stamped(self, found: Found) -> bool:
        status = found.path.stat()
        stamp = [status.st_size, status.st_mtime_ns, status.st_ino]
        return self._stamps().get(f"{found.model.sha256}:{found.path}") == stamp

    def _stamp(self, found: Found) -> None:
        status = found.path.stat()
        stamps = self._stamps()
        stamps[f"{found.model.sha256}:{found.path}"] = [status.st_size, status.st_mtime_ns, status.st_ino]
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            (self._folder / STAMPS).write_text(json.dumps(stamps, indent=1, sort_keys=True), encoding="utf-8")
        except OSError:
            return  # a read-only data folder costs a hash at each start, nothing else


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
    return path if path.is_file() else None
