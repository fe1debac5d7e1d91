"""Text and files in, words and messages out; reads, never judges."""
