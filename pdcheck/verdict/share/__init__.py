"""Rigs on one charger with several ports: who gets what, in which order."""
