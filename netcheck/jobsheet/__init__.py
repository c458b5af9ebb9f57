"""A job on one self-contained HTML page: for the customer, and for the next at the bench."""
