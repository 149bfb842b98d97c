"""A headless Chromium driven over its debugging pipe: pages, keys, pictures, prints, requests."""

from __future__ import annotations

import base64
import contextlib
import io
import json
import os
import select
import shlex
import shutil
import subprocess
import time

import numpy as np

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = ("--headless=new", "--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
         "--hide-scrollbars", "--disable-background-networking", "--no-first-run",
         "--remote-debugging-pipe")


def found():
    return next((path for path in map(shutil.which, NAMES) if path), None)


@contextlib.contextmanager
def browser(profile):
    """A page in a browser of its own, which is ended afterwards."""
    to_read, to_write = os.pipe()
    back_read, back_write = os.pipe()
    command = shlex.join([found(), *FLAGS, f"--user-data-dir={profile}", "about:blank"])
    process = subprocess.Popen(
        ["bash", "-c", f"exec {command} 3<&{to_read} 4>&{back_write}"], pass_fds=(to_read, back_write),
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    os.close(to_read)
    os.close(back_write)
    try:
        yield Page(to_write, back_read)
    finally:
        process.kill()
        process.wait()
        os.close(to_write)
        os.close(back_read)


class Page:
    """One page; ``errors``, ``requests`` and ``dialogs`` collect what happens in it."""

    def __init__(self, to_write, back_read):
        self.write, self.read, self.number, self.rest = to_write, back_read, 0, b""
        self.session, self.errors, self.requests, self.dialogs = None, [], [], []
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Network", "Log"):
            self.ask(f"{domain}.enable")

    def ask(self, method, timeout=90, **params):
        self.number += 1
        message = {"id": self.number, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        os.write(self.write, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next(timeout)
            if answer.get("id") == self.number:
                assert "error" not in answer, answer
                return answer["result"]

    def _next(self, timeout):
        until = time.monotonic() + timeout
        while b"\0" not in self.rest:
            assert select.select([self.read], [], [], max(until - time.monotonic(), 0))[0], "no answer"
            self.rest += os.read(self.read, 1 << 20)
        line, _, self.rest = self.rest.partition(b"\0")
        event = json.loads(line)
        self._note(event.get("method"), event.get("params", {}))
        return event

    def _note(self, method, params):
        if method == "Runtime.exceptionThrown":
            self.errors.append(params["exceptionDetails"])
        elif method == "Runtime.consoleAPICalled" and params["type"] in ("error", "assert"):
            self.errors.append(params["args"])
        elif method == "Log.entryAdded" and params["entry"]["level"] == "error":
            self.errors.append(params["entry"])
        elif method == "Network.requestWillBeSent":
            self.requests.append(params["request"]["url"])
        elif method == "Page.javascriptDialogOpening":
            self.dialogs.append(params["message"])

    def resize(self, width, height):
        self.ask("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1,
                 mobile=width < 600)

    def open(self, path, width=1280, height=900):
        self.resize(width, height)
        self.ask("Page.navigate", url=path.as_uri())
        self.until("document.readyState === 'complete'")

    def value(self, script):
        answer = self.ask("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in answer, answer
        return answer["result"].get("value")

    def until(self, script, seconds=60):
        end = time.monotonic() + seconds
        while not self.value(script):
            assert time.monotonic() < end, f"never came true: {script}"
            time.sleep(0.1)

    def press(self, key):
        for kind in ("keyDown", "keyUp"):
            self.ask("Input.dispatchKeyEvent", type=kind, key=key, code=key,
                     windowsVirtualKeyCode={"Tab": 9}.get(key, 0))

    def pixels(self, selector):
        """RGB (h, w, 3) of an element, after it has been drawn."""
        from PIL import Image

        box = self.value(f"(() => {{ const e = document.querySelector({json.dumps(selector)}); "
                         "e.scrollIntoView(); const b = e.getBoundingClientRect(); "
                         "return [b.x + scrollX, b.y + scrollY, b.width, b.height]; })()")
        self.value("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"
                   ".then(() => 1)")
        time.sleep(0.4)
        clip = dict(zip(("x", "y", "width", "height"), box, strict=True), scale=1)
        data = self.ask("Page.captureScreenshot", clip=clip, captureBeyondViewport=False)["data"]
        return np.asarray(Image.open(io.BytesIO(base64.b64decode(data))).convert("RGB")).astype(int)

    def pdf(self):
        return base64.b64decode(self.ask("Page.printToPDF", printBackground=True,
                                         preferCSSPageSize=True)["data"])
