"""JSON Schemas of the files and of every document."""
