"""The operating system's own tables of an attached charger and cable."""
