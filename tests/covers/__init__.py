"""Covers: tables, bonds, thinning."""
