"""``foreshorten schema``: what a scene file may hold, for editors."""

from __future__ import annotations

import argparse

from pipeline.commands.model import Command, Exit
from pipeline.commands.terminal import Terminal


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Take the form it is wanted in."""
    parser.add_argument(
        "--page", action="store_true", help="write a page to read instead: every table and key, Markdown"
    )


def run(arguments: argparse.Namespace, terminal: Terminal) -> Exit:
    """Write the schema to stdout."""
    import json

    from pipeline.scene.reference import reference
    from pipeline.scene.schema import json_schema

    if arguments.page:
        terminal.result(reference().rstrip("\n"))
        return Exit.DONE
    terminal.result(json.dumps(json_schema(), indent=2, ensure_ascii=False))
    return Exit.DONE


COMMAND = Command(
    name="schema",
    summary="write the JSON Schema of scene files to stdout, for completion in an editor",
    add_arguments=add_arguments,
    run=run,
    compiled=("numpy", "pydantic"),
)
