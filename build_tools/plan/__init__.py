"""What each node of a site tree buys, over drawn streets."""
