"""The page, the manifest and the drawings."""
