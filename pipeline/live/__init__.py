"""The live page: the room re-shaped while the eye is dragged."""
