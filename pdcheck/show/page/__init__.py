"""The page: one self-contained HTML file of a rig on a source and cable, and the plots on it."""
