"""The commands: one file for each, named in one table."""

from pipeline.commands import begin, build, inspect, schema, warp
from pipeline.commands.model import Command

COMMANDS: tuple[Command, ...] = (begin.COMMAND, build.COMMAND, inspect.COMMAND, warp.COMMAND, schema.COMMAND)
