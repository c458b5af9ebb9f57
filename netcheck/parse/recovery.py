"""How the parser goes on after a syntax error, so that one mistake gives one finding.

A word that is nearly a key word is taken for it. Any other word is left out, and so are, in
silence, those that follow it without a word between them that could be understood. What
cannot be guessed ends the line there.
"""

from __future__ import annotations

import re
import string
from collections.abc import Iterable, Mapping

from lark import Token
from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken

from ..finding import Finding, Severity
from ..source import Source, Span
from .words import MEANT, UNITS, Wording, clip, nearest

_PHRASES = {
    "NAME": "a name for the part",
    "PART_NAME": "the name of a part",
    "METER_NAME": "the name of a meter",
    "THING": "the name of a node or a part",
    "FILE": "the name of a circuit file",
    "NODE": "the name of a node",
    "TYPE": "a type number",
    "VALUE": "a value",
    "HALVES": "volts either side of the centre, such as 50-0-50",
    "COLOUR": "a colour",
    "STRING": "a text in double quotes",
}
_NAMES = frozenset({"NAME", "NODE", "TYPE", "PART_NAME", "METER_NAME", "FILE"})
_SELDOM = frozenset({"NOTE", "YEAR", "$END", "UNIT", "SORT"})  # told only if nothing else fits
_BETWEEN = f"{string.whitespace},;"  # what can stand between words
_CURLY = re.compile("[\N{LEFT DOUBLE QUOTATION MARK}\N{RIGHT DOUBLE QUOTATION MARK}'"
                    "\N{DOUBLE LOW-9 QUOTATION MARK}\N{LEFT SINGLE QUOTATION MARK}"
                    "\N{LEFT-POINTING DOUBLE ANGLE QUOTATION MARK}]")  # fmt: skip
_TURNED = re.compile("(?:anti|counter)-?clockwise", re.IGNORECASE)
_WHERE_CLOCKWISE = 'say where clockwise goes: "clockwise top" or "clockwise bottom"'
_VERY_LIKE = 0.8
_NUMBERED = re.compile("[A-Za-z]+[0-9]+[A-Za-z]?")
_FIGURE = re.compile("[-+\N{MINUS SIGN}]?[.]?[0-9]")
_TYPE_NUMBER = re.compile("[A-Za-z]+[0-9]+[A-Za-z0-9]*")
_CODE_WITHOUT_FIGURE = re.compile("[RrKkMnpu][0-9]+")


class Vocabulary:
    """The words of a grammar.

    Parameters
    ----------
    words : mapping of str to list of str
        The spellings of each terminal that is a key word, in lower case; none for others.
    first : iterable of str
        The terminals that a line can begin with.
    unit : str
        The pattern of a unit.
    wording : Wording
        How its lines are spoken of.

    Attributes
    ----------
    kinds : frozenset of str
        The key words that a line can begin with, in lower case.
    names_first : bool
        Whether a line can begin with a name, of a node or a part, as well.
    """

    def __init__(
        self, words: Mapping[str, list[str]], first: Iterable[str], unit: str, wording: Wording
    ) -> None:
        self.wording = wording
        self._words = words
        self._unit = re.compile(unit)
        self._terminals = {word: name for name, known in words.items() for word in known}
        first = frozenset(first)
        self.kinds = frozenset(word for name in first for word in words.get(name, ()))
        self.names_first = "THING" in first

    def terminal(self, word: str) -> str | None:
        """The terminal that a key word is, None for other words."""
        return self._terminals.get(word.lower())

    def is_kind(self, word: str) -> bool:
        """Whether a line can begin with this word."""
        return word.lower() in self.kinds

    def is_unit(self, word: str) -> bool:
        """Whether this word is a unit."""
        return self._unit.fullmatch(word) is not None

    def meant(self, word: str, wanted: Iterable[str]) -> str | None:
        """The key word among the terminals wanted that was probably meant."""
        if self.terminal(word):
            return None
        known = [each for name in sorted(wanted) for each in self._words.get(name, ())]
        other = MEANT.get(word.lower())
        return other if other in known else nearest(word, known)

    def phrase(self, wanted: Iterable[str]) -> str:
        """The terminals in words, for "expected here: ..."."""
        names = sorted(set(wanted) - _SELDOM) or sorted(set(wanted) & {"NOTE", "YEAR"})
        phrases = [p for n in names if (p := _PHRASES.get(n) or " or ".join(self._words[n]))]
        return ", ".join(phrases) or "the end of the line"


class Recovery:
    """Collects the syntax errors of one line; lark calls `take` for each.

    Parameters
    ----------
    source : Source
        The text.
    number : int
        Line number. [count]
    text : str
        The line as it is parsed.
    vocabulary : Vocabulary
        The words of the grammar.
    quote : int or None
        Where a quotation mark stands that was not closed, and has been complained of. [count]
    """

    def __init__(
        self, source: Source, number: int, text: str, vocabulary: Vocabulary, quote: int | None
    ) -> None:
        self.lossy = False
        self.skipped: set[int] = set()
        self.cut = 0
        self._source = source
        self._number = number
        self._text = text
        self._vocabulary = vocabulary
        self._quote = quote
        self._noted: dict[int, Finding] = {}
        self._quiet_until: int | None = None

    @property
    def findings(self) -> list[Finding]:
        """What was noted, from left to right."""
        return [self._noted[start] for start in sorted(self._noted)]

    def begin(self) -> None:
        """Get ready for another pass over the line; what is met again is not noted again."""
        self._quiet_until = None
        self.cut = 0

    def take(self, error: UnexpectedInput) -> bool:
        """Note the error unless it only follows from the one before.

        Returns
        -------
        bool
            True to go on behind it; False to end the line at `cut`.
        """
        if isinstance(error, UnexpectedCharacters):
            return self._stray_sign(error.pos_in_stream or 0)
        if not isinstance(error, UnexpectedToken):
            return False
        token, start = error.token, error.token.start_pos or 0
        if token.type == "$END":
            return self._early_end(start, token.end_pos or 0, _accepted(error))
        follows = self._follows(start) or start == self._quote
        self._quiet_until = start + len(token)
        if follows:
            self._skip(start)
            return True
        return self._word(error, token, _accepted(error))

    def _skip(self, start: int) -> None:
        self.lossy = True
        self.skipped.add(start + 1)

    def _follows(self, start: int) -> bool:
        """Whether there is nothing that was understood since the last error."""
        last = self._quiet_until
        return last is not None and not self._text[last:start].strip(_BETWEEN)

    def _note(self, slug: str, start: int, end: int, what: str, why: str, fix: str = "") -> None:
        span = Span(self._number, start + 1, max(end, start + 1) + 1)
        finding = Finding(slug, Severity.ERROR, self._source, span, what, why, fix)
        self._noted.setdefault(start, finding)

    def _stray_sign(self, start: int) -> bool:
        """What can stand nowhere: a comma or a semicolon. One is told of for all in the line."""
        sign = self._text[start]
        if all(finding.slug != "stray-sign" for finding in self._noted.values()):
            self._note("stray-sign", start, start + 1, f'"{sign}" cannot stand here',
                       "words and values are separated by blanks",
                       "put a blank in its place")  # fmt: skip
        return True

    def _early_end(self, last: int, end: int, wanted: set[str]) -> bool:
        self.cut = last
        self.lossy = True
        if not self._follows(end) and not self._noted_behind(last):
            word = clip(self._text[last:end])
            self._note("line-too-short", end, end + 1, f"the line ends behind {_quoted(word)}",
                       f"expected here: {self._vocabulary.phrase(wanted)}")  # fmt: skip
        return False

    def _noted_behind(self, start: int) -> bool:
        return any(place >= start for place in self._noted)

    def _word(self, error: UnexpectedToken, token: Token, wanted: set[str]) -> bool:
        """A word that does not fit: find out what it is, and go on accordingly."""
        start = token.start_pos or 0
        before = _last_token(error)
        if terminal := self._of_a_value(token, before, wanted):
            self._quiet_until = None
            return self._go_on_as(error, terminal, str(token))  # reading the value will tell
        if self._is_other_line(token, before, start):
            return False
        misread = before if before and self._is_misread(before, token, wanted) else None
        meant = self._vocabulary.meant(token, wanted)
        if meant and not (misread and nearest(token, [meant], _VERY_LIKE) is None):
            turned = _TURNED.fullmatch(token) is not None
            self._note("unknown-word", start, start + len(token),
                       f"{_quoted(clip(token))} is not understood here",
                       f"expected here: {self._vocabulary.phrase(wanted)}",
                       _WHERE_CLOCKWISE if turned else f'did you mean "{meant}"?')  # fmt: skip
            return self._go_on_as(error, self._vocabulary.terminal(meant) or "", meant)
        self._skip(start)
        if misread:
            return self._name_missing(misread)
        if self._vocabulary.is_kind(token) and len(self._text[start:].split()) > 2:
            return self._second_line(token, start)
        return self._unknown(token, wanted)

    def _go_on_as(self, error: UnexpectedToken, terminal: str, text: str) -> bool:
        error.interactive_parser.feed_token(Token.new_borrow_pos(terminal, text, error.token))
        return True

    def _second_line(self, token: Token, start: int) -> bool:
        wording = self._vocabulary.wording
        self._note("two-in-a-line", start, start + len(token),
                   f"a second {wording.line} begins here with {_quoted(clip(token))}",
                   wording.rule, "begin a new line here")  # fmt: skip
        self.cut = start
        return False

    def _is_other_line(self, token: Token, before: Token | None, start: int) -> bool:
        """Whether the line is of another kind than its first word said, or is two lines."""
        if self._starts_reading(token, before):
            self._second_line(token, start)
            return True
        if before is None or before.type != "THING" or self._text[: before.start_pos].strip():
            return False
        kind = nearest(before, sorted(self._vocabulary.kinds))
        if kind is None:
            return False
        # A first word that is no key word was taken for a name, and is none.
        self._note("unknown-word", before.start_pos or 0, before.end_pos or 0,
                   f"{_quoted(clip(before))} is not understood here", "",
                   f'did you mean "{kind}"?')  # fmt: skip
        self.lossy = True
        return True

    def _starts_reading(self, token: Token, before: Token | None) -> bool:
        """Whether a name, numbered as nodes and parts are, is followed by what is read there."""
        if not self._vocabulary.names_first or before is not None:
            return False
        if not _NUMBERED.fullmatch(token):
            return False
        behind = self._text[token.end_pos :].split()
        return bool(behind) and _FIGURE.match(behind[0]) is not None

    def _of_a_value(self, token: Token, before: Token | None, wanted: set[str]) -> str:
        """The terminal for what is no value, or no unit of one, and was meant for it."""
        if token.type == "HALVES" and "VALUE" in wanted:
            return "VALUE"
        return "UNIT" if self._is_unit(token, before, wanted) else ""

    def _is_unit(self, token: Token, before: Token | None, wanted: set[str]) -> bool:
        """Whether this word, directly behind a figure, was meant for its unit."""
        if "UNIT" not in wanted or before is None or before.type not in ("VALUE", "HALVES"):
            return False
        if self._vocabulary.terminal(token) or not token.isalpha():
            return False
        return len(token) <= 2 or nearest(token, UNITS) is not None

    def _is_misread(self, before: Token, token: Token, wanted: set[str]) -> bool:
        """Whether the word before was taken for a name and is none.

        That is so if it is a key word that could stand here, or a figure with its unit
        behind it.
        """
        if before.type not in _NAMES:
            return False
        if self._vocabulary.terminal(before) in wanted:
            return True
        return before[:1].isdigit() and self._vocabulary.is_unit(token)

    def _name_missing(self, misread: Token) -> bool:
        start = misread.start_pos or 0
        self._note("name-missing", start, start + len(misread),
                   f"{_PHRASES[misread.type]} is missing here",
                   f"{_quoted(clip(misread))} was taken for it",
                   f"write it in front of {_quoted(clip(misread))}")  # fmt: skip
        # With a wrong node the rest can be read; a part without a name cannot.
        return misread.type == "NODE"

    def _unknown(self, token: Token, wanted: set[str]) -> bool:
        start = token.start_pos or 0
        word = self._typed(start)
        before = self._text[:start].split()
        is_key_word = self._vocabulary.terminal(token) is not None
        slug, what = "unknown-word", f"{_quoted(clip(word))} is not understood here"
        if token.type == "STRING":
            slug, what = "misplaced-word", "a text in quotes cannot stand here"
        elif is_key_word and wanted <= _PHRASES.keys():
            slug = "value-missing"
            what = f'{self._vocabulary.phrase(wanted)} is missing before "{token}"'
        elif is_key_word and "NOTE" in wanted:
            slug, what = "misplaced-word", f'"{token}" does not belong in a {before[0]} line'
        expected = f"expected here: {self._vocabulary.phrase(wanted)}"
        self._note(slug, start, start + len(word), what,
                   "" if slug == "value-missing" else expected,
                   self._hint(token, word, wanted))  # fmt: skip
        return bool(before)  # where the kind of line is not known there is nothing to go on with

    def _typed(self, start: int) -> str:
        match = re.compile(r'"[^"]*"|[^\s#",;]+').match(self._text, start)
        return match[0] if match else self._text[start : start + 1]

    def _hint(self, token: Token, word: str, wanted: set[str]) -> str:
        """The likely remedy for a word that is near no key word."""
        rest = clip(self._text[token.start_pos :].partition("#")[0].strip())
        before = self._text[: token.start_pos].split()
        hints = (
            (token.lower() == "to" and "OL" in wanted and len(before) == 1,
             f"write a reading between two nodes with from: from {clip(' '.join(before))} {rest}"),
            (token.type == "STRING" and "NOTE" in wanted, f'a remark is written: note {word}'),
            (_CURLY.match(word), 'use the straight quotation mark, "'),
            (wanted == {"STRING"}, f'put quotation marks around it: "{rest}"'),
            (self._vocabulary.terminal(token) == "COLOUR" and "BANDS" in wanted,
             f'write "bands" in front of {_quoted(word)}'),
            (_TYPE_NUMBER.fullmatch(word) and "TYPE_WORD" in wanted, f'write "type {word}"'),
            (_CODE_WITHOUT_FIGURE.fullmatch(word) and "VALUE" in wanted,
             f"a value begins with a figure: write 0{word}"),
        )  # fmt: skip
        return next((hint for fits, hint in hints if fits), "")


def _accepted(error: UnexpectedToken) -> set[str]:
    return {str(name) for name in error.accepts or error.expected}


def _last_token(error: UnexpectedToken) -> Token | None:
    """The word before, if it has not been taken into a field yet."""
    stack = error.interactive_parser.parser_state.value_stack
    return stack[-1] if stack and isinstance(stack[-1], Token) else None


def _quoted(word: str) -> str:
    return word if word.startswith('"') else f'"{word}"'
