"""Debian's Chromium without a window, driven by keys over the pipe of its DevTools protocol; it needs no library."""

from __future__ import annotations

import base64
import json
import os
import shutil
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
browser = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed: apt-get install chromium")
QUIET = ("--headless", "--no-sandbox", "--disable-gpu", "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1")
PATIENCE = 120  # s; against a test that hangs, on a busy machine
KEYS = {"Tab": 9, "Enter": 13, " ": 32, "ArrowDown": 40}
ALT, SHIFT = 1, 8


class Browser:
    """A running Chromium."""

    def __init__(self, to: int, back: int) -> None:
        self._to, self._back, self._left, self._sent = to, back, b"", 0
        self.events: list[dict[str, Any]] = []
        self._own: dict[str, str] = {}

    def call(self, method: str, session: str = "", **params: Any) -> dict[str, Any]:
        """The result of a command of the protocol; events that come meanwhile are kept."""
        self._sent += 1
        message = {"id": self._sent, "method": method, "params": params} | ({"sessionId": session} if session else {})
        os.write(self._to, json.dumps(message).encode() + b"\0")
        while True:
            while b"\0" not in self._left:
                if not (read := os.read(self._back, 1 << 16)):
                    raise RuntimeError("Chromium has ended")
                self._left += read
            first, _, self._left = self._left.partition(b"\0")
            got = json.loads(first)
            if got.get("id") == self._sent:
                assert "error" not in got, (method, got["error"])
                return dict(got["result"])
            self.events.append(got)

    def cleared(self) -> Browser:
        """The same Chromium for another test: nothing open, nothing stored, nothing said."""
        if self._own:
            self.call("Target.disposeBrowserContext", **self._own)
        self._own = {"browserContextId": self.call("Target.createBrowserContext")["browserContextId"]}
        self.events.clear()
        return self

    def tab(self, address: str, before: str = "") -> Tab:
        """A new tab at an address; `before` is a script that runs before those of each page."""
        target = self.call("Target.createTarget", url="about:blank", **self._own)["targetId"]
        tab = Tab(self, self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"], target)
        for part in ("Page", "Runtime", "Log", "Network"):
            tab.call(f"{part}.enable")
        if before:
            tab.call("Page.addScriptToEvaluateOnNewDocument", source=before)
        tab.open(address)
        return tab


class Tab:
    """One tab, used as a person at a keyboard uses it."""

    def __init__(self, browser: Browser, session: str, target: str) -> None:
        self._browser, self._session, self._target = browser, session, target

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        return self._browser.call(method, self._session, **params)

    def open(self, address: str) -> None:
        self.call("Page.navigate", url=address)
        self.until("document.readyState === 'complete' && location.href !== 'about:blank'")

    def front(self) -> None:
        self._browser.call("Target.activateTarget", targetId=self._target)

    def js(self, expression: str) -> Any:
        """The value of an expression in the page."""
        got = self.call("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in got, got
        return got["result"].get("value")

    def until(self, expression: str) -> Any:
        """Waits until an expression is true in the page, and returns its value."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            try:
                if value := self.js(expression):
                    return value
            except AssertionError:  # between two pages
                pass
            time.sleep(0.02)
        raise AssertionError(f"never true: {expression}\n{self.js('document.body.innerText')}")

    def press(self, key: str, modifiers: int = 0) -> None:
        """One key, down and up."""
        code = KEYS.get(key) or ord(key.upper())
        text = {"Enter": "\r", "Tab": ""}.get(key, key if len(key) == 1 and not modifiers else "")
        about = {"key": key, "code": key if key in KEYS else f"Key{key.upper()}", "modifiers": modifiers}
        letters = (
            {"text": text} if text else {"unmodifiedText": key} if len(key) == 1 else {}
        )  # access keys look at these
        about |= {"windowsVirtualKeyCode": code}
        self.call("Input.dispatchKeyEvent", type="keyDown" if letters else "rawKeyDown", **letters, **about)
        self.call("Input.dispatchKeyEvent", type="keyUp", **about)

    def write(self, text: str) -> None:
        """Types text where the focus is; for a list of words, their first letters choose."""
        if self.js("document.activeElement.tagName") == "SELECT":
            for letter in text:
                self.press(letter)
        else:
            self.call("Input.insertText", text=text)

    def tab_to(self, wanted: str) -> None:
        """Presses Tab until the focus is in the field of a name, as somebody without a mouse does."""
        for _ in range(200):
            if self.js("document.activeElement.name || document.activeElement.value || ''") == wanted:
                return
            self.press("Tab")
        raise AssertionError(f"Tab never comes to {wanted}")

    def tab_to_group_of(self, wanted: str) -> None:
        """Presses Tab until the focus is on the heading of the folded group that a field is in."""
        heading = f"document.getElementsByName({json.dumps(wanted)})[0].closest('details').firstElementChild"
        for _ in range(200):
            if self.js(f"document.activeElement === {heading}"):
                return
            self.press("Tab")
        raise AssertionError(f"Tab never comes to the group of {wanted}")

    def text(self, selector: str) -> str:
        return str(self.js(f"document.querySelector({json.dumps(selector)}).innerText"))

    def picture(self, file: Path, width: int, height: int) -> None:
        """Takes a picture of what a window of this size shows."""
        self.call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        file.write_bytes(base64.b64decode(self.call("Page.captureScreenshot")["data"]))


@contextmanager
def chromium(folder: Path) -> Iterator[Browser]:
    """A Chromium with a profile of its own in a folder; ended at the end."""
    import fcntl  # not on every system

    theirs, ours = os.pipe(), os.pipe()  # to it, and back
    read, write = (fcntl.fcntl(fd, fcntl.F_DUPFD_CLOEXEC, 10) for fd in (theirs[0], ours[1]))  # away from 3 and 4
    given = [str(CHROMIUM), *QUIET, f"--user-data-dir={folder / 'profile'}", "--remote-debugging-pipe"]
    silent = (os.POSIX_SPAWN_OPEN, 2, os.devnull, os.O_WRONLY, 0)
    pipes = [(os.POSIX_SPAWN_DUP2, read, 3), (os.POSIX_SPAWN_DUP2, write, 4)]  # where Chromium looks for them
    running = os.posix_spawn(given[0], given, os.environ, file_actions=[silent, *pipes])
    for fd in (read, write, theirs[0], ours[1]):
        os.close(fd)
    try:
        yield Browser(theirs[1], ours[0])
    finally:
        os.kill(running, signal.SIGKILL)
        os.waitpid(running, 0)
        os.close(theirs[1])
        os.close(ours[0])
