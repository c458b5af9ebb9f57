"""What to solder in so that the idle current wanted sits near the middle of the travel."""
