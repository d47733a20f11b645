"""The scene file's form as a JSON Schema of Draft 4, which is what editors of TOML read."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.scene.model import Scene

DRAFT = "http://json-schema.org/draft-04/schema#"
_DROPPED = frozenset(["title", "discriminator", "examples", "$defs"])
_OF_NAMES = frozenset(["properties", "patternProperties", "definitions"])
"""Keywords whose keys are names of the scene file, not keywords."""


def json_schema() -> dict[str, Any]:
    """Return the schema of a scene file, with descriptions, defaults and choices."""
    whole = Scene.model_json_schema()
    schema: dict[str, Any] = {"$schema": DRAFT, "title": "Foreshorten scene"}
    schema |= _draft4(whole)
    schema["definitions"] = {name: _draft4(part) for name, part in sorted(whole.get("$defs", {}).items())}
    return schema


def _draft4(schema: Mapping[str, Any]) -> dict[str, Any]:
    """Return one schema of the 2020-12 draft as Draft 4 says it."""
    out = {key: _deeper(key, value) for key, value in schema.items() if key not in _DROPPED}
    for bound, flag in (("minimum", "exclusiveMinimum"), ("maximum", "exclusiveMaximum")):
        if flag in out:
            out[bound], out[flag] = out[flag], True
    if "const" in out:
        out["enum"] = [out.pop("const")]
    if "prefixItems" in out:
        out["items"] = out.pop("prefixItems")
        out["additionalItems"] = False
    if out.get("default", 0) is None or (isinstance(out.get("default"), dict | list) and not out["default"]):
        del out["default"]
    if "$ref" in out:
        out = _beside_reference(out)
    return _without_null(out)


def _deeper(key: str, value: Any) -> Any:
    if key in _OF_NAMES:
        return {name: _draft4(part) for name, part in value.items()}
    if key in ("items", "additionalProperties", "not") and isinstance(value, dict):
        return _draft4(value)
    if key in ("anyOf", "allOf", "oneOf", "prefixItems"):
        return [_draft4(part) for part in value]
    if key == "$ref":
        return value.replace("#/$defs/", "#/definitions/")
    return value


def _beside_reference(schema: dict[str, Any]) -> dict[str, Any]:
    """Wrap a reference: Draft 4 lets nothing stand beside one. Defaults of whole tables say nothing new."""
    others = {key: value for key, value in schema.items() if key not in ("$ref", "default")}
    return {**others, "allOf": [{"$ref": schema["$ref"]}]} if others else {"$ref": schema["$ref"]}


def _without_null(schema: dict[str, Any]) -> dict[str, Any]:
    """Take out the choice of null, which TOML cannot say, and a choice of one."""
    choices = [part for part in schema.get("anyOf", []) if part != {"type": "null"}]
    if len(choices) == 1:
        others = {key: value for key, value in schema.items() if key != "anyOf"}
        return {**choices[0], **others}
    return {**schema, "anyOf": choices} if choices else schema
