"""`netcheck new`: enter a bias section by answering questions."""

from ..entry.command import new as command

__all__ = ["command"]
