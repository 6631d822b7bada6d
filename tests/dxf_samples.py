"""DXF drawings by many programs, for the tests alone: from source packages, kept out of the tree, never delivered."""

from __future__ import annotations

import subprocess
import sys
import tarfile
from pathlib import Path

import pytest

from tests.collections import CACHE, CollectionMissingError

SDISTS = {"ezdxf": "ezdxf==1.4.5", "shapely": "ezdxf-shapely==1.0"}
"""Source packages whose tests bring drawings along."""

FETCH_SECONDS = 150


def sdist(name: str) -> Path:
    """Return the folder of an unpacked source package.

    Raises:
        CollectionMissingError: it cannot be fetched.
    """
    folder = CACHE.parent / "sdists" / name
    if not folder.exists():
        half = folder.with_name(f"{name}.part")
        half.mkdir(parents=True, exist_ok=True)
        call = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--no-binary", ":all:", "-d", str(half)]
        try:
            subprocess.run([*call, SDISTS[name]], check=True, capture_output=True, timeout=FETCH_SECONDS)
            with tarfile.open(next(half.glob("*.tar.gz"))) as packed:
                packed.extractall(half, filter="data")
        except (subprocess.SubprocessError, OSError, StopIteration, tarfile.TarError) as trouble:
            raise CollectionMissingError(f"{SDISTS[name]} could not be fetched: {trouble}") from trouble
        half.replace(folder)
    return folder


def drawings_or_skip(name: str) -> list[Path]:
    """Return the DXF files of a source package, or skip the test that asks for them and say why."""
    try:
        return sorted(path for path in sdist(name).rglob("*") if path.suffix.lower() == ".dxf")
    except CollectionMissingError as missing:
        pytest.skip(str(missing))
