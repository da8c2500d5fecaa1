"""Documentation cannot fall behind: commands, notebooks, files, glossary and contracts stand in it as they are."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from planner.reference import with_reference
from planner.tables import FILES

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_first_two_sh_blocks_are_the_two_commands_and_nothing_else():
    blocks = re.findall(r"^```sh\n(.*?)^```$", README, flags=re.MULTILINE | re.DOTALL)
    assert len(blocks) == 2
    assert [len(block.splitlines()) for block in blocks] == [1, 1]
    assert blocks[0].strip().endswith(".venv/bin/planner run data/example")
    assert blocks[1].strip().endswith(".venv/bin/python -m pytest")
    assert all(block.startswith("python3 -m venv .venv && ") for block in blocks)


@pytest.mark.parametrize("command", ["new", "check", "run", "lab"])
def test_every_command_has_help_and_stands_in_the_readme(command):
    shown = subprocess.run(
        [sys.executable, "-m", "planner.cli", command, "--help"], capture_output=True, text=True, check=True
    ).stdout
    assert f"planner {command}" in shown
    assert f"planner {command} " in README


def test_every_notebook_stands_in_the_readme_with_its_question():
    for path in sorted((ROOT / "notebooks").glob("*.ipynb")):
        title = re.search(r'"# (.*\?)', path.read_text(encoding="utf-8")).group(1)
        assert f"| `{path.stem}` | {title} |" in README


def test_glossary_and_contracts_are_those_of_the_code():
    assert with_reference(DEVELOPERS) == DEVELOPERS, "renew it: python -m planner.reference"


def test_every_part_of_the_library_is_described():
    parts = {path.stem for path in (ROOT / "planner").glob("*.py")} - {"__init__"}
    assert {part for part in parts if f"`{part}" not in DEVELOPERS} == set()


def test_every_file_of_the_folder_is_in_the_example():
    there = {path.stem for path in (ROOT / "data" / "example").glob("*.csv")}
    assert there == set(FILES)


def test_constraints_carry_no_address():
    text = (ROOT / ".ci" / "constraints.txt").read_text(encoding="utf-8")
    assert "://" not in text
    assert all(re.match(r"^[\w.\-]+==\S+( ; .*)?$", line) for line in text.splitlines() if not line.startswith("#"))
