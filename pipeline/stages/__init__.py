"""What build.py calls: scene, room and imagined things made into panels, prints and files."""
