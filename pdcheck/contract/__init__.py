"""Who asks for what, and gets what."""
