"""The numbers of standards and handbooks, each once, with where it comes from."""
