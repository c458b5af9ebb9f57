"""Entering a section without knowing the language, and the circuits that are shipped."""
