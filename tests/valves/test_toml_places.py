"""The places of keys, against the standard parser's reading of the same text."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from netcheck.source import NOWHERE, Source, Span
from netcheck.valves.places import Path, place_of, places

TEXT = """\
# a comment with [brackets] and = signs
top = 1
a.b = "x # no comment"   # a comment

[one]
"quoted key" = '''
[not a heading]
'''
list = [ 1, [2, 3], { in = "}", deep = [ {k = 1} ] },
  # a comment in a list, with ]
  "last" ]
[[many]]
x = 1
[[many]]
x = 2
[many.sub]
y = "\\" ]"
[[many.subs]]
z = \"\"\"a "quoted" word\"\"\"
[[many.subs]]
z = 1979-05-27T07:32:00Z
"""


def paths(document: object, path: Path = ()) -> Iterator[Path]:
    if path:
        yield path
    if isinstance(document, dict):
        for key, inner in document.items():
            yield from paths(inner, (*path, key))
    elif isinstance(document, list):
        for position, inner in enumerate(document):
            yield from paths(inner, (*path, position))


def marked(text: str, span: Span) -> str:
    return Source("", text).line(span.line)[span.column - 1 : span.end - 1]


def test_every_path_has_its_place() -> None:
    found = places(TEXT)
    expected = set(paths(tomllib.loads(TEXT)))
    assert set(found) == expected
    for path, span in found.items():
        if isinstance(path[-1], str):
            assert marked(TEXT, span).strip("'\"") == path[-1]


@pytest.mark.parametrize(
    ("path", "line", "text"),
    [
        (("a", "b"), 3, "b"),
        (("one", "list", 0), 9, "1"),
        (("one", "list", 1), 9, "[2, 3]"),
        (("one", "list", 2, "deep", 0, "k"), 9, "k"),
        (("one", "list", 3), 11, '"last"'),
        (("many", 1), 14, "many"),
        (("many", 1, "x"), 15, "x"),
        (("many", 1, "subs", 1, "z"), 21, "z"),
    ],
)
def test_place(path: Path, line: int, text: str) -> None:
    span = places(TEXT)[path]
    assert (span.line, marked(TEXT, span)) == (line, text)


def test_place_of_what_is_not_there() -> None:
    found = places(TEXT)
    assert place_of(("one", "list", 2, "lacking"), found) == found["one", "list", 2]
    assert place_of(("lacking",), found) == NOWHERE


KEYS = st.from_regex(r"[A-Za-z0-9_-]{1,8}", fullmatch=True)
TEXTS = st.text(st.characters(blacklist_categories=("Cs", "Cc"), blacklist_characters="\"\\'"))
SCALARS = st.one_of(
    st.integers(-999, 999).map(str),
    st.booleans().map(lambda flag: str(flag).lower()),
    TEXTS.map(lambda text: f'"{text}"'),
    TEXTS.map(lambda text: f"'''{text}'''"),
)


def tables(values: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    pairs = st.dictionaries(KEYS, values, max_size=3)
    return pairs.map(lambda d: "{" + ", ".join(f"{k} = {v}" for k, v in d.items()) + "}")


def lists(values: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    gap = st.sampled_from([", ", ",\n  ", ", # ] remark\n"])
    return st.tuples(st.lists(values, max_size=3), gap).map(
        lambda pair: "[" + pair[1].join(pair[0]) + "]"
    )


# A comment or a line end is allowed in a list, but not in a table between braces.
FLAT = st.recursive(SCALARS, tables, max_leaves=4)
VALUES = st.recursive(FLAT, lists, max_leaves=6)
BODIES = st.dictionaries(KEYS, VALUES, max_size=3).map(
    lambda d: "".join(f"{k} = {v}  # = remark\n" for k, v in d.items())
)
DOCUMENTS = st.tuples(BODIES, st.dictionaries(KEYS, BODIES, max_size=3)).map(
    lambda pair: pair[0] + "".join(f"[t.{k}]\n{body}" for k, body in pair[1].items())
)


@settings(deadline=None)
@given(DOCUMENTS)
def test_places_of_any_document(text: str) -> None:
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return  # a top-level key may be "t" as well
    found = places(text)
    assert set(found) == set(paths(document))
    for path, span in found.items():
        if isinstance(path[-1], str):
            assert marked(text, span) == path[-1]
