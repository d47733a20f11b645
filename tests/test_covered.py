"""Modules that strangers reach first keep every branch tried by their own tests, alone and quickly."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]

MODULES = (
    "pipeline/live/guard.py",
    "pipeline/meshfiles/*",
    "pipeline/scene/settings.py",
    "pipeline/scene/problems.py",
)
TESTS = (
    "tests/live/test_guard.py",
    "tests/meshes/test_formats.py",
    "tests/meshes/test_broken_files.py",
    "tests/scene/test_settings.py",
)


def test_every_branch_is_tried(tmp_path: Path) -> None:
    """By the settings of pyproject.toml; what is not reached is named by its lines."""
    environment = {key: value for key, value in os.environ.items() if not key.startswith("COVERAGE")}
    environment |= {"COVERAGE_FILE": str(tmp_path / "data"), "PYTHONPATH": str(ROOT), "CI": "true"}

    def measured(*words: str) -> None:
        command = [sys.executable, "-m", "coverage", *words]
        run = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
        assert run.returncode == 0, run.stdout + run.stderr

    measured("run", "-m", "pytest", "-q", "-p", "no:cacheprovider", *TESTS)
    measured("combine", "-q")
    measured("json", "-q", f"--include={','.join(MODULES)}", "-o", str(tmp_path / "told.json"))
    told = json.loads((tmp_path / "told.json").read_text())
    left = {
        name: found["missing_lines"] + found["missing_branches"]
        for name, found in told["files"].items()
        if found["missing_lines"] or found["missing_branches"]
    }
    assert {f"{name}" for name in MODULES if "*" not in name} <= told["files"].keys()
    assert left == {}
