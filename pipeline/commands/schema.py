"""``foreshorten schema``: what a scene file may hold, for editors."""

from __future__ import annotations

import argparse

from pipeline.commands.model import Command, Exit
from pipeline.commands.terminal import Terminal


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take none."""


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Write the schema to stdout."""
    import json

    from pipeline.scene.schema import json_schema

    terminal.result(json.dumps(json_schema(), indent=2, ensure_ascii=False))
    return Exit.DONE


COMMAND = Command(
    name="schema",
    summary="write the JSON Schema of scene files to stdout, for completion in an editor",
    add_arguments=add_arguments,
    run=run,
)
