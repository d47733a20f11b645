"""The collineation from the imagined room to the built one."""
