"""Asking: one function for each question, which takes texts and paths as the commands do, or objects."""
