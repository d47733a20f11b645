"""Scenes in notebooks and scripts: everything the commands do, as values.

>>> import pipeline
>>> build = pipeline.load("scenes/tunnel.toml").build()
>>> build.failed
0
>>> build.parts["floor"].made_as
'panel'
"""

from pipeline.commands.model import InputError
from pipeline.scene.schema import json_schema as schema
from pipeline.scripting.built import BuiltScene, Part
from pipeline.scripting.scene import LoadedScene, begin, load

__all__ = ["BuiltScene", "InputError", "LoadedScene", "Part", "begin", "load", "schema"]
