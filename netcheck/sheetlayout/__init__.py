"""A sheet of readings as text in its canonical form, which reads back as the same sheet."""

from .lines import format_sheet_lines
from .sheet import append_reading, format_sheet

__all__ = ["append_reading", "format_sheet", "format_sheet_lines"]
