"""A page opened from disk in a browser."""

from __future__ import annotations

from typing import Any

from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement

from .conftest import Made


class Opened:
    """A page opened from disk."""

    def __init__(self, driver: webdriver.Chrome, made: Made) -> None:
        self.driver, self.made = driver, made
        self.log("browser")
        self.log("performance")
        self.media(light=True)
        self.size(1200, 900)
        driver.get(made.file.as_uri())

    def size(self, width: int, height: int) -> None:
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", {
            "width": width, "height": height, "deviceScaleFactor": 1, "mobile": False})  # fmt: skip

    def media(self, light: bool = True, kind: str = "screen") -> None:
        scheme = {"name": "prefers-color-scheme", "value": "light" if light else "dark"}
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia",
                                    {"media": kind, "features": [scheme]})  # fmt: skip

    def log(self, kind: str) -> list[dict[str, Any]]:
        """What was written there since it was last looked at."""
        found: list[dict[str, Any]] = self.driver.get_log(kind)  # type: ignore[no-untyped-call]
        return found

    def find(self, ident: str) -> WebElement:
        return self.driver.find_element(By.ID, ident)

    def text(self, ident: str) -> str:
        return str(self.find(ident).get_attribute("textContent"))

    def run(self, script: str, *arguments: object) -> Any:
        return self.driver.execute_script(script, *arguments)

    def schematic(self) -> dict[str, str]:
        """The voltage at each node of the drawing."""
        return dict(self.run(
            "return Array.from(document.querySelectorAll('#drawing .netcheck-schematic-volts'))"
            ".map((e) => [e.dataset.node, e.textContent])"))  # fmt: skip

    def turn(self, ident: str, keys: str, times: int = 1) -> None:
        self.find(ident).send_keys(keys * times)
