"""One file for each pattern that can lie on a face."""
