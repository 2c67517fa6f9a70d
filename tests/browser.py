"""Headless Chromium for tests: pages opened, operated and photographed over its debugging pipe.

The protocol is Chromium's own (DevTools, JSON messages ended by a NUL byte); two file descriptors
take the place of a port, so nothing listens anywhere.
"""

import base64
import json
import os
import select
import shlex
import shutil
import signal
import subprocess
import tempfile
import time
from contextlib import contextmanager

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")

_FLAGS = (
    "--headless --no-sandbox --disable-gpu --disable-background-networking"
    " --disable-component-update --disable-sync --no-first-run --remote-debugging-pipe"
).split()

_KEYS = {
    "Enter": 13, "Escape": 27, " ": 32, "PageUp": 33, "PageDown": 34, "End": 35, "Home": 36,
    "ArrowLeft": 37, "ArrowUp": 38, "ArrowRight": 39, "ArrowDown": 40, "Tab": 9,
}  # fmt: skip


class BrowserError(Exception):
    """The browser refused a command, a script failed, or a wait came to nothing."""


@contextmanager
def browser(width=1280, height=900):
    """A fresh browser with one empty page; it and its profile are gone afterwards.

    Yields
    ------
    Page
    """
    to_browser, from_page = os.pipe()
    from_browser, to_page = os.pipe()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        command = [CHROMIUM, *_FLAGS, f"--user-data-dir={profile}", "about:blank"]
        process = subprocess.Popen(
            ["bash", "-c", f"exec {shlex.join(command)} 3<&{to_browser} 4>&{to_page}"],
            pass_fds=(to_browser, to_page), start_new_session=True,
            stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(to_browser)
        os.close(to_page)
        try:
            page = Page(from_page, from_browser)
            page.resize(width, height)
            yield page
        finally:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()
            os.close(from_page)
            os.close(from_browser)


class Page:
    """The one page of a browser."""

    def __init__(self, write_end, read_end):
        self._write, self._read = write_end, read_end
        self._received, self._count, self._session = b"", 0, None
        self.problems = []
        """Errors that the page logged or threw, blocked loads among them."""
        targets = self._until(lambda: self._pages())
        target = targets[0]["targetId"]
        attached = self.command("Target.attachToTarget", targetId=target, flatten=True)
        self._session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Log"):
            self.command(f"{domain}.enable")

    def _pages(self):
        targets = self.command("Target.getTargets")["targetInfos"]
        return [target for target in targets if target["type"] == "page"]

    def command(self, method, **parameters):
        """Send one command of the protocol and give back its result."""
        self._count += 1
        message = {"id": self._count, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._write, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._receive()
            if answer.get("id") == self._count:
                if "error" in answer:
                    raise BrowserError(f"{method}: {answer['error']['message']}")
                return answer["result"]
            self._note(answer)

    def _receive(self, seconds=30):
        while b"\0" not in self._received:
            if not select.select([self._read], [], [], seconds)[0]:
                raise BrowserError(f"no answer in {seconds} s")
            part = os.read(self._read, 1 << 20)
            if not part:
                raise BrowserError("the browser has ended")
            self._received += part
        message, _, self._received = self._received.partition(b"\0")
        return json.loads(message)

    def _note(self, event):
        details = event.get("params", {})
        if event.get("method") == "Runtime.exceptionThrown":
            self.problems.append(details["exceptionDetails"]["exception"].get("description"))
        if event.get("method") == "Log.entryAdded" and details["entry"]["level"] == "error":
            self.problems.append(f"{details['entry']['text']} {details['entry'].get('url', '')}")

    def _until(self, ask, seconds=15):
        end = time.monotonic() + seconds
        while not (answer := ask()):
            if time.monotonic() > end:
                raise BrowserError(f"nothing came of it in {seconds} s")
            time.sleep(0.01)
        return answer

    def open(self, address):
        """Go to an address and wait until the page has loaded."""
        self.command("Page.navigate", url=address)
        self.wait_for("document.readyState === 'complete' && location.href !== 'about:blank'")

    def evaluate(self, script):
        """Value of a JavaScript expression; a promise is awaited."""
        result = self.command(
            "Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True
        )
        if "exceptionDetails" in result:
            details = result["exceptionDetails"]
            raise BrowserError(details.get("exception", {}).get("description", details["text"]))
        return result["result"].get("value")

    def wait_for(self, script, seconds=15):
        """Wait until a JavaScript expression is true, and give its value."""
        try:
            return self._until(lambda: self.evaluate(script), seconds)
        except BrowserError as error:
            raise BrowserError(f"{script}: {error}") from None

    def resize(self, width, height, dark=False):
        """Size of the window in CSS pixels, and the colour scheme that the person prefers."""
        self.command(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=1, mobile=False,
        )  # fmt: skip
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.command("Emulation.setEmulatedMedia", features=[scheme])

    def key(self, key, shift=False):
        """Press and release a key: a name of `_KEYS` or a single character."""
        code = _KEYS.get(key) or ord(key.upper())
        text = key if len(key) == 1 else "\r" if key == "Enter" else ""
        event = dict(key=key, windowsVirtualKeyCode=code, modifiers=8 if shift else 0)
        self.command("Input.dispatchKeyEvent", type="keyDown", text=text, **event)
        self.command("Input.dispatchKeyEvent", type="keyUp", **event)

    def click(self, x, y):
        """Press and release the main button at a place in CSS pixels."""
        event = dict(x=x, y=y, button="left", clickCount=1)
        self.command("Input.dispatchMouseEvent", type="mouseMoved", x=x, y=y)
        for kind in ("mousePressed", "mouseReleased"):
            self.command("Input.dispatchMouseEvent", type=kind, **event)

    def screenshot(self, path):
        """Write a PNG of what the window shows."""
        data = self.command("Page.captureScreenshot", format="png")["data"]
        path.write_bytes(base64.b64decode(data))
