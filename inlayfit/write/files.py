"""A folder of files that appears whole or not at all.

Everything is written beside the target and read back there. Files of earlier runs under other names are kept: they are
linked into the new folder. Then the old folder is renamed away and the new one into its place; between the two renames
the old folder stands whole under `.NAME.before`, and the next run puts it back.
"""

from __future__ import annotations

import errno
import os
import shutil
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path, PurePosixPath

from inlayfit.errors import WriteError

ELSEWHERE = "name another folder, one that you may write to"


def write_file(path: Path, content: bytes) -> None:
    """Write one file, whole or not at all; a file that is there is replaced.

    Raises:
        WriteError: nothing was written and nothing replaced; the message says why.
    """
    fresh = path.with_name(f".{path.name}.new")
    try:
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, "a folder stands in that place")
        fresh.write_bytes(content)
        fresh.replace(path)
    except (OSError, ValueError) as error:  # a name with a nought in it is a ValueError
        with suppress(OSError, ValueError):
            fresh.unlink()
        reason = getattr(error, "strerror", None) or str(error)
        raise WriteError(f"it could not be written: {reason}", where=str(path), remedy="name another file") from error


def write_folder(out: Path, files: Mapping[str, bytes], verify: Callable[[Path], None]) -> None:
    """Write `files` (names may hold folders, as a/b.dxf) into `out`, replacing those of the same name.

    `verify` gets the folder that holds the new files alone, before anything is replaced; what it raises passes through.

    Raises:
        WriteError: nothing was written and nothing replaced; the message says why.
        ValueError: a name that leads out of the folder.
    """
    for name in files:
        if PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts or not PurePosixPath(name).parts:
            raise ValueError(f"not a name within the folder: {name}")
    target = Path(os.path.realpath(out))
    try:
        _replace(target, files, verify)
    except OSError as error:
        reason = error.strerror or str(error)
        raise WriteError(f"the folder could not be written: {reason}", where=str(out), remedy=ELSEWHERE) from error


def _replace(target: Path, files: Mapping[str, bytes], verify: Callable[[Path], None]) -> None:
    fresh, before = target.with_name(f".{target.name}.new"), target.with_name(f".{target.name}.before")
    missing = [place for place in (target.parent, *target.parent.parents) if not place.exists()]
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        _recover(target, fresh, before)
        _check_place(target)
        fresh.mkdir()
        _fill(fresh, files)
        verify(fresh)
        if target.is_dir():
            _keep_others(target, fresh)
            shutil.copymode(target, fresh)
            target.rename(before)
        fresh.rename(target)
    except BaseException:
        _undo(target, fresh, before, missing)
        raise
    shutil.rmtree(before, ignore_errors=True)


def _undo(target: Path, fresh: Path, before: Path, made: list[Path]) -> None:
    if before.is_dir() and not target.exists():
        before.rename(target)
    shutil.rmtree(fresh, ignore_errors=True)
    for folder in made:
        with suppress(OSError):  # it was not made, or another program has put something into it
            folder.rmdir()


def _recover(target: Path, fresh: Path, before: Path) -> None:
    """Clear what a killed run had begun, and put back what it had renamed away, or clear what it had replaced."""
    if fresh.is_dir():
        shutil.rmtree(fresh)
    if not before.is_dir():
        return
    if target.exists():
        shutil.rmtree(before)
    else:
        before.rename(target)


def _check_place(target: Path) -> None:
    if target.exists() and not target.is_dir():
        raise WriteError("a file stands where the folder should be", where=str(target), remedy="name another folder")
    here = Path.cwd()
    if target == here or target in here.parents or target.is_mount():
        remedy = f"name a folder in it, such as {target.name or 'job'}/out"
        raise WriteError("the folder you are in cannot be replaced as a whole", where=str(target), remedy=remedy)


def _fill(folder: Path, files: Mapping[str, bytes]) -> None:
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def _keep_others(old: Path, fresh: Path) -> None:
    """Link every file of the old folder that has no new one into the fresh folder."""
    for folder, subfolders, names in os.walk(old):
        place = fresh / Path(folder).relative_to(old)
        links = [name for name in subfolders if (Path(folder) / name).is_symlink()]
        place.mkdir(exist_ok=True)
        for name in (*names, *links):
            if not os.path.lexists(place / name):
                _link(Path(folder) / name, place / name)


def _link(source: Path, place: Path) -> None:
    try:
        os.link(source, place, follow_symlinks=False)
    except OSError:  # a file system without links
        shutil.copy2(source, place, follow_symlinks=False)
