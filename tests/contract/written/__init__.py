"""Conversations written by the standard's words and times alone: nothing here imports the package that is tested."""
