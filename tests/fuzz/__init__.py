"""Fuzzing of every way in: targets, their corpus, and the judge of what may come out."""
