"""Files to be read that nobody would write: from the grammars, and from shipped files damaged.

The same seed and number give the same file, in whatever order and by how many processes they
are made.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from netcheck.resources import folder

from .grammars import CIRCUIT, SHEET, drawn

CHUNK = 500
"""Inputs that are made together, from lines drawn once for all of them. [count]"""

_DRAWN = 60  # lines of each grammar in each manner for a chunk [count]
_ENDING = {CIRCUIT: ".bias", SHEET: ".readings"}
_MOST_DAMAGE = 6
_VALUE = re.compile(r"(?<=\s)[-+]?\d[\d.]*[kMnpu%]?\d*(?=\s)")
_AT_NODE = re.compile(rb"\b(?:from|to|plus|minus|top|wiper|bottom|anode|cathode|grid) +([a-z]\S*)")
_USUAL_VALUES = ("1k", "4k7", "10k", "27k", "100k", "220k", "1M", "10", "47", "100", "230", "0.5")
_ODD_VALUES = (
    "0",
    "1e9",
    "0.01",
    "1",
    "10",
    "4k7",
    "220k",
    "1G",
    "100",
    "-3",
    "1,5",
    "900%",
    "9" * 40,
)
_ODD_BYTES = (
    b"\0",
    b"\xff",
    b"\r",
    b"\r\n",
    b"\x1b[2J",
    b"\xe2\x80\xae",
    b"\xf0\x9f\x98",
    b"\xef\xbb\xbf",
)
_WORDS = ("from", "to", "at", "ground", "open", "note", '"', '" "', "#", ",", "year", "-", "with", "lifted", "pot", "link")  # fmt: skip


@dataclass(frozen=True, slots=True)
class Input:
    """A file to be read.

    Parameters
    ----------
    number : int
        Which one it is of its seed. [count]
    kind : str
        How it was made.
    name : str
        What the file is called.
    body : bytes
        What is in it.
    """

    number: int
    kind: str
    name: str
    body: bytes


def inputs(seed: int, first: int, count: int) -> Iterator[Input]:
    """So many of the inputs of a seed.

    Parameters
    ----------
    seed : int
        The seed.
    first, count : int
        The number of the first, and how many. [count]
    """
    for number in range(first, first + count):
        yield _input(seed, number)


def _input(seed: int, number: int) -> Input:
    random = Random(f"{seed} {number}")
    grammar = random.choice((CIRCUIT, SHEET))
    kind = random.choices(
        ("changed", "mutated", "grammar", "words", "mixed", "noise"), (25, 32, 10, 13, 18, 2)
    )[0]  # fmt: skip
    if kind == "changed":
        body = _changed(random, grammar)
    elif kind == "mutated":
        body = _mutated(random, grammar)
    elif kind == "noise":
        body = random.randbytes(random.randrange(400))
    else:
        body = _composed(random, grammar, kind, _pool(seed, number // CHUNK, grammar))
    stem = f"{kind} {'circuit' if grammar == CIRCUIT else 'sheet'}"
    return Input(number, stem, f"it{_ENDING[grammar]}", body)


@functools.lru_cache(maxsize=4)
def _pool(seed: int, chunk: int, grammar: str) -> dict[str, list[str]]:
    """Lines that a grammar gives, words apart or not."""
    number = Random(f"{seed} {chunk} {grammar}").getrandbits(32)
    return {
        "grammar": drawn(grammar, _DRAWN, number, apart=False),
        "words": drawn(grammar, _DRAWN, number, apart=True),
    }


def _composed(random: Random, grammar: str, kind: str, pool: dict[str, list[str]]) -> bytes:
    """Lines of the grammar, alone or put into a shipped file."""
    made = pool[random.choice(("grammar", "words")) if kind == "mixed" else kind]
    lines = random.choices(made, k=random.randint(1, 4 if kind == "mixed" else 10))
    if kind == "mixed":
        text = random.choice(shipped(grammar)).decode().split("\n")
        for line in lines:
            text.insert(random.randint(0, len(text)), line)
        lines = text
    return "\n".join(lines).encode()


@functools.cache
def shipped(grammar: str) -> tuple[bytes, ...]:
    """The files that come with the program, the faulty ones among them."""
    found = sorted(folder("circuits").glob(f"**/*{_ENDING[grammar]}"))
    return tuple(path.read_bytes() for path in found)


def _changed(random: Random, grammar: str) -> bytes:
    """A shipped file that somebody has made another one of: most of them are legal."""
    body = random.choice(shipped(grammar))
    for _ in range(random.randint(1, 4)):
        how = random.choices((_plausible, _node, _line), (6, 3, 1))[0]
        body = how(random, body, grammar)
    return body


def _plausible(random: Random, body: bytes, _: str) -> bytes:
    """A value replaced by one that may stand there."""
    found = list(_VALUE.finditer(body.decode()))
    match = random.choice(found)
    alike = [other[0] for other in found if other[0][-1:].isdigit() == match[0][-1:].isdigit()]
    new = random.choice((random.choice(alike), random.choice(_USUAL_VALUES)))
    return (match.string[: match.start()] + new + match.string[match.end() :]).encode()


def _node(random: Random, body: bytes, _: str) -> bytes:
    """A part moved to another node."""
    found = list(_AT_NODE.finditer(body))
    if not found:
        return body
    match, other = random.choice(found), random.choice(found)
    return body[: match.start(1)] + other[1] + body[match.end(1) :]


def _mutated(random: Random, grammar: str) -> bytes:
    """A shipped file, damaged."""
    body = random.choice(shipped(grammar))
    for _ in range(random.randint(1, _MOST_DAMAGE)):
        how = random.choices((_value, _word, _line, _spliced, _byte), (30, 30, 25, 5, 10))[0]
        body = how(random, body, grammar)
    return body


def _byte(random: Random, body: bytes, _: str) -> bytes:
    """A byte or a few put in, left out or changed."""
    at = random.randrange(len(body) + 1)
    put = random.choice((*_ODD_BYTES, b"", bytes([random.randrange(256)])))
    return body[:at] + put + body[at + random.randrange(3) :]


def _value(random: Random, body: bytes, _: str) -> bytes:
    """A value replaced by another: often the file stays a legal one."""
    found = list(_VALUE.finditer(body.decode("utf-8", "surrogateescape")))
    if not found:
        return body
    match = random.choice(found)
    near = random.choice(found)[0] if random.random() < 0.5 else random.choice(_ODD_VALUES)
    text = match.string[: match.start()] + near + match.string[match.end() :]
    return text.encode("utf-8", "surrogateescape")


def _word(random: Random, body: bytes, _: str) -> bytes:
    """A word left out, put in twice, exchanged for another of the file or of the language."""
    words = re.split(rb"(\s+)", body)
    at = random.randrange(len(words))
    how = random.randrange(4)
    if how == 0:
        del words[at]
    elif how == 1:
        words.insert(at, words[at])
    elif how == 2:
        words[at] = random.choice(words)
    else:
        words.insert(at, b" " + random.choice(_WORDS).encode() + b" ")
    return b"".join(words)


def _line(random: Random, body: bytes, _: str) -> bytes:
    """A line left out, doubled, moved, or cut."""
    lines = body.split(b"\n")
    at = random.randrange(len(lines))
    how = random.randrange(4)
    if how == 0:
        del lines[at]
    elif how == 1:
        lines.insert(random.randint(0, len(lines)), lines[at])
    elif how == 2:
        lines.insert(random.randint(0, len(lines) - 1), lines.pop(at))
    else:
        lines[at] = lines[at][: random.randint(0, len(lines[at]))]
    return b"\n".join(lines)


def _spliced(random: Random, body: bytes, grammar: str) -> bytes:
    """The beginning of it and the end of another, perhaps of the other language."""
    other = random.choice(
        shipped(grammar if random.random() < 0.8 else random.choice((CIRCUIT, SHEET)))
    )
    ours, theirs = body.split(b"\n"), other.split(b"\n")
    return b"\n".join(
        ours[: random.randint(0, len(ours))] + theirs[random.randint(0, len(theirs)) :]
    )
