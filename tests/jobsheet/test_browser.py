"""The page in a real browser: silent, offline, worked by keys, named for screen readers."""

from __future__ import annotations

import functools
import json
import re

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

from netcheck.commands.common import load
from netcheck.engine.service import Service
from netcheck.graph import Section
from netcheck.predictor import Predictor
from netcheck.quantity import Dimension, show
from netcheck.travel import Prediction, predict
from netcheck.valves.practice import WINDOW

from . import hostile
from .conftest import FOOT, Made
from .opened import Opened

V_SHOWN = 0.05 + 0.02
"""Half the last digit that is shown, and what the values computed beforehand may err by. [V]"""


@pytest.fixture
def page(browser: webdriver.Chrome, foot: Made) -> Opened:
    return Opened(browser, foot)


@pytest.fixture
def bad_page(browser: webdriver.Chrome, bad: Made) -> Opened:
    return Opened(browser, bad)


def volts(text: str) -> float:
    number, unit = text.split()
    return float(number) * {"V": 1.0, "mV": 1e-3, "uV": 1e-6}[unit]


@pytest.fixture(scope="module")
def predictor(service: Service) -> Predictor:
    return Predictor(Section(load(FOOT)), service)


@functools.cache
def predicted(predictor: Predictor, at: float, **changed: float) -> Prediction:
    """As `netcheck predict --at ... --set ...` does it."""
    other = Predictor(predictor.section, predictor.service, changed)
    return predict(other, travel=[at], with_start=False)


def assert_shows(page: Opened, want: Prediction) -> None:
    """The outputs, the schematic and the words show what `netcheck predict` does."""
    valve = want.valves.valves[0]
    current, power = float(valve.idle.i_cathode[0]), float(valve.idle.p_plate[0])
    assert volts(page.text("live-grid-0")) == pytest.approx(float(want.mean[0, 0]), abs=V_SHOWN)
    told = page.text("live-current-0").removesuffix(" mA")
    assert float(told) == pytest.approx(1e3 * current, rel=0.01)
    told, _, word = page.text("live-power-0").partition(": ")
    match = re.fullmatch(r"([\d.]+) W, (\d+) % of 12 W", told)
    assert match, told
    assert float(match[1]) == pytest.approx(power, rel=0.01)
    share = power / valve.limit
    assert int(match[2]) == pytest.approx(100.0 * share, abs=1.0)
    low, high = WINDOW
    words = {"too cold": share < low, "in the window": low <= share <= high,
             "too hot": high < share <= 1.0, "over the limit": share > 1.0}  # fmt: skip
    assert words[word[2:]], (word, share)
    for node, text in page.schematic().items():
        v = float(want.nodes[node][0])
        assert volts(text) == pytest.approx(v, abs=V_SHOWN if abs(v) > 5.0 else 0.02), node


# --------------------------------------------------------------------- silent and offline


def test_it_opens_from_disk_without_a_word_in_the_console_or_a_request(
    page: Opened, bad: Made
) -> None:
    for made in (page.made, bad):
        opened = Opened(page.driver, made)
        opened.turn("live-travel", Keys.ARROW_RIGHT)
        assert page.log("browser") == []
        messages = [json.loads(entry["message"])["message"]
                    for entry in page.log("performance")]  # fmt: skip
        asked = [one["params"]["request"]["url"] for one in messages
                 if one["method"] == "Network.requestWillBeSent"]  # fmt: skip
        assert asked == [made.file.as_uri()]
        assert page.run("return performance.getEntriesByType('resource').length") == 0


def test_its_policy_lets_nothing_else_run(page: Opened) -> None:
    page.run("""
        const script = document.createElement("script");
        script.textContent = "window.ran = 1";
        document.body.appendChild(script);
        const image = document.createElement("img");
        image.setAttribute("onerror", "window.ran = 2");
        image.src = "data:,";
        document.body.appendChild(image);
        const style = document.createElement("p");
        style.setAttribute("style", "display: none");
        document.body.appendChild(style);
        window.shown = getComputedStyle(style).display;
    """)
    assert page.run("return [window.ran === undefined, window.shown]") == [True, "block"]
    page.log("browser")


# ----------------------------------------------------------------------- the live panel


def test_the_pot_is_turned_by_keys_and_shows_what_predict_gives(
    page: Opened, predictor: Predictor
) -> None:
    assert_shows(page, predicted(predictor, 0.5))
    for keys, at in ((Keys.HOME, 0.0), (Keys.END, 1.0), (Keys.ARROW_LEFT * 3, 0.97)):
        page.turn("live-travel", keys)
        assert page.find("live-travel").get_attribute("aria-valuetext") == f"{at * 100:.0f} %"
        assert page.text("live-travel-text") == f"{at * 100:.0f} %"
        assert_shows(page, predicted(predictor, at))


def test_a_part_is_exchanged_and_shows_what_set_gives(page: Opened, predictor: Predictor) -> None:
    page.turn("live-travel", Keys.HOME)
    page.turn("live-travel", Keys.ARROW_RIGHT, 30)
    select = Select(page.find("live-part"))
    (label,) = [o.text for o in select.options if o.text.startswith("R3,")]
    assert label == "R3, foot, 27k"
    select.select_by_visible_text(label)
    # Nothing across it yet.
    assert page.text("live-value-text") == "nothing across R3, 27k alone"
    assert_shows(page, predicted(predictor, 0.3))
    while not page.text("live-value-text").startswith("82k across R3"):
        page.turn("live-value", Keys.ARROW_RIGHT)
    # 82k across 27k make 20.3k.
    assert page.find("live-value").get_attribute("aria-valuetext") == (
        "82k across R3, together 20.3k")  # fmt: skip
    assert_shows(page, predicted(predictor, 0.3, R3=1.0 / (1.0 / 82e3 + 1.0 / 27e3)))
    across, place = page.driver.find_elements(By.NAME, "live-way")
    across.send_keys(Keys.ARROW_DOWN)
    assert place.is_selected()
    assert page.text("live-value-text") == "27k as R3, as drawn"
    page.turn("live-value", Keys.ARROW_RIGHT)
    assert page.text("live-value-text") == "33k as R3, instead of 27k"
    assert_shows(page, predicted(predictor, 0.3, R3=33e3))
    assert "33k as R3" in page.text("live-caption")


def test_a_part_in_front_of_the_rectifier_shows_what_set_gives(
    page: Opened, predictor: Predictor
) -> None:
    select = Select(page.find("live-part"))
    select.select_by_visible_text("R1, dropper, 470 ohm")
    page.driver.find_elements(By.NAME, "live-way")[1].click()
    page.turn("live-value", Keys.END)
    assert page.text("live-value-text") == "4k7 as R1, instead of 470 ohm"
    page.turn("live-value", Keys.ARROW_LEFT, 3)
    assert page.text("live-value-text") == "2k7 as R1, instead of 470 ohm"
    assert_shows(page, predicted(predictor, 0.5, R1=2.7e3))


def test_reset_goes_back_to_the_drawing(page: Opened, predictor: Predictor) -> None:
    before = page.schematic()
    Select(page.find("live-part")).select_by_index(2)
    page.turn("live-value", Keys.END)
    page.turn("live-travel", Keys.END)
    assert page.schematic() != before
    page.turn("live-reset", Keys.ENTER)
    assert page.schematic() == before
    assert page.text("live-value-text") == "all as drawn"
    assert not page.find("live-value").is_enabled()
    assert_shows(page, predicted(predictor, 0.5))


def test_curve_spot_and_words_move_together(page: Opened) -> None:
    field = json.loads(page.text("live-data"))["field"]

    def spot() -> tuple[float, float]:
        return tuple(float(str(page.find("live-spot-0").get_attribute(name)))
                     for name in ("cx", "cy"))  # type: ignore[return-value]  # fmt: skip

    curves = set()
    for keys, share in ((Keys.HOME, 0.0), (Keys.END, 1.0)):
        page.turn("live-travel", keys)
        x, y = spot()
        assert x == pytest.approx(field["left"] + share * (field["right"] - field["left"]), abs=0.1)
        v = field["high"] - (y - field["top"]) / (field["bottom"] - field["top"]) * (
            field["high"] - field["low"])  # fmt: skip
        assert v == pytest.approx(volts(page.text("live-grid-0")), abs=0.06)
        assert page.text("live-label-0") == (
            f"{page.text('live-grid-0')}, {page.text('live-current-0')}")  # fmt: skip
        curves.add(page.find("live-curve-0").get_attribute("points"))
    assert len(curves) == 1  # the pot moves along it, a part moves it
    Select(page.find("live-part")).select_by_index(2)
    page.turn("live-value", Keys.END)
    assert page.find("live-curve-0").get_attribute("points") not in curves


def test_between_the_positions_an_audio_taper_reads_as_by_ngspice(
    bad_page: Opened, bad: Made, service: Service
) -> None:
    """To 20 mV, read off the place of the spot, which is finer than the words beside it."""
    predictor = Predictor(bad.job.section, service)
    field = json.loads(bad_page.text("live-data"))["field"]
    bad_page.turn("live-travel", Keys.END)
    at = 100
    for down in (3, 8, 22, 40):
        bad_page.turn("live-travel", Keys.ARROW_LEFT, down)
        at -= down
        want = predicted(predictor, at / 100.0).mean[0, 0]
        y = float(str(bad_page.find("live-spot-0").get_attribute("cy")))
        v = field["high"] - (y - field["top"]) / (field["bottom"] - field["top"]) * (
            field["high"] - field["low"])  # fmt: skip
        assert v == pytest.approx(float(want), abs=0.020), at


def test_values_are_written_as_everywhere_else(page: Opened, predictor: Predictor) -> None:
    want = predicted(predictor, 0.0)
    page.turn("live-travel", Keys.HOME)
    assert page.text("live-grid-0") == show(float(want.mean[0, 0]), Dimension.VOLT)
    current = float(want.valves.valves[0].idle.i_cathode[0])
    assert page.text("live-current-0") == show(current, Dimension.AMPERE)
    assert page.schematic()["tap"] == show(float(want.nodes["tap"][0]), Dimension.VOLT)


# ---------------------------------------------------------------------- keys and names


def test_the_tab_key_reaches_every_control(page: Opened) -> None:
    Select(page.find("live-part")).select_by_index(1)
    links = page.driver.find_elements(By.CSS_SELECTOR, "nav a")
    page.run("arguments[0].focus()", links[0])
    reached: list[str] = []
    for _ in range(len(links) + 6):
        active = page.driver.switch_to.active_element
        reached.append(str(active.get_attribute("id") or active.get_attribute("name")
                           or active.get_attribute("href") or ""))  # fmt: skip
        active.send_keys(Keys.TAB)
    order = ["live-travel", "live-part", "live-way", "live-value", "live-reset"]
    places = [reached.index(name) for name in order]
    assert places == sorted(places)
    assert sum("#" in name for name in reached) == len(links)


def test_every_control_figure_and_table_has_a_name(page: Opened, bad: Made) -> None:
    for made in (page.made, bad):
        opened = Opened(page.driver, made)
        opened.driver.execute_cdp_cmd("Accessibility.enable", {})
        nodes = opened.driver.execute_cdp_cmd("Accessibility.getFullAXTree", {})["nodes"]
        named: dict[str, list[str]] = {}
        for node in nodes:
            if not node.get("ignored"):
                role = str(node["role"]["value"])
                named.setdefault(role, []).append(str(node.get("name", {}).get("value", "")))
        assert len(named["slider"]) == 2
        assert len(named["radio"]) == 2
        for role in ("slider", "combobox", "radio", "button", "table", "image", "navigation",
                     "article", "link", "heading", "status", "columnheader", "rowheader",
                     "complementary"):  # fmt: skip
            assert named.get(role), role
            assert all(name.strip() for name in named[role]), (role, named[role])
        assert named["main"]
        figures = [node for node in nodes if not node.get("ignored")
                   and node["role"]["value"] in ("figure", "Figure")]  # fmt: skip
        assert figures
        assert all(node["name"]["value"].strip() for node in figures)
        opened.driver.execute_cdp_cmd("Accessibility.disable", {})


def test_outputs_are_announced_politely(page: Opened) -> None:
    outputs = page.driver.find_elements(By.CSS_SELECTOR, ".meters output")
    assert len(outputs) == 3
    for output in outputs:
        assert output.get_attribute("aria-live") == "polite"
        assert output.text


# ---------------------------------------------------------------------------- hostile


def test_hostile_names_run_nothing_and_stand_as_text(bad_page: Opened) -> None:
    select = Select(bad_page.find("live-part"))
    labels = [option.text for option in select.options]
    assert any(label.startswith(hostile.PART) for label in labels)
    for index in range(len(labels)):
        select.select_by_index(index)
        if index:
            bad_page.turn("live-value", Keys.END)
    bad_page.turn("live-travel", Keys.END)
    assert bad_page.run("return [typeof window.hacked, typeof window.alert]") == [
        "undefined", "function"]  # fmt: skip
    assert bad_page.log("browser") == []
    assert hostile.TITLE in bad_page.driver.title
    assert hostile.NODE in bad_page.schematic()
    assert hostile.POT in bad_page.text("live-caption")
    words = bad_page.driver.find_element(By.TAG_NAME, "main").text
    for text in (hostile.NODE, hostile.PART, hostile.NOTE, hostile.JOB):
        assert text in words
    counted = bad_page.run("return ['script', 'img', 'iframe', 'a[href^=javascript]', 'svg[onload]']"
                           ".map((s) => document.querySelectorAll(s).length)")  # fmt: skip
    assert counted == [2, 0, 0, 0, 0]


def test_without_a_script_the_page_still_reads_well(browser: webdriver.Chrome, foot: Made) -> None:
    browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    try:
        browser.get(foot.file.as_uri())
        panel = browser.find_element(By.ID, "live")
        assert "does not run" in panel.text
        assert "Travel of RV1" not in panel.text
        words = browser.find_element(By.TAG_NAME, "main").text
        assert "R3 acts as 20.2k" in words
        assert "-35.5 V" in words
    finally:
        browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": False})
