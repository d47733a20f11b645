"""The lights wired."""
