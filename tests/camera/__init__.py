"""The camera of a scene."""
