"""Settings file and environment -> one frozen value; unknown keys are errors with the nearest valid key."""

from __future__ import annotations

import difflib
import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any

import platformdirs

from assistant.errors import SettingsError

COMPOSERS = ("blend", "likelihood", "encoder", "grammar", "passage")
DEFAULT_KNOWLEDGE = Path(__file__).resolve().parents[1] / "knowledge"


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything that can be set.

    `knowledge`: folder of authored files. `machine`: pack in scope from the start, or None. `composer`: how authored
    sentences are chosen; the author's own order measured best beside the small model (`python -m eval compose`).
    `deadline_ms`: the longest that the language model may take before another composer's draft is shown instead.
    `models`: role -> a file of your own.
    """

    knowledge: Path = DEFAULT_KNOWLEDGE
    machine: str | None = None
    composer: str = "passage"
    deadline_ms: int = 4000
    data_dir: Path = field(default_factory=lambda: Path(platformdirs.user_data_dir("handlamp", appauthor=False)))
    cache_dir: Path = field(default_factory=lambda: Path(platformdirs.user_cache_dir("handlamp", appauthor=False)))
    models: Mapping[str, Path] = field(default_factory=dict)


def settings_path() -> Path:
    """Where the settings file lies unless HANDLAMP_SETTINGS names another."""
    return Path(platformdirs.user_config_dir("handlamp", appauthor=False)) / "settings.toml"


def load_settings(environment: Mapping[str, str] = os.environ) -> Settings:
    """Defaults, then the settings file, then HANDLAMP_KNOWLEDGE, _MACHINE, _COMPOSER, _DATA_DIR, _CACHE_DIR.

    Raises:
        SettingsError: the file cannot be read, or holds a key or value that does not exist.

    """
    named = environment.get("HANDLAMP_SETTINGS")
    path = Path(named) if named else settings_path()
    given: dict[str, Any] = {}
    if named or path.is_file():
        try:
            given = tomllib.loads(path.read_text(encoding="utf-8"))
        except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
            raise SettingsError(f"The settings file {path} cannot be read: {error}", "Mend or remove it.") from error
    known = [f.name for f in fields(Settings)]
    for key in given:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            hint = f"Did you mean `{near[0]}`?" if near else f"Keys: {', '.join(known)}."
            raise SettingsError(f"{path}: unknown setting `{key}`.", hint)
    for key in ("knowledge", "machine", "composer", "data_dir", "cache_dir"):
        if value := environment.get(f"HANDLAMP_{key.upper()}"):
            given[key] = value
    return _typed(given, path)


def _typed(given: Mapping[str, Any], path: Path) -> Settings:
    settings = Settings()
    try:
        for key, value in given.items():
            if key in ("knowledge", "data_dir", "cache_dir"):
                value = Path(value).expanduser()
            elif key == "models":
                value = {str(role): Path(place).expanduser() for role, place in value.items()}
            elif key == "deadline_ms":
                value = int(value)
            settings = replace(settings, **{key: value})
    except (TypeError, ValueError, AttributeError) as error:
        raise SettingsError(f"{path}: a setting has the wrong type: {error}", "See README.md for each key.") from error
    if settings.composer not in COMPOSERS:
        raise SettingsError(f"{path}: there is no composer `{settings.composer}`.", f"One of: {', '.join(COMPOSERS)}.")
    return settings
