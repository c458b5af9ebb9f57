"""Which part explains the readings, with how sure we are, and what to read next."""
