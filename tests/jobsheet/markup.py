"""HTML read strictly: what a browser would put right in silence is an error here."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

VOID = frozenset({"meta", "input", "br", "hr", "img", "link"})
"""HTML elements without an end tag (HTML standard, "void elements"), as far as used."""
NAMESPACE = "http://www.w3.org/2000/svg"


@dataclass
class Element:
    """An element with its attributes and the text in it."""

    name: str
    attributes: dict[str, str]
    parent: Element | None = None
    pieces: list[str | Element] = field(default_factory=list)

    @property
    def children(self) -> list[Element]:
        """The elements directly in it."""
        return [one for one in self.pieces if isinstance(one, Element)]

    @property
    def text(self) -> str:
        """The text directly in it."""
        return "".join(one for one in self.pieces if isinstance(one, str))

    @property
    def all_text(self) -> str:
        """The text in it and below, in reading order."""
        return "".join(one if isinstance(one, str) else one.all_text for one in self.pieces)

    def within(self, name: str) -> bool:
        """Whether it stands in an element of that name."""
        at = self.parent
        while at is not None and at.name != name:
            at = at.parent
        return at is not None


class Page(HTMLParser):
    """A page, every element of it.

    Raises
    ------
    AssertionError
        For tags that do not match, and for attributes given twice.
    """

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[Element] = []
        self._open: list[Element] = []
        self.feed(text)
        self.close()
        assert not self._open, [one.name for one in self._open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), (tag, names)
        parent = self._open[-1] if self._open else None
        one = Element(tag, {name: value or "" for name, value in attrs}, parent)
        if parent is not None:
            parent.pieces.append(one)
        self.elements.append(one)
        if tag not in VOID:
            self._open.append(one)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self._open, f"</{tag}> where nothing is open"
        assert self._open[-1].name == tag, f"</{tag}> closes <{self._open[-1].name}>"
        self._open.pop()

    def handle_data(self, data: str) -> None:
        if self._open:
            self._open[-1].pieces.append(data)

    def of(self, *names: str) -> list[Element]:
        """The elements of some names."""
        return [one for one in self.elements if one.name in names]

    def by_id(self, ident: str) -> Element:
        """The element of an id."""
        (one,) = [e for e in self.elements if e.attributes.get("id") == ident]
        return one

    @property
    def data(self) -> Any:
        """What the live panel is given."""
        return json.loads(self.by_id("live-data").text)


def hash_of(text: str) -> str:
    """As a content policy names it (CSP Level 3, "hash-source")."""
    digest = hashlib.sha256(text.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


def assert_sound(text: str) -> Page:
    """A page that is well-formed, self-contained, labelled, and run by its policy alone."""
    page = Page(text)
    assert text.startswith("<!DOCTYPE html>")
    assert text.endswith("</html>\n")
    _assert_ids(page)
    _assert_self_contained(page)
    _assert_policy(page)
    for table in page.of("table"):
        assert table.children[0].name == "caption", table.all_text
        assert table.children[0].all_text.strip()
    for head in page.of("th"):
        assert head.attributes["scope"] in {"col", "row", "rowgroup"}
        assert head.all_text.strip(), "a head that says nothing"
    for cell in page.of("td"):
        assert cell.parent is not None
        assert cell.parent.name == "tr"
    for figure in page.of("figure"):
        assert [one.name for one in figure.children][-1] == "figcaption"
    for picture in page.of("svg"):
        assert picture.attributes["role"] == "img"
        assert picture.attributes.get("aria-labelledby")
    return page


def _assert_ids(page: Page) -> None:
    ids = [one.attributes["id"] for one in page.elements if "id" in one.attributes]
    assert len(ids) == len(set(ids)), sorted(ids)
    for one in page.elements:
        for name in ("for", "aria-labelledby", "aria-describedby"):
            for ident in one.attributes.get(name, "").split():
                assert ident in ids, (one.name, name, ident)
        clip = one.attributes.get("clip-path")
        assert clip is None or clip[5:-1] in ids, clip
        target = one.attributes.get("href")
        assert target is None or (target[:1] == "#" and target[1:] in ids), target
    controls = [one for one in page.of("input", "select") if one.attributes.get("type") != "radio"]
    labels = {one.attributes.get("for") for one in page.of("label")}
    assert {one.attributes["id"] for one in controls} <= labels
    for radio in page.of("input"):
        assert radio.attributes.get("type") != "radio" or radio.within("label")


def _assert_self_contained(page: Page) -> None:
    for one in page.elements:
        for name, value in one.attributes.items():
            assert name != "style", one.name
            assert not name.startswith("on"), (one.name, name)
            assert name not in {"src", "srcset", "xlink:href", "action", "formaction"}, one.name
            if name != "xmlns":
                assert not re.search(r"\bhttps?:|^//|javascript:", value) or name == "content", (
                    value
                )
    assert {one.attributes.get("xmlns") for one in page.elements} <= {None, NAMESPACE}
    for style in page.of("style"):
        assert "url(" not in style.text
        assert "@import" not in style.text


def _assert_policy(page: Page) -> None:
    (policy,) = [one.attributes["content"] for one in page.of("meta")
                 if one.attributes.get("http-equiv") == "Content-Security-Policy"]  # fmt: skip
    rules = {rule.split()[0]: rule.split()[1:] for rule in policy.split(";")}
    assert rules["default-src"] == ["'none'"]
    assert rules["base-uri"] == rules["form-action"] == ["'none'"]
    styles = [hash_of(one.text) for one in page.of("style")]
    scripts = [hash_of(one.text) for one in page.of("script") if "type" not in one.attributes]
    assert rules["style-src"] == styles
    assert rules["script-src"] == scripts
    assert len(scripts) == 1
    assert set(rules) == {"default-src", "style-src", "script-src", "img-src", "base-uri",
                          "form-action"}  # fmt: skip
