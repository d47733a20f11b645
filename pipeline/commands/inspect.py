"""``foreshorten inspect``: the checks of scenes, nothing written."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from contextlib import closing
from typing import Any

from pipeline.commands import scene_files
from pipeline.commands.model import Command, Exit
from pipeline.commands.terminal import Terminal
from pipeline.commands.waiting import Waiting

STATUSES = ("pass", "warn", "fail")


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Build every scene in memory and show its checks; return the worst exit code."""
    from pipeline.commands.attempts import attempts
    from pipeline.commands.results import as_json, report

    scenes = scene_files.scene_files(arguments.scenes, arguments.allow_outside)
    results, waiting = [], Waiting()
    overrides = tuple(arguments.overrides)
    with closing(attempts(scenes, overrides, arguments.jobs, begins=waiting.begins)) as made:
        for result in terminal.progress(made, len(scenes), "checking", waiting):
            results.append(result)
            shown = (
                [] if arguments.json or not result.build else check_lines(str(result.scene.path), result.build.manifest)
            )
            report(result, terminal, shown)
    if arguments.json:
        terminal.result(json.dumps(as_json(results), indent=2))
    return max(result.exit for result in results)


def check_lines(scene: str, manifest: dict[str, Any]) -> Iterator[str]:
    """Yield one line for each kind of check, and under it one for every part that did not pass."""
    checks: list[dict[str, Any]] = manifest["checks"]
    counts = {status: sum(check["status"] == status for check in checks) for status in STATUSES}
    yield f"{scene}: {counts['pass']} passed, {counts['warn']} to look at, {counts['fail']} failed"
    for name in dict.fromkeys(check["id"] for check in checks):
        own = [check for check in checks if check["id"] == name]
        worst = max((check["status"] for check in own), key=STATUSES.index)
        yield f"  {worst:4}  {name} ({len(own)})"
        for check in own:
            if check["status"] != "pass":
                yield f"        {check['status']}: {check['part'] or 'whole room'}: {check['message']}"


COMMAND = Command(
    name="inspect",
    summary="check scenes without writing anything",
    add_arguments=scene_files.add_arguments,
    run=run,
)
