"""A session at the bench: readings asked for one at a time, each on disk before the next."""
