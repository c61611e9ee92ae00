"""One tree driven by one street with its faults: where it leads, what is done there, and whom that hurts."""
