"""The commands: one file for each, named in one table."""

from pipeline.commands import begin, build, inspect, schema
from pipeline.commands.model import Command

COMMANDS: tuple[Command, ...] = (begin.COMMAND, build.COMMAND, inspect.COMMAND, schema.COMMAND)
