"""What build.py calls: scene, room and imagined things made into panels, prints and files."""

STAGES = ("shapes", "files", "checks", "pictures", "page")
"""What a build does, in this order, as it tells those who wait."""
