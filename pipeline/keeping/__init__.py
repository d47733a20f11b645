"""What a build keeps for the next one: results of pure functions, found again by what went into them."""
