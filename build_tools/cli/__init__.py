"""The verbs, their words and their reports: a thin edge."""
