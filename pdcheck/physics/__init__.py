"""Formulas in plain numbers, below all parts: what a branch draws at a voltage, and where the bus settles."""
