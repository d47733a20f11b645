"""One file for each format: a neutral drawing or mesh to bytes."""
