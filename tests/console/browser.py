"""A headless Chromium, spoken to over a pipe by the DevTools protocol: no driver, no library, no port."""

import base64
import json
import os
import select
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
_OPTIONS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--lang=en",
    "--remote-debugging-pipe",
)
_PATIENCE_S = 60
# the protocol reads from 3 and writes to 4; the interpreter puts the pipes there and becomes the browser
_WIRE = """
import os, sys
first, second = os.dup(int(sys.argv[1])), os.dup(int(sys.argv[2]))
os.dup2(first, 3)
os.dup2(second, 4)
for wired in (3, 4):
    os.set_inheritable(wired, True)  # what stands in its place already is not copied and would be closed
os.execv(sys.argv[3], sys.argv[3:])
"""


class Browser:
    """One page of a browser."""

    def __init__(self, send: int, receive: int) -> None:
        self._send, self._receive = send, receive
        self._left, self._number = b"", 0
        self.events: list[dict[str, Any]] = []
        target = self._call("Target.createTarget", url="about:blank")["targetId"]
        self._session = None
        self._session = self._call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Log", "Runtime", "Network"):
            self._call(f"{domain}.enable")

    def _call(self, method: str, **params: Any) -> dict[str, Any]:
        self._number += 1
        told = {"id": self._number, "method": method, "params": params}
        if getattr(self, "_session", None):
            told["sessionId"] = self._session
        os.write(self._send, json.dumps(told).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                if "error" in answer:
                    raise AssertionError(f"{method}: {answer['error']}")
                result: dict[str, Any] = answer["result"]
                return result
            self.events.append(answer)

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._left:
            if not select.select([self._receive], [], [], _PATIENCE_S)[0]:
                raise AssertionError("the browser says nothing")
            read = os.read(self._receive, 1 << 20)
            if not read:
                raise AssertionError("the browser is gone")
            self._left += read
        first, _, self._left = self._left.partition(b"\0")
        found: dict[str, Any] = json.loads(first)
        return found

    def _settled(self, seen: int) -> None:
        """Wait until a page was loaded after that many events."""
        until = time.monotonic() + 30
        while not any(one.get("method") == "Page.loadEventFired" for one in self.events[seen:]):
            if time.monotonic() > until:
                raise AssertionError("no page came")
            self.events.append(self._next())

    def open(self, url: str) -> None:
        """Go to an address."""
        seen = len(self.events)
        self._call("Page.navigate", url=url)
        self._settled(seen)

    def run(self, script: str) -> Any:
        """Evaluate an expression; the tools may do so where the page itself runs no script."""
        answer = self._call("Runtime.evaluate", expression=script, returnByValue=True)
        if "exceptionDetails" in answer:
            raise AssertionError(answer["exceptionDetails"])
        return answer["result"].get("value")

    def key(self, name: str, *, shift: bool = False, leaves: bool = False) -> None:
        """Press a key; `leaves` waits for the page that comes of it."""
        code = {"Tab": 9, "Enter": 13, " ": 32, "ArrowDown": 40, "ArrowRight": 39}[name]
        text = {"Enter": "\r", " ": " "}.get(name, "")
        seen, more = len(self.events), {"key": name, "windowsVirtualKeyCode": code, "modifiers": 8 if shift else 0}
        kind = "keyDown" if text else "rawKeyDown"
        self._call("Input.dispatchKeyEvent", type=kind, text=text, **more)
        self._call("Input.dispatchKeyEvent", type="keyUp", **more)
        if leaves:
            self._settled(seen)

    def write(self, text: str) -> None:
        """Type a text into what has the focus."""
        self._call("Input.insertText", text=text)

    def tab_to(self, selector: str, most: int = 60) -> None:
        """Press Tab until an element has the focus."""
        for _ in range(most):
            self.key("Tab")
            if self.run(f"document.activeElement.matches({json.dumps(selector)})"):
                return
        raise AssertionError(f"Tab never came to {selector}")

    def look(self, *, dark: bool, width: int = 1100, height: int = 800) -> None:
        """Choose the size of the window, and day or night."""
        scheme = "dark" if dark else "light"
        self._call("Emulation.setEmulatedMedia", media="", features=[{"name": "prefers-color-scheme", "value": scheme}])
        self._call("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)

    def print_look(self) -> None:
        """Show the page as it is printed, for a reader who has chosen dark pages."""
        dark = [{"name": "prefers-color-scheme", "value": "dark"}]
        self._call("Emulation.setEmulatedMedia", media="print", features=dark)

    def accessible(self) -> list[dict[str, Any]]:
        """Return what a screen reader is told of the page."""
        found: list[dict[str, Any]] = self._call("Accessibility.getFullAXTree")["nodes"]
        return found

    def picture(self, path: Path, *, whole: bool = True) -> None:
        """Write a screenshot."""
        answer = self._call("Page.captureScreenshot", format="png", captureBeyondViewport=whole)
        path.write_bytes(base64.b64decode(answer["data"]))

    def colour_at(self, selector: str) -> str:
        """Return the colour behind an element."""
        return str(self.run(f"getComputedStyle(document.querySelector({json.dumps(selector)})).backgroundColor"))

    def complaints(self, since: int = 0) -> list[str]:
        """Return what the browser complained of: refused styles, scripts, forms, pictures that did not come."""
        found = []
        for one in self.events[since:]:
            match one.get("method"):
                case "Log.entryAdded":
                    found.append(one["params"]["entry"]["text"])
                case "Runtime.exceptionThrown":
                    found.append(str(one["params"]["exceptionDetails"]))
                case "Network.loadingFailed" if not one["params"].get("canceled"):  # by the next page
                    found.append(one["params"]["errorText"])
        return found


@contextmanager
def browsing() -> Iterator[Browser]:
    """Start a browser with a profile that is thrown away."""
    assert CHROMIUM is not None
    to_browser, send = os.pipe()
    receive, from_browser = os.pipe()

    profile = tempfile.mkdtemp(prefix="threshbook-browser-")
    options = (*_OPTIONS, f"--user-data-dir={profile}", "about:blank")
    command = [sys.executable, "-c", _WIRE, str(to_browser), str(from_browser), CHROMIUM, *options]
    ends = (to_browser, from_browser)
    with subprocess.Popen(command, pass_fds=ends, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        os.close(to_browser)
        os.close(from_browser)
        try:
            yield Browser(send, receive)
        finally:
            os.close(send)
            os.close(receive)
            process.terminate()
            try:
                process.wait(20)
            finally:
                process.kill()
                shutil.rmtree(profile, ignore_errors=True)
