"""A headless Chromium for tests, driven over a pipe by the DevTools protocol."""

import base64
import fcntl
import json
import os
import shutil
import subprocess
import time
from contextlib import suppress

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-dev-shm-usage",  # its memory may be small, and a tab that finds none there ends
    "--disable-sync",
    "--no-first-run",
    "--remote-debugging-pipe",
)


class PageLeft(Exception):
    """The page was left for another while it was asked."""


class Browser:
    """One page of a browser of its own."""

    def __init__(self, folder):
        down, up = _pipe(), _pipe()

        def give():
            os.dup2(down[0], 3)
            os.dup2(up[1], 4)

        self.process = subprocess.Popen(
            [CHROMIUM, *FLAGS, f"--user-data-dir={folder}"],
            preexec_fn=give,
            pass_fds=(3, 4),
            stderr=subprocess.DEVNULL,
        )
        os.close(down[0])
        os.close(up[1])
        self.orders, self.answers = os.fdopen(down[1], "wb"), os.fdopen(up[0], "rb")
        self.number, self.session, self.buffer, self.events = 0, None, b"", []
        target = self.send("Target.createTarget", url="about:blank")["targetId"]
        attached = self.send("Target.attachToTarget", targetId=target, flatten=True)
        self.session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Accessibility", "Log"):
            self.send(f"{domain}.enable")

    def send(self, method, **parameters):
        """The result of a command; events that come meanwhile are kept."""
        self.number += 1
        order = {"id": self.number, "method": method, "params": parameters}
        if self.session:
            order["sessionId"] = self.session
        self.orders.write(json.dumps(order).encode() + b"\0")
        self.orders.flush()
        while True:
            message = self._receive()
            if message.get("id") == self.number:
                if "navigated" in message.get("error", {}).get("message", ""):
                    raise PageLeft
                assert "error" not in message, message
                return message["result"]
            self.events.append(message)

    def _receive(self):
        while b"\0" not in self.buffer:
            data = os.read(self.answers.fileno(), 1 << 16)
            assert data, "the browser is gone"
            self.buffer += data
        message, _, self.buffer = self.buffer.partition(b"\0")
        return json.loads(message)

    def open(self, path, width=1200, height=900, scheme="light", scale=1, mobile=False):
        """Show a file or an address at a size and in a colour scheme."""
        self.send(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=scale, mobile=mobile,
        )
        features = [{"name": "prefers-color-scheme", "value": scheme}]
        self.send("Emulation.setEmulatedMedia", features=features)
        self.events.clear()
        address = path if isinstance(path, str) else path.as_uri()
        self.send("Page.navigate", url=address)
        while not any(event["method"] == "Page.loadEventFired" for event in self.events):
            self.events.append(self._receive())

    def run(self, script):
        """The value of an expression in the page; a promise is awaited."""
        result = self.send(
            "Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True
        )
        assert "exceptionDetails" not in result, result
        return result["result"].get("value")

    def wait_for(self, script, seconds=60):
        """Wait until an expression in the page is true, and give its value.

        The seconds only end a test that would wait for ever; a machine under load needs many.
        """
        end = time.monotonic() + seconds
        while True:
            with suppress(PageLeft):
                if value := self.run(script):
                    return value
            assert time.monotonic() < end, f"not true within {seconds} s: {script}"
            time.sleep(0.005)

    def problems(self):
        """What the page threw or logged as an error since it was opened."""
        thrown = [e["params"]["exceptionDetails"] for e in self.events
                  if e["method"] == "Runtime.exceptionThrown"]
        logged = [e["params"]["entry"] for e in self.events if e["method"] == "Log.entryAdded"]
        return thrown + [entry for entry in logged if entry["level"] == "error"]

    def key(self, key, code=0):
        """Press and release a key."""
        for kind in ("keyDown", "keyUp"):
            self.send("Input.dispatchKeyEvent", type=kind, key=key, code=key,
                      windowsVirtualKeyCode=code)

    def mouse(self, kind, x, y):
        """A mouse event: ``mousePressed``, ``mouseMoved`` or ``mouseReleased``."""
        self.send("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", buttons=1,
                  clickCount=1)

    def requests(self):
        """Addresses that the page asked for since it was opened, itself and data aside."""
        sent = [e["params"]["request"]["url"] for e in self.events
                if e["method"] == "Network.requestWillBeSent"]
        return [url for url in sent if not url.startswith(("data:", "file:"))]

    def screenshot(self, path, whole=True):
        """Save what the page looks like."""
        answer = self.send("Page.captureScreenshot", captureBeyondViewport=whole)
        path.write_bytes(base64.b64decode(answer["data"]))

    def close(self):
        self.process.terminate()
        self.process.wait(10)
        self.orders.close()
        self.answers.close()


def _pipe():
    """A pipe whose ends stay clear of the numbers that the browser is given."""
    ends = os.pipe()
    high = [fcntl.fcntl(end, fcntl.F_DUPFD_CLOEXEC, 10) for end in ends]
    for end in ends:
        os.close(end)
    return high
