"""What an arrangement is made of: pieces of a circuit file and the questions that fill them."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

Answers = Mapping[str, str]
"""What was answered, by the key of the question; what is missing counts as `TYPICAL`."""

TYPICAL = "typical"
"""The answer that takes the typical value."""

OUT = "-"
"""The answer that leaves a part or a field out."""

MOST_VALVES = 8
"""The valves that one bias line is drawn with at most. [count]"""


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Parameters
    ----------
    key : str
        Its name in options, in a draft and in the summary: a designator of the drawing, with
        what is asked behind a point ("T1.source"), or a word.
    ask : str
        What is asked, in a few words.
    typical : str
        The answer that Enter gives; `OUT` where the part is usually not there.
    help : str
        What to look for, and how to write it.
    may_be_left_out : bool
        Whether `OUT` is an answer.
    write : str
        How the answer stands in the line of the file, "{}" for the answer; the rest as in
        the head of a piece.
    choices : mapping of str to str
        Where only some words will do: each with what it writes.
    fills : str
        The field of the part that the answer fills; when an earlier answer about the same
        part has filled it already, the question is not asked.
    joins : bool
        Whether it says to which node the part is joined; then its answer always stands in the
        line, directly behind the head.
    """

    key: str
    ask: str
    typical: str
    help: str
    may_be_left_out: bool = False
    write: str = "{}"
    choices: Mapping[str, str] = field(default_factory=dict)
    fills: str = ""
    joins: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """One line of the file, or one for each valve.

    Parameters
    ----------
    head : str
        How the line begins, with "@" before each node and "{n}" for the number of the valve,
        "{s}" for its side, 1 or 2, of a push-pull stage; "" for a piece without a line.
    comment : str
        The comment on the line.
    questions : tuple of Question
        What is asked, in this order; leaving out the first leaves the piece out.
    joined : tuple of str or None
        When the piece is left out: the node that goes, and the node that is left in its place.
        None when nothing takes its place.
    """

    head: str
    comment: str
    questions: tuple[Question, ...]
    joined: tuple[str, str] | None = None

    @property
    def kind(self) -> str:
        """The first word of the line."""
        return self.head.partition(" ")[0]

    @property
    def is_part(self) -> bool:
        """Whether the line is a part with a name, and not the title or the mains."""
        return len(self.head.split()) > 1

    @property
    def for_each_valve(self) -> bool:
        """Whether there is one line for each valve."""
        return "{n}" in self.head


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A way in which bias sections are built.

    Parameters
    ----------
    key : str
        Its name in options.
    title : str
        What it is, in the words of the trade.
    about : str
        A sentence or two on how it works, for the head of the file.
    drawing : str
        A small drawing in plain characters: supply left, grids right, ground below.
    pieces : tuple of Piece
        In the order in which they are read off a schematic, from the supply to the grids.
    outside : tuple of str
        Nodes that go on outside the section.
    """

    key: str
    title: str
    about: str
    drawing: str
    pieces: tuple[Piece, ...]
    outside: tuple[str, ...] = ()

    @property
    def questions(self) -> tuple[Question, ...]:
        """All questions, in their order."""
        return tuple(question for piece in self.pieces for question in piece.questions)

    def question(self, key: str) -> Question | None:
        """The question of that key, in any case; None if there is none."""
        return next((q for q in self.questions if q.key.lower() == key.lower()), None)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that looks most like `word`, None if none does."""
    by_lower = {k.lower(): k for k in known}
    near = difflib.get_close_matches(word.lower(), by_lower, n=1)
    return by_lower[near[0]] if near else None


# ------------------------------------------------- pieces that many arrangements share

_NAMING = 'To use the name on your schematic, write it in front: "{}".'
_RESISTOR_HELP = (
    "Write its value, then tolerance and rating if you know them: 4k7, 470 ohm 10% 1 W, or "
    "its colours: bands yellow violet red gold. " + _NAMING.format("R47: 4k7")
)
_CAPACITOR_HELP = (
    "Write its value and its rated voltage: 47 uF 100 V, or 100n 630 V. "
    + _NAMING.format("C12: 47 uF 100 V")
)


def title(typical: str) -> Piece:
    """The line that names the circuit."""
    ask = "Title, such as the amplifier and what is special"
    text = "Any text without quotation marks. The file is named after it."
    return Piece("circuit", "", (Question("title", ask, typical, text, write='"{}"'),))


def mains(typical: str = "230 V 50 Hz") -> Piece:
    """The mains line."""
    ask = "Mains volts and frequency, from the nameplate"
    text = (
        "The mains for which the schematic states its volts. If you measured the mains, add "
        "it: 230 V 50 Hz actual 236 V."
    )
    return Piece("mains", "", (Question("mains", ask, typical, text),))


def winding(head: str, volts: str, source: str, ask: str, *more: Question) -> Piece:
    """A winding, its volts and its source resistance asked, and `more` between the two."""
    text = (
        "Alternating volts from the schematic, or as measured. Volts measured under load go "
        "with their current: 45 Vac at 20 mA."
    )
    if "centre" in head:
        text = "The volts of each half, written 50-0-50 Vac."
    source_text = (
        "Measure across the winding with the power off and one end free; add the primary's "
        "share if you know it. Left out, 1 ohm for each volt is taken."
    )
    questions = (
        Question("T1", f"T1, {ask}", volts, text),
        *more,
        Question("T1.source", "Source resistance of T1", source, source_text,
                 may_be_left_out=True, write="source {}", fills="source"),
    )  # fmt: skip
    return Piece(head, ask, questions)


def resistor(
    head: str,
    role: str,
    typical: str,
    *,
    key: str = "",
    joined: tuple[str, str] | None = None,
    hint: str = "",
) -> Piece:
    """A resistor that may be left out: `joined` for one in series, none for one across."""
    text = f"{hint} {_RESISTOR_HELP}"
    return _one(head, role, typical, text, key=key, joined=joined, may_be_left_out=True)


def needed_resistor(head: str, role: str, typical: str) -> Piece:
    """A resistor without which the arrangement would be another one."""
    return _one(head, role, typical, _RESISTOR_HELP)


def capacitor(
    head: str, role: str, typical: str, *, key: str = "", needed: bool = False, hint: str = ""
) -> Piece:
    """A capacitor; it may be left out unless it is needed."""
    text = f"{hint} {_CAPACITOR_HELP}"
    return _one(head, role, typical, text, key=key, may_be_left_out=not needed)


def diode(head: str, role: str = "rectifier", typical: str = "type 1N4007") -> Piece:
    """A rectifier."""
    text = (
        "Write type 1N4007, or the reverse volts it stands: 400 V. For other kinds write "
        "selenium 200 V or vacuum 500 V; drop 2 V adds a forward drop you know."
    )
    return _one(head, role, typical, text)


def zener(head: str, typical: str) -> Piece:
    """A zener diode."""
    text = "Write its volts, then tolerance and rating if you know them: 47 V 5% 1.3 W."
    return _one(head, "zener", typical, text)


def supply(head: str, volts: str, source: str) -> Piece:
    """A direct supply and its internal resistance."""
    text = "Its volts as measured against ground at idle, without the sign."
    source_text = "The resistance of what makes it, if you know it. Left out, none is taken."
    return Piece(head, "negative supply", (
        Question("S1", "S1, negative supply", volts, text),
        Question("S1.source", "Source resistance of S1", source, source_text,
                 may_be_left_out=True, write="source {}", fills="source"),
    ))  # fmt: skip


def _one(
    head: str,
    role: str,
    typical: str,
    text: str,
    *,
    key: str = "",
    joined: tuple[str, str] | None = None,
    may_be_left_out: bool = False,
) -> Piece:
    """A part with one question; those there for each valve have a word for their key."""
    name = head.split()[1]
    called = f"{name.format(n='1')} and so on" if key else name
    question = Question(key or name, f"{called}, {role}", typical, text.strip(), may_be_left_out)
    return Piece(head, role.partition(",")[0], (question,), joined)


def pot(
    head: str, role: str, typical: str, clockwise: str, *more: Question, key: str = ""
) -> Piece:
    """A pot with its track, its taper and its sense of rotation."""
    name = head.split()[1].format(n="1")
    key, called = key or name, f"{name} and so on" if key else name
    track = "Its end-to-end resistance, and its tolerance if marked: 10k 20%. " + _NAMING.format(
        "VR2: 10k"
    )
    taper = "linear is usual for a trimmer; audio, reverse audio or audio mid 15% for others."
    sense = (
        "The end of the drawing that the wiper goes to when turned clockwise. If you do not "
        "know, take the typical answer and compare with a reading later."
    )
    ends = {end: f"clockwise {end}" for end in ("top", "bottom")}
    return Piece(head, role.partition(",")[0], (
        Question(key, f"{called}, {role}", typical, track),
        *more,
        Question(f"{key}.taper", f"Taper of {called}", "linear", taper, fills="taper"),
        Question(f"{key}.clockwise", f"Clockwise moves the wiper of {called} to its",
                 clockwise, sense, choices=ends, fills="clockwise"),
    ))  # fmt: skip


def strap(key: str, end: str, node: str) -> Question:
    """Whether the unused end of a rheostat is strapped to its wiper."""
    text = (
        "A rheostat uses the wiper and one end. With the other end strapped to the wiper, a "
        "wiper that lifts leaves the whole track in circuit; with it open, nothing."
    )
    return Question(f"{key}.strap", f"Unused end of {key}, strapped or open", "strapped",
                    text, choices={"strapped": f"{end} @{node}", "open": f"{end} open"},
                    joins=True)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Load:
    """What is typical for the valves of an arrangement."""

    type: str
    plate: str
    screen: str
    leak: str


V6 = Load("6V6GT", "390 V", "385 V", "68k 10% 0.5 W")
EL34 = Load("EL34", "420 V", "415 V", "220k 10% 0.5 W")
EL84 = Load("EL84", "295 V", "290 V", "220k 10% 0.5 W")
L6 = Load("6L6GC", "450 V", "445 V", "68k 10% 0.5 W")


def smoothing(
    r_series: str, line: str = "head", c_second: str = OUT, c_name: str = "C2"
) -> tuple[Piece, ...]:
    """Bleeder, series resistor and second smoothing capacitor behind the reservoir."""
    return (
        bleeder(),
        resistor(f"resistor R2 from @raw to @{line}", "series resistor behind the rectifier",
                 r_series, joined=(line, "raw")),
        capacitor(f"capacitor {c_name} plus @ground minus @{line}", "second smoothing capacitor",
                  c_second, hint="Often not there."),
    )  # fmt: skip


def bleeder() -> Piece:
    """A resistor across the reservoir; usually there is none."""
    return resistor("resistor R4 from @raw to @ground", "bleeder across the reservoir", OUT,
                    hint="Often not there.")  # fmt: skip


def valves(line: str, load: Load, *, paired: bool = False) -> tuple[Piece, ...]:
    """From the bias line to the grids: how many valves, their grid leaks, stoppers and volts.

    Parameters
    ----------
    line : str
        The node that feeds the grid leaks; it may have "{n}" or "{s}" in it.
    load : Load
        What is typical.
    paired : bool
        Whether there are as many valves on either side.
    """
    step = 2 if paired else 1
    numbers = {str(count): "" for count in range(step, MOST_VALVES + 1, step)}
    span = f"{step} to {MOST_VALVES}{', even' if paired else ''}"
    how_many = Question("valves", f"Output valves on this bias, {span}", "2",
                        "How many grids hang on this bias section.", choices=numbers)  # fmt: skip
    leak = resistor(f"resistor R1{{n}} from @{line} to @drive{{n}}", "grid leak", load.leak,
                    key="leak", joined=("drive{n}", line))  # fmt: skip
    stopper = resistor("resistor R2{n} from @drive{n} to @grid{n}", "grid stopper",
                       "1k5 10% 0.5 W", key="stopper", joined=("drive{n}", "grid{n}"))  # fmt: skip
    return (Piece("", "", (how_many,)), leak, stopper, _valve(load))


def _valve(load: Load) -> Piece:
    against = "As measured at idle against ground, or from the schematic."
    names = 'Two types are not mixed. Names of your own: "V4 V5: 6V6GT".'
    return Piece("valve V{n}", "", (
        Question("valve", "V1 and so on, valve type", load.type, f"Its type number. {names}",
                 write="{} grid @grid{n}"),
        Question("plate", "Plate volts at idle", load.plate, against, may_be_left_out=True,
                 write="plate {}", fills="plate"),
        Question("screen", "Screen volts at idle", load.screen, against, may_be_left_out=True,
                 write="screen {}", fills="screen"),
        Question("cathode", "Cathode resistor of each valve", "1 ohm",
                 "The small resistor to ground for reading the current, often 1 or 10 ohm.",
                 may_be_left_out=True, write="cathode {}", fills="resistor_k"),
    ))  # fmt: skip
