"""`python -m netcheck` is the same as the command `netcheck`."""

from .cli import main

main()
