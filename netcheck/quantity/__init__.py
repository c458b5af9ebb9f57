"""Values as they stand on a part, a schematic or a meter: read exactly, and written.

A text is read to the exact decimal number it says, or refused with the way to write it.
Nothing is guessed: where the trade uses one spelling for two values (`1m`, `47 mF`,
`4,700`), the text is refused and both are offered.
"""

from __future__ import annotations

from .dimension import Dimension, ValueProblem
from .reading import LONGEST, Quantity, read_or_none
from .writing import show, show_part, show_reading, write_exact

__all__ = [
    "LONGEST",
    "Dimension",
    "Quantity",
    "ValueProblem",
    "read",
    "show",
    "show_part",
    "show_reading",
    "write_exact",
]


def read(text: str, unit: str | None = None) -> Quantity:
    """Read a value exactly, or refuse it.

    Parameters
    ----------
    text : str
        The value, such as "4k7", "-52.0", "10%", "48Vac" or "48 Vac".
    unit : str or None
        The unit, where it was taken as a word of its own.

    Returns
    -------
    Quantity
        Of no dimension where no unit was written.

    Raises
    ------
    ValueProblem
        For whatever is no value, or could mean two.
    """
    typed = text if unit is None else f"{text} {unit}"
    quantity = read_or_none(typed)
    if quantity is None:
        from .refusal import explain  # noqa: PLC0415 - needed for a refusal only

        raise explain(typed)
    return quantity
