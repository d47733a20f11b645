"""Rules of the house that no other tool holds."""

from __future__ import annotations

import ast
import importlib
import pkgutil
import re
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import grimp
import pytest

from pipeline import checks, commands, elements
from pipeline.checks import CHECKS
from pipeline.commands import COMMANDS
from pipeline.room.imagine import ELEMENTS
from pipeline.scene.model import Scene

ROOT = Path(__file__).parents[1]
SOURCES = sorted((ROOT / "pipeline").rglob("*.py"))


def modules_with(package: ModuleType, name: str) -> set[str]:
    """Return the modules of a package, and of packages within it, that define ``name`` themselves."""
    found = set()
    for info in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
        module = importlib.import_module(info.name)
        if hasattr(module, name) and getattr(getattr(module, name), "__module__", module.__name__) == module.__name__:
            found.add(module.__name__)
    return found


def test_every_element_stands_in_the_table_and_in_the_scene() -> None:
    """An element is one file and one line; the hall comes first and once, before the table."""
    expected = modules_with(elements, "imagine") - {"pipeline.elements.hall"}
    assert expected == {function.__module__ for _, function in ELEMENTS}
    assert {key for key, _ in ELEMENTS} <= Scene.model_fields.keys()


def test_every_check_stands_in_the_table_with_an_id_of_its_own() -> None:
    """A check is one file and one line; its id is permanent, so no two may share one."""
    assert modules_with(checks, "run") == {check.run.__module__ for check in CHECKS}
    assert len({check.id for check in CHECKS}) == len(CHECKS)


def test_every_check_is_a_question_with_a_reason() -> None:
    """The report prints both for the person at the bench."""
    assert [check.id for check in CHECKS if not (check.title.endswith("?") and check.rationale.endswith("."))] == []


def test_every_command_stands_in_the_table() -> None:
    """A command is one file and one line."""
    assert modules_with(commands, "run") == {command.run.__module__ for command in COMMANDS}


def test_every_module_is_used() -> None:
    """From the entry point everything can be reached, so a format nobody writes shows."""
    graph = grimp.build_graph("pipeline", cache_dir=None)
    packages = {name for name in graph.modules if graph.find_children(name)}
    entries = {"pipeline.__main__", "pipeline.scripting"}
    reached = entries.union(*(graph.find_upstream_modules(entry) for entry in entries))
    assert sorted(graph.modules - packages - reached) == []


def test_imports_run_one_way() -> None:
    """The floors of pyproject.toml hold."""
    code = "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(cache_dir=None))"
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stdout


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_only_the_edge_touches_streams(path: Path) -> None:
    """No ``print``, no ``sys.stdout`` below the commands; stages return what they have to say."""
    inside = path.relative_to(ROOT / "pipeline")
    if inside.parts[0] in ("__main__.py", "cli.py", "commands"):
        return
    tree = ast.parse(path.read_text(encoding="utf-8"))
    named = {n.id for n in ast.walk(tree) if isinstance(n, ast.Name)}
    reached = {n.attr for n in ast.walk(tree) if isinstance(n, ast.Attribute)}
    assert named & {"print", "input"} == set()
    assert reached & {"stdout", "stderr", "stdin"} == set()


def readme_commands() -> list[str]:
    """Return the lines of the README's first shell block, which ``.ci/run`` runs as well."""
    block = re.search(r"^## Two commands$.*?^```sh\n(.*?)^```", (ROOT / "README.md").read_text(), re.S | re.M)
    assert block is not None
    return block[1].splitlines()


def test_the_readme_has_two_commands_from_nothing_but_python() -> None:
    """One sets up and builds the demo, one sets up and runs the tests."""
    build, test = readme_commands()
    assert build.startswith("python3 -m venv ")
    assert build.endswith(" build scenes/cistern.toml")
    assert test.startswith("python3 -m venv ")
    assert test.endswith(" -m pytest -n 2 --dist loadfile")
    assert (ROOT / "scenes/cistern.toml").is_file()


PAGES = ["README.md", "DEVELOPERS.md", *(f"docs/{path.name}" for path in sorted((ROOT / "docs").glob("*.md")))]


@pytest.mark.parametrize("page", PAGES)
def test_what_a_page_points_to_is_there(page: str) -> None:
    """Links and pictures within the repository."""
    path = ROOT / page
    targets = re.findall(r"\]\(([^)#:]+)\)", path.read_text(encoding="utf-8"))
    assert [target for target in targets if not (path.parent / target).exists()] == []


def names_bound(source: str) -> list[str]:
    """Return the names that a module's text binds at its top level, as often as it does."""
    out = []
    for node in ast.parse(source).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            out.append(node.name)
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        out += [target.id for target in targets if isinstance(target, ast.Name)]
    return out


@pytest.mark.parametrize("source", SOURCES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_module_says_two_things_by_one_name(source: Path) -> None:
    """A constant bound again changes what was written above it; no linter says so."""
    names = names_bound(source.read_text(encoding="utf-8"))
    assert [name for name in names if names.count(name) > 1] == []


def name_of_module(source: Path) -> str:
    """Return the dotted name of a file of the package."""
    return ".".join(source.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def names_used(module: str, tree: ast.Module) -> set[str]:
    """Return the dotted names that a module asks for: its own, imported ones, and those of imported modules."""
    out: set[str] = set()
    bound: dict[str, str] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            bound |= {name.asname or name.name: f"{node.module}.{name.name}" for name in node.names}
            out |= {f"{node.module}.{name.name}" for name in node.names}
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            out.add(f"{module}.{node.id}")
    attributes = [node for node in ast.walk(tree) if isinstance(node, ast.Attribute)]
    return out | {
        f"{bound[node.value.id]}.{node.attr}"
        for node in attributes
        if isinstance(node.value, ast.Name) and node.value.id in bound
    }


ASKED_FROM_OUTSIDE = {"pipeline.build.make"}
"""A scene without its checks and page: what most tests look at."""


def test_no_module_has_a_name_that_nobody_uses() -> None:
    """What only tests use is dead as well; coverage cannot tell, since defining a name runs it."""
    trees = {name_of_module(source): ast.parse(source.read_text(encoding="utf-8")) for source in SOURCES}
    used = ASKED_FROM_OUTSIDE.union(*(names_used(module, tree) for module, tree in trees.items()))
    bound = {
        f"{module}.{name}"
        for module, source in zip(trees, SOURCES, strict=True)
        for name in names_bound(source.read_text(encoding="utf-8"))
        if not name.startswith("__")
    }
    assert sorted(bound - used) == []


def test_the_readme_has_a_row_for_every_command() -> None:
    """And none for what is no command; options and what stands for values are free."""
    rows = re.findall(r"^\| `([a-z]+)(?: [^.`][^`]*)?` \|", (ROOT / "README.md").read_text(encoding="utf-8"), re.M)
    assert {command.name for command in COMMANDS} == set(rows)
