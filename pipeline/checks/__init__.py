"""One file for each check."""
