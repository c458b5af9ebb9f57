"""The fields of one line: looked up, read, and complained about, each at its own spot."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from lark import Token, Tree

from ..finding import Finding, Related, Severity
from ..quantity import Quantity, ValueProblem, read, write_exact
from ..source import Source, Span
from ..valves import ValveType
from .lines import ParsedLine, token_span, tokens_of, tree_span, walk
from .slots import Slot

_PREFIX_ALONE = frozenset("kKMGTRrnpu\u00b5\u03bc")
_UNTITLED = {"taper": "the taper", "material": "the material"}  # no word stands before these
_TYPE_NUMBER = re.compile("[0-9]N[0-9]+[A-Za-z]*")


class Fields:
    """What one line says, field by field; problems gather in `findings`.

    Parameters
    ----------
    source : Source
        The text.
    line : ParsedLine
        The line.
    tree : lark Tree
        What it says.
    own_types : sequence of ValveType
        Valve types of the user's own.

    Attributes
    ----------
    findings : list of Finding
        What is wrong in the line, beyond its syntax.
    marks : dict of str to Span
        Where each field stands, by name of the field or, for a quantity, of its slot.
    words : list of str
        The words behind the first that belong to no field, such as the part's name.
    """

    def __init__(
        self,
        source: Source,
        line: ParsedLine,
        tree: Tree[Token],
        own_types: Sequence[ValveType] = (),
    ) -> None:
        self.source = source
        self.own_types = own_types
        self.findings: list[Finding] = []
        self.marks: dict[str, Span] = {}
        self._line = line
        self._tree = tree
        self._unread = False  # a value was there and was complained of
        first, *others = tokens_of(tree)
        self.kind = str(first).lower()
        self.kind_span = token_span(first, line.number)
        self.words = [str(token) for token in others]
        self.word_spans = [token_span(token, line.number) for token in others]

    @property
    def is_lossy(self) -> bool:
        """Whether a syntax error may have eaten some of the line."""
        return self._line.lossy

    def report(self, slug: str, span: Span, what: str, why: str = "", fix: str = "",
               related: tuple[Related, ...] = ()) -> None:  # fmt: skip
        """Note an error in this line."""
        self.findings.append(
            Finding(slug, Severity.ERROR, self.source, span, what, why, fix, related)
        )

    def span(self, tree: Tree[Token]) -> Span:
        """Where a field of this line stands."""
        return tree_span(tree, self._line.number)

    def token_span(self, token: Token) -> Span:
        """Where a word of this line stands."""
        return token_span(token, self._line.number)

    def all(self, field: str) -> list[Tree[Token]]:
        """Every field of that name, in the order typed."""
        return [tree for tree in walk(self._tree) if tree.data == field]

    def fields(self) -> list[Tree[Token]]:
        """Every field, in the order typed."""
        return list(walk(self._tree))

    def one(self, field: str) -> Tree[Token] | None:
        """The field of that name; a second one is an error."""
        trees = self.all(field)
        if not trees:
            return None
        for extra in trees[1:]:
            called = _UNTITLED.get(field) or f'"{tokens_of(extra)[0].lower()}"'
            self.doubled(called, self.span(extra), self.span(trees[0]))
        self.marks.setdefault(field, self.span(trees[0]))
        return trees[0]

    def word(self, field: str) -> str | None:
        """The last word of a field, such as the node behind "from"."""
        tree = self.one(field)
        if tree is None:
            return None
        token = tokens_of(tree)[-1]
        self.marks[field] = token_span(token, self._line.number)
        return str(token)

    def text(self, field: str) -> str | None:
        """The text between the quotes of a field."""
        word = self.word(field)
        return None if word is None else word[1:-1]

    def nodes(self, *fields: str, or_else: str = "") -> list[str]:
        """The nodes behind terminals' words; one that is missing is an error and gives "".

        Parameters
        ----------
        fields : str
            The terminals.
        or_else : str
            What could be written for all that are missing, beside their nodes.
        """
        nodes = [self.word(field) for field in fields]
        absent = [field for field, node in zip(fields, nodes, strict=True) if node is None]
        if absent:
            listed = " and no ".join(f'"{field}"' for field in absent)
            add = " ".join(f"{field} NODE" for field in absent)
            alternative = ", or " + or_else.format(*absent) if or_else and len(absent) == 1 else ""
            self.missing(f"has no {listed} node", f'add "{add}"{alternative}')
        return [node or "" for node in nodes]

    def missing(self, what: str, fix: str) -> None:
        """Complain that the line lacks something, unless a syntax error may have eaten it."""
        if not self.is_lossy:
            subject = f"{self.kind} {self.words[0]}" if self.words else f"the {self.kind} line"
            self.report("missing-field", self.word_spans[0] if self.words else self.kind_span,
                        f"{subject} {what}", "", fix)  # fmt: skip

    def has_values(self, plain: Mapping[str, Quantity], **wanted: Slot) -> bool:
        """Whether all the quantities wanted are there; complains about those that are not.

        Parameters
        ----------
        plain : mapping of str to Quantity
            What there is, from `plain`.
        wanted : Slot
            What there should be, by field name.
        """
        absent = [slot for name, slot in wanted.items() if name not in plain]
        # A value that was there and could not be read has been complained of.
        if absent and not self._unread and not self.is_lossy and not self._node_missing():
            nouns = " and its ".join(slot.noun.removeprefix(f"{self.kind} ") for slot in absent)
            examples = " ".join(slot.example for slot in absent)
            self.missing(f"lacks its {nouns}", f"add it, such as {examples}")
        return not absent

    def _node_missing(self) -> bool:
        """Whether a value was taken for the node in front of it; that is complained about."""
        for tree in walk(self._tree):
            token = next((token for token in tokens_of(tree) if token.type == "NODE"), None)
            if token is not None and _read_or_none(str(token)) is not None:
                self.report("name-missing", token_span(token, self._line.number),
                            "the name of a node is missing here", f'"{token}" was taken for it',
                            f'write it in front of "{token}"')  # fmt: skip
                return True
        return False

    def keyed(self, field: str, *slots: Slot) -> Quantity | None:
        """The quantity behind a key word, held against one or more slots."""
        tree = self.one(field)
        return None if tree is None else self.quantity(next(walk(tree)), *slots)

    def quantity(self, tree: Tree[Token], *slots: Slot) -> Quantity | None:
        """The quantity of one quantity field, held against slots."""
        return self.value(tokens_of(tree), self.span(tree), *slots)

    def value(self, words: Sequence[str], span: Span, *slots: Slot) -> Quantity | None:
        """The quantity that a figure and the words for its unit say, held against slots."""
        quantity = self._read(words, span)
        return None if quantity is None else self.fit(quantity, span, *slots)

    def as_read(self, tree: Tree[Token]) -> Quantity | None:
        """The quantity of one quantity field, held against nothing."""
        return self._read(tokens_of(tree), self.span(tree))

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
            span = self.span(tree)
            quantity = self._read(tokens_of(tree), span)
            name = None if quantity is None else self._slot_name(quantity, span, slots, bare)
            if quantity is None or name is None:
                self._unread = True
            elif name in self.marks:
                others = [slot for other, slot in slots.items() if other not in self.marks]
                if quantity.dimension is None and not quantity.prefix and others:
                    self._unitless(span, others)
                else:
                    self.doubled(f"the {slots[name].noun}", span, self.marks[name])
            else:
                self.marks[name] = span
                fitted = self.fit(quantity, span, slots[name])
                if fitted is None:
                    self._unread = True
                else:
                    taken[name] = fitted
        return taken

    def _unitless(self, span: Span, slots: Sequence[Slot]) -> None:
        wanted = ", ".join(f"{slot.noun} ({slot.example})" for slot in slots)
        self.report("wrong-unit", span, f'"{self._typed(span)}" has no unit',
                    f"expected: {wanted}", "add its unit, or take it out")  # fmt: skip
        self._unread = True

    def _slot_name(
        self, quantity: Quantity, span: Span, slots: Mapping[str, Slot], bare: str
    ) -> str | None:
        """Into which slot a quantity goes; into none is an error."""
        if quantity.dimension is None:
            return bare
        for name, slot in slots.items():
            if slot.takes(quantity.dimension):
                return name
        self._misfit(span, tuple(slots.values()))
        return None

    def _read(self, words: Sequence[str], span: Span) -> Quantity | None:
        if self._is_torn(words, span):
            return None
        text, unit = str(words[0]), "".join("".join(words[1:]).split())
        if unit in _PREFIX_ALONE:
            text, unit = text + unit, ""
        if self.kind == "diode" and _TYPE_NUMBER.fullmatch(text):
            self.report("misplaced-word", span, f"{text} is a type number, not a value", "",
                        f'write "type {text}"')  # fmt: skip
            return None
        try:
            return read(text, unit or None)
        except ValueProblem as problem:
            alone = _read_or_none(text) if unit else None
            if alone is None or alone.dimension is None:
                self.report("unreadable-value", span, problem.what, problem.expected, problem.fix)
                return None
        second = words[1]
        place = token_span(second, self._line.number) if isinstance(second, Token) else span
        self.report("value-missing", place, f'a value is missing before "{second}"',
                    f"{text} has its unit already")  # fmt: skip
        return alone

    def _is_torn(self, words: Sequence[str], span: Span) -> bool:
        """Whether a word that was left out stands in a quantity, or where its unit should."""
        if not self.is_lossy:
            return False
        behind = self._line.text[span.end - 1 :]
        next_column = span.end + len(behind) - len(behind.lstrip())
        is_bare = len(words) == 1 and str(words[0])[-1:].isdigit()
        gap = "".join(words) != "".join(self._typed(span).split())
        return gap or (is_bare and next_column in self._line.skipped)

    def fit(self, quantity: Quantity, span: Span, *slots: Slot) -> Quantity | None:
        """The quantity as the first slot that takes it wants it."""
        slot = _slot_for(quantity, slots)
        if slot is None:
            self._misfit(span, slots)
            return None
        try:
            fitted = quantity.as_(slot.dimension)
        except ValueProblem as problem:
            fix = problem.fix or f"write it with its unit, such as {slot.example}"
            self.report("wrong-unit", span, problem.what, problem.expected, fix)
            return None
        if not slot.low <= fitted.nominal <= slot.high:
            self._absurd(fitted, span, slot)
            return None
        return fitted

    def _misfit(self, span: Span, slots: Sequence[Slot]) -> None:
        wanted = ", ".join(f"{slot.noun} ({slot.example})" for slot in slots)
        self.report("wrong-unit", span, f'"{self._typed(span)}" does not fit here',
                    f"expected: {wanted}", "correct its unit, or take it out")  # fmt: skip

    def _absurd(self, quantity: Quantity, span: Span, slot: Slot) -> None:
        """Complain about a value that is not believable."""
        dimension = slot.dimension
        limits = f"{write_exact(slot.low, dimension)} and {write_exact(slot.high, dimension)}"
        fix = "look for a slip in the figures or the unit"
        if slot.high < 0.0 < quantity.nominal:
            fix = "a voltage below ground is written with its sign"
        elif quantity.nominal <= 0.0 < slot.low:
            fix = "write it without a sign" if quantity.nominal else slot.if_zero
        a = "an" if slot.noun[0] in "aeiou" else "a"
        self.report("absurd-value", span, f'"{self._typed(span)}" cannot be {a} {slot.noun}',
                    f"one between {limits} is believable", fix)  # fmt: skip

    def _typed(self, span: Span) -> str:
        return self._line.text[span.column - 1 : span.end - 1]

    def doubled(self, called: str, span: Span, first: Span, hint: str = "") -> None:
        """Complain about a thing that is said twice, unless the line has lost its order."""
        if self.is_lossy:
            return
        self.report("doubled-field", span, f"{called} is given twice", "one of the two is wrong",
                    f"keep the right one{hint}",
                    (Related(first, "it was given here first"),))  # fmt: skip


def _slot_for(quantity: Quantity, slots: Sequence[Slot]) -> Slot | None:
    if quantity.dimension is not None:
        return next((slot for slot in slots if slot.takes(quantity.dimension)), None)
    if quantity.prefix:  # 470k is a resistance, 100n a capacitance
        return next((slot for slot in slots if _can_be(quantity, slot)), slots[0])
    return slots[0]


def _can_be(quantity: Quantity, slot: Slot) -> bool:
    try:
        quantity.as_(slot.dimension)
    except ValueProblem:
        return False
    return True


def _read_or_none(text: str) -> Quantity | None:
    try:
        return read(text)
    except ValueProblem:
        return None
