"""The commands: one file for each, named in one table."""

from pipeline.commands import (
    begin,
    build,
    compare,
    completion,
    coupon,
    cut,
    depth,
    inspect,
    live,
    nest,
    schema,
    sweep,
    warp,
)
from pipeline.commands.model import Command

COMMANDS: tuple[Command, ...] = (
    begin.COMMAND,
    build.COMMAND,
    inspect.COMMAND,
    depth.COMMAND,
    compare.COMMAND,
    cut.COMMAND,
    sweep.COMMAND,
    warp.COMMAND,
    coupon.COMMAND,
    live.COMMAND,
    nest.COMMAND,
    schema.COMMAND,
    completion.COMMAND,
)
