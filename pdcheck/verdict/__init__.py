"""Rules, each with its value, its limit and its origin."""
