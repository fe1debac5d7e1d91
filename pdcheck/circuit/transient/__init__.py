"""The first second: the build solved in time, and the closed forms that judge it without a solver."""
