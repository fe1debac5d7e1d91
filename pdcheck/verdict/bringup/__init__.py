"""First power-up: the steps and what to expect, and what readings outside of it point to."""
