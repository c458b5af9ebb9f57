"""Results as text for the terminal, as pictures, and as JSON with its schemas."""
