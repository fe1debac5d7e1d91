"""A captured conversation followed message by message: what is agreed at each moment."""
