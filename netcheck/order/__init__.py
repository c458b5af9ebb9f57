"""The list to order: faulty, remedied, aged and under-rated parts, each with its reason."""

from .needs import Need, Reason
from .purchase import Purchase
from .shopping import Line, Order, Why, order

__all__ = ["Line", "Need", "Order", "Purchase", "Reason", "Why", "order"]
