"""The fields of one line: looked up, read, and complained about, each at its own spot."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from lark import Token, Tree

from ..finding import Finding, Related, Severity
from ..quantity import Dimension, Quantity, ValueProblem, read, write_exact
from ..source import Source, Span
from .lines import token_span, tree_span, walk

_PREFIX_ALONE = frozenset("kMRunp\u00b5\u03bc")


@dataclass(frozen=True, slots=True)
class Slot:
    """A quantity that a line can hold.

    Parameters
    ----------
    noun : str
        What it is, for messages: "resistance".
    dimension : Dimension
        What it is measured in.
    low, high : float
        Outside of these the value is taken for a slip of the pen. [SI unit of `dimension`]
    example : str
        How to write it.
    also : tuple of Dimension
        Other dimensions accepted for the same thing.
    """

    noun: str
    dimension: Dimension
    low: float
    high: float
    example: str
    also: tuple[Dimension, ...] = ()

    def takes(self, dimension: Dimension | None) -> bool:
        """Whether a quantity of this dimension goes here."""
        return dimension is not None and dimension in (self.dimension, *self.also)


class Fields:
    """What one line says, field by field; problems gather in `findings`.

    Parameters
    ----------
    source : Source
        The text.
    number : int
        Line number. [count]
    tree : lark Tree
        The line's entry.
    broken : bool
        True if the line had a syntax error: what seems missing may have been lost with it,
        so it is not complained about.
    """

    def __init__(self, source: Source, number: int, tree: Tree[Token], broken: bool) -> None:
        self.source = source
        self.number = number
        self.findings: list[Finding] = []
        self.marks: dict[str, Span] = {}
        self.broken = broken
        self._tree = tree
        tokens = [child for child in tree.children if isinstance(child, Token)]
        self.kind = str(tokens[0]).lower()
        self.kind_span = token_span(tokens[0], number)
        self.words = [str(token) for token in tokens[1:]]
        self.word_spans = [token_span(token, number) for token in tokens[1:]]

    def report(self, slug: str, span: Span, what: str, why: str = "", fix: str = "",
               related: tuple[Related, ...] = ()) -> None:  # fmt: skip
        """Note an error in this line."""
        self.findings.append(
            Finding(slug, Severity.ERROR, self.source, span, what, why, fix, related)
        )

    def all(self, field: str) -> list[Tree[Token]]:
        """Every field of that name, in the order typed."""
        return [tree for tree in walk(self._tree) if tree.data == field]

    def one(self, field: str, called: str | None = None) -> Tree[Token] | None:
        """The field of that name; a second one is an error. `called` is its word in messages."""
        trees = self.all(field)
        for extra in trees[1:]:
            self._doubled(called or field, tree_span(extra, self.number),
                          tree_span(trees[0], self.number))  # fmt: skip
        if not trees:
            return None
        self.marks.setdefault(field, tree_span(trees[0], self.number))
        return trees[0]

    def word(self, field: str) -> str | None:
        """The last word of a field, such as the node behind "from"."""
        tree = self.one(field)
        if tree is None:
            return None
        token = tree.children[-1]
        assert isinstance(token, Token)
        self.marks[field] = token_span(token, self.number)
        return str(token)

    def node(self, field: str, fix: str = "") -> str:
        """The node behind a terminal's word; a missing one is an error and gives ""."""
        node = self.word(field)
        if node is None:
            self.missing(field, f"the node at its {field}", fix or f'add "{field} NODE"')
        return node or ""

    def text(self, field: str) -> str | None:
        """The text between the quotes of a field."""
        word = self.word(field)
        return None if word is None else word[1:-1]

    def missing(self, field: str, noun: str, fix: str) -> None:
        """Complain that the line lacks something, unless a syntax error may have eaten it."""
        if not self.broken:
            name = f" {self.words[0]}" if self.words else ""
            self.report("missing-field", self.word_spans[0] if self.words else self.kind_span,
                        f"{self.kind}{name} lacks {noun}", "", fix)  # fmt: skip

    def keyed(self, field: str, *slots: Slot) -> Quantity | None:
        """The quantity behind a key word, held against one or more slots."""
        tree = self.one(field)
        if tree is None:
            return None
        quantity_tree = next(walk(tree))
        quantity = self._read(quantity_tree)
        return self._fit(quantity, tree_span(quantity_tree, self.number), slots)

    def quantity(self, tree: Tree[Token], *slots: Slot) -> Quantity | None:
        """The quantity of one quantity field, held against slots."""
        return self._fit(self._read(tree), tree_span(tree, self.number), slots)

    def plain(self, slots: Mapping[str, Slot], bare: str) -> dict[str, Quantity]:
        """The quantities that stand without a key word, sorted into slots by their units.

        Parameters
        ----------
        slots : mapping of str to Slot
            By field name; the first that takes the dimension gets it.
        bare : str
            The slot that a value without unit goes to.
        """
        taken: dict[str, Quantity] = {}
        for tree in self.all("quantity"):
            span = tree_span(tree, self.number)
            quantity = self._read(tree)
            if quantity is None:
                self.broken = True  # what seems missing is this one
                continue
            name = bare
            if quantity.dimension is not None:
                name = next((n for n, s in slots.items() if s.takes(quantity.dimension)), "")
            if not name:
                self._misfit(quantity, span, tuple(slots.values()))
                continue
            fitted = self._fit(quantity, span, (slots[name],))
            if name in taken or name in self.marks:
                self._doubled(slots[name].noun, span, self.marks[name])
            elif fitted is not None:
                taken[name] = fitted
                self.marks[name] = span
            else:
                self.broken = True
        return taken

    def _read(self, tree: Tree[Token]) -> Quantity | None:
        tokens = [str(child) for child in tree.children]
        text, unit = tokens[0], tokens[1] if len(tokens) > 1 else None
        if unit in _PREFIX_ALONE:
            text, unit = text + unit, None
        try:
            return read(text, unit)
        except ValueProblem as problem:
            self.report("unreadable-value", tree_span(tree, self.number),
                        problem.what, problem.expected, problem.fix)  # fmt: skip
            return None

    def _fit(self, quantity: Quantity | None, span: Span, slots: tuple[Slot, ...]
             ) -> Quantity | None:  # fmt: skip
        if quantity is None:
            return None
        slot = next((s for s in slots if s.takes(quantity.dimension)), slots[0])
        if quantity.dimension is None or not slot.takes(quantity.dimension):
            if quantity.dimension is not None:
                self._misfit(quantity, span, slots)
                return None
            try:
                quantity = quantity.as_(slot.dimension)
            except ValueProblem as problem:
                self.report("wrong-unit", span, problem.what, problem.expected,
                            f"a {slot.noun} is written like {slot.example}")  # fmt: skip
                return None
        if not slot.low <= quantity.nominal <= slot.high:
            self._absurd(quantity, span, slot)
            return None
        return quantity

    def _misfit(self, quantity: Quantity, span: Span, slots: tuple[Slot, ...]) -> None:
        text = self.source.line(span.line)[span.column - 1 : span.end - 1]
        wanted = ", ".join(f"{slot.noun} ({slot.example})" for slot in slots)
        self.report("wrong-unit", span, f'"{text}" does not fit here', f"expected: {wanted}")

    def _absurd(self, quantity: Quantity, span: Span, slot: Slot) -> None:
        text = self.source.line(span.line)[span.column - 1 : span.end - 1]
        dimension = quantity.dimension or slot.dimension
        limits = f"{write_exact(slot.low, dimension)} and {write_exact(slot.high, dimension)}"
        fix = "give it without a sign" if quantity.nominal < 0 else "look for a slip in the unit"
        self.report("absurd-value", span, f'"{text}" cannot be a {slot.noun}',
                    f"one between {limits} is believable", fix)  # fmt: skip

    def _doubled(self, called: str, span: Span, first: Span) -> None:
        self.report("doubled-field", span, f"{called} is given twice", "one of the two is wrong",
                    "keep the right one", (Related(first, "first given here"),))  # fmt: skip
