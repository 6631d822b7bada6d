"""The README keeps its word: its commands stand in it once, run, and print what it shows."""

from __future__ import annotations

import doctest
import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from inlayfit.cli import COMMANDS

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
RUN = "python3 -m venv .venv && .venv/bin/pip install -q . && .venv/bin/inlayfit fit demo/heron-emblem.toml --out out"
TEST = "python3 -m venv .venv && .venv/bin/pip install -q -e '.[test]' && .venv/bin/pytest"
BLOCK = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)
LOOSE = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE
"""A line of three dots stands for what is left out, and columns may be wider or narrower."""


def shown() -> list[tuple[str, str]]:
    """Return every command of the console blocks with the output that stands below it."""
    steps = []
    for block in BLOCK.findall(README):
        for step in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, _, output = step.partition("\n")
            steps.append((command, output))
    return steps


def run(command: str, folder: Path) -> tuple[int, str]:
    """Run one command as a maker types it, and return its exit code and all that it prints."""
    program, *words = shlex.split(command)
    assert program == "inlayfit", f"only inlayfit is run from the README, not {program}"
    environment = {name: value for name, value in os.environ.items() if name != "COLUMNS"} | {"PYTHONUTF8": "1"}
    done = subprocess.run(
        [sys.executable, "-m", "inlayfit", *words],
        cwd=folder,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        check=False,
    )
    return done.returncode, done.stdout


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the drawings and the jobs, as in a fresh copy of the project."""
    folder = tmp_path_factory.mktemp("readme")
    for name in ("artwork", "demo"):
        shutil.copytree(ROOT / name, folder / name)
    return folder


@pytest.mark.parametrize("command", [RUN, TEST])
def test_the_two_commands_stand_in_the_readme_once(command: str) -> None:
    assert README.splitlines().count(command) == 1


def test_the_readme_shows_something_to_run() -> None:
    assert {command.split()[1] for command, _ in shown()} >= {"check", "fit"}


def test_every_command_is_explained() -> None:
    assert [name for name in COMMANDS if f"inlayfit {name}" not in README] == []


@pytest.mark.parametrize(("command", "output"), shown(), ids=[command for command, _ in shown()])
def test_a_command_prints_what_the_readme_shows(command: str, output: str, bench: Path) -> None:
    code, printed = run(command, bench)
    assert code in {0, 1}, printed
    if not doctest.OutputChecker().check_output(output, printed, LOOSE):
        pytest.fail(f"$ {command}\n{printed}\nthe README shows:\n{output}", pytrace=False)


@pytest.mark.parametrize("path", sorted(set(re.findall(r"(?:artwork|demo)/[\w.-]+\.\w+", README))))
def test_every_file_that_is_named_is_there(path: str) -> None:
    assert (ROOT / path).is_file()
