"""The commands: one file for each, named in one table."""

from pipeline.commands import begin, build, compare, coupon, cut, depth, inspect, nest, schema, warp
from pipeline.commands.model import Command

COMMANDS: tuple[Command, ...] = (
    begin.COMMAND,
    build.COMMAND,
    inspect.COMMAND,
    depth.COMMAND,
    compare.COMMAND,
    cut.COMMAND,
    warp.COMMAND,
    coupon.COMMAND,
    nest.COMMAND,
    schema.COMMAND,
)
