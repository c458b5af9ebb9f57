"""How the page looks: on narrow and wide screens, in the dark, on paper."""

from __future__ import annotations

import pytest
from selenium import webdriver
from selenium.webdriver.support.ui import Select

from .conftest import Made
from .opened import Opened

A4_WIDTH, A4_HEIGHT = 182.0, 267.0
LETTER_WIDTH, LETTER_HEIGHT = 187.9, 249.4
"""Paper within the margins of the style sheet, 14 mm and 14 + 16 mm (ISO 216; ANSI Y14.1). [mm]"""
CONTRAST = 4.5
"""Least contrast of text (WCAG 2.2, 1.4.3). [1]"""


def px(millimetres: float) -> int:
    """CSS pixels, of which an inch has 96 (CSS Values and Units 3)."""
    return int(millimetres / 25.4 * 96)


@pytest.fixture
def page(browser: webdriver.Chrome, foot: Made) -> Opened:
    return Opened(browser, foot)


@pytest.mark.parametrize("width", [360, 768, 1400])
def test_nothing_sticks_out_at_the_side(page: Opened, bad: Made, width: int) -> None:
    for made in (page.made, bad):
        opened = Opened(page.driver, made)
        opened.size(width, 800)
        assert opened.run("return document.documentElement.scrollWidth") == width


def test_text_can_be_read_in_the_light_and_in_the_dark(page: Opened) -> None:
    Select(page.find("live-part")).select_by_index(1)
    for light in (True, False):
        page.media(light)
        found = page.run(_CONTRASTS)
        assert len(found) > 100
        poor = [one for one in found if one[0] < CONTRAST]
        assert not poor, poor[:5]
    page.media()


_CONTRASTS = """
const parse = (text) => (text.match(/[\\d.]+/g) || []).map(Number);
const luminance = (rgb) => {
  const [r, g, b] = rgb.slice(0, 3).map((c) => {
    const s = c / 255;
    return s <= 0.03928 ? s / 12.92 : ((s + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const behind = (element) => {
  for (let e = element; e; e = e.parentElement) {
    const colour = parse(getComputedStyle(e).backgroundColor);
    if (colour.length === 3 || colour[3] > 0) { return colour; }
  }
  return [255, 255, 255];
};
const found = [];
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walker.nextNode()) {
  const node = walker.currentNode;
  const parent = node.parentElement;
  const style = getComputedStyle(parent);
  const drawn = parent.closest("svg");
  const shown = parent.getClientRects().length > 0 && !parent.closest("script, style, option");
  if (!node.textContent.trim() || !shown || parent.closest(":disabled")) { continue; }
  const badge = (parent.getAttribute("class") || "").includes("-badge");
  if (badge) { continue; }
  const ink = parse(drawn ? style.fill : style.color);
  const paper = behind(drawn ? drawn.parentElement : parent);
  const [a, b] = [luminance(ink), luminance(paper)].sort((x, y) => y - x);
  found.push([(a + 0.05) / (b + 0.05), node.textContent.trim().slice(0, 30), style.color]);
}
return found;
"""


# ------------------------------------------------------------------------------ print


@pytest.mark.parametrize(
    ("width", "height"),
    [(A4_WIDTH, A4_HEIGHT), (LETTER_WIDTH, LETTER_HEIGHT)],
    ids=["A4", "Letter"],
)
def test_the_customers_page_fits_one_sheet_and_nothing_is_cut(
    page: Opened, width: float, height: float
) -> None:
    page.media(light=False, kind="print")
    page.size(px(width), px(height))
    assert page.run("return document.getElementById('customer').scrollHeight") <= px(height)
    assert page.run("return document.documentElement.scrollWidth") <= px(width)
    wide = page.run("return Array.from(document.querySelectorAll('.scroll, figure, pre, table'))"
                    ".filter((e) => e.getBoundingClientRect().right > innerWidth + 1)"
                    ".map((e) => e.textContent.slice(0, 60))")  # fmt: skip
    assert wide == []
    assert page.run("return getComputedStyle(document.getElementById('live')).display") == "none"
    # Print is light whatever the screen is.
    assert page.run("return getComputedStyle(document.body).color") == "rgb(28, 31, 35)"
    page.media()
