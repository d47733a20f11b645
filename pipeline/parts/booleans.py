"""Bodies for booleans, as parts use them."""

from pipeline.geometry.booleans import BodyError, body_of, mesh_of, trim

__all__ = ["BodyError", "body_of", "mesh_of", "trim"]
