"""Which nodes hang together, built up one element at a time (union-find)."""

from __future__ import annotations


class Forest:
    """Sets of nodes that are joined."""

    def __init__(self) -> None:
        self._parent: dict[str, str] = {}

    def root(self, node: str) -> str:
        """The node that stands for the whole set that `node` is in."""
        top = node
        while (parent := self._parent.setdefault(top, top)) != top:
            top = parent
        while node != top:
            self._parent[node], node = top, self._parent[node]
        return top

    def join(self, a: str, b: str) -> bool:
        """Join two sets; False when they were one already: the new element closes a loop."""
        root_a, root_b = self.root(a), self.root(b)
        self._parent[root_a] = root_b
        return root_a != root_b
