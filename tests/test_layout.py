"""The flow goes one way: who may import whom, how long a module is, and what the top level holds."""

import ast
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
GROUND = {"problems", "words", "tables", "units", "settings", "values", "month_names"}  # what every step stands on
STEPS = {
    "sales",
    "shelf",
    "pace",
    "season",
    "restock",
    "formula",
    "weighout",
    "losses",
    "control",
    "plausible",
    "monthly",
}
# what a part may import of the others; steps may import the ground only, and never each other
MAY = {
    "problems": set(),
    "words": set(),
    "units": set(),
    "month_names": {"settings"},
    "values": {"month_names"},
    "tables": {"problems", "words"},
    "settings": {"problems"},
    **dict.fromkeys(STEPS, GROUND),
    "sheets": {"problems"},
    "typed": GROUND,
    "packed": set(),
    "files": GROUND | {"sheets", "typed", "packed"},
    "absent": {"files", "tables"},
    "by_month": GROUND | STEPS | {"files"},
    "by_channel": GROUND | STEPS | {"files"},
    "flow": GROUND | STEPS | {"files", "by_month"},
    "summaries": {"problems", "settings", "tables", "words"},
    "ranking": GROUND | {"pace"},
    "wanted": GROUND | {"summaries", "pace"},
    "sentences": GROUND | {"summaries", "wanted"},
    "line_flow": {"sentences"},
    "charts": {"line_flow", "summaries", "pictures", "tables", "words"},
    "pictures": set(),
    "to_hang_up": set(),
    "tableview": {"words"},
    "reference": {"tables", "words"},
}
TOP = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "notebooks", "planner", "tests", "data"}
LONGEST_MODULE = 350  # lines; about 300 is the aim
FORBIDDEN_NAMES = {"utils", "helpers", "common"}
MODULES = sorted((ROOT / "planner").rglob("*.py"))


def part_of(path):
    """Name of the part a module belongs to: its file or its folder directly below planner/."""
    return path.relative_to(ROOT / "planner").parts[0].removesuffix(".py")


def imports(path):
    """Yield the parts of planner that a module imports, wherever in the file it does."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "planner":
            names = node.module.split(".")[1:]
            yield from [names[0]] if names else [alias.name for alias in node.names]
        elif isinstance(node, ast.Import):
            yield from (alias.name.split(".")[1] for alias in node.names if alias.name.startswith("planner."))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_imports_only_what_its_part_may(path):
    part = part_of(path)
    if part in MAY:
        assert set(imports(path)) - {part} <= MAY[part]


def test_the_rule_covers_every_step_and_bites():
    parts = {part_of(path) for path in MODULES}
    assert set(MAY) <= parts
    assert "files" in set(imports(ROOT / "planner" / "flow.py"))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_holds_one_idea_and_has_a_name_that_says_it(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_MODULE
    assert path.stem not in FORBIDDEN_NAMES
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))


def test_only_files_and_the_runner_open_paths_in_the_folder():
    allowed = {
        "files",
        "packed",
        "pages",
        "running",
        "index",
        "lab",
        "starting",
        "cli",
        "warm",
        "checking",
        "pictures",
        "reference",
    }
    for path in MODULES:
        if part_of(path) not in allowed:
            text = path.read_text(encoding="utf-8")
            assert not any(f"{call}(" in text for call in (".read_text", ".read_bytes", ".write_text", ".write_bytes"))


def test_the_top_level_is_the_cards():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout
    if not listed:
        pytest.skip("this is not a git checkout, so there is no list of files to look at")
    names = {line.split("/")[0] for line in listed.splitlines()}
    assert {name for name in names if not name.startswith(".")} <= TOP
