"""Drawings by other hands, for the tests alone: fetched by package name, kept out of the tree, never delivered."""

from __future__ import annotations

import random
import shutil
import subprocess
import tarfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

CACHE = Path(__file__).resolve().parent.parent / ".cache" / "collections"
FETCH_SECONDS = 150
NOT_WANTED = ("brand", "logo", "ibm", "watson")
"""Marks of firms are left alone: no file with one of these words in its name is ever sampled."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where a collection lies: the package with its version, and the folders in it that hold finished drawings."""

    package: str
    folders: tuple[str, ...]


SOURCES = {
    "flags": Source(package="flag-icons@7.5.0", folders=("flags/4x3",)),
    "strokes": Source(package="lucide-static@1.62.0", folders=("icons",)),
    "lines": Source(package="@tabler/icons@3.51.0", folders=("icons/outline", "icons/filled")),
    "emoji": Source(package="@twemoji/svg@15.0.0", folders=(".",)),
    "weather": Source(package="@bybas/weather-icons@2.0.0", folders=("production/fill/all", "production/line/all")),
    "health": Source(package="healthicons@2.0.0", folders=("public/icons/svg/filled", "public/icons/svg/outline")),
    "pictograms": Source(package="@carbon/pictograms@12.82.0", folders=("svg",)),
}


class CollectionMissingError(Exception):
    """A collection that could not be fetched; the message is the reason to skip."""


def collection(name: str, limit: int | None = None, seed: int = 0) -> list[Path]:
    """Return drawings of one collection, a seeded sample of at most `limit`, in a stable order.

    Raises:
        CollectionMissingError: npm is missing or the package cannot be fetched.
    """
    source = SOURCES[name]
    root = _fetched(source.package)
    found = sorted(path for folder in source.folders for path in (root / folder).rglob("*.svg") if _wanted(path))
    if not found:
        raise CollectionMissingError(f"{source.package} holds no drawing in {', '.join(source.folders)}")
    if limit is None or limit >= len(found):
        return found
    return sorted(random.Random(f"{name} {seed}").sample(found, limit))


def collection_or_skip(name: str, limit: int | None = None, seed: int = 0) -> list[Path]:
    """Return `collection`, or skip the test that asks for it and say why."""
    try:
        return collection(name, limit, seed)
    except CollectionMissingError as reason:
        pytest.skip(str(reason))


def mixture(count: int, seed: int = 0, names: Sequence[str] = tuple(SOURCES)) -> list[Path]:
    """Return `count` drawings, the same number from every collection named as nearly as it goes, in turn.

    Raises:
        CollectionMissingError: see `collection`.
    """
    share = -(-count // len(names))
    decks = [collection(name, share, seed) for name in names]
    turns = [deck[turn] for turn in range(share) for deck in decks if turn < len(deck)]
    return turns[:count]


def _wanted(path: Path) -> bool:
    return not any(word in path.stem.lower() for word in NOT_WANTED)


def _fetched(package: str) -> Path:
    folder = CACHE / package.replace("@", "_").replace("/", "_")
    if not folder.exists():
        _fetch(package, folder)
    return folder / "package"


def _fetch(package: str, folder: Path) -> None:
    """Download and unpack beside the final place, then move there: a fetch that was cut short leaves nothing."""
    npm = shutil.which("npm")
    if npm is None:
        raise CollectionMissingError(f"npm is not installed, so {package} cannot be fetched")
    half = folder.with_name(folder.name + ".part")
    shutil.rmtree(half, ignore_errors=True)
    half.mkdir(parents=True)
    call = [npm, "pack", package, "--ignore-scripts", "--silent", "--pack-destination", str(half)]
    try:
        subprocess.run(call, check=True, capture_output=True, timeout=FETCH_SECONDS, cwd=half)
        with tarfile.open(next(half.glob("*.tgz"))) as archive:
            archive.extractall(half, filter="data")
    except (subprocess.SubprocessError, OSError, StopIteration, tarfile.TarError) as trouble:
        raise CollectionMissingError(f"{package} could not be fetched: {trouble}") from trouble
    half.replace(folder)
