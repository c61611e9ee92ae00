"""The table of sampled readings behind the Explain calculator, and how well it explains fresh streets."""
