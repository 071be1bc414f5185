"""A headless Chromium spoken to over a pipe, with nothing but the standard library.

The DevTools protocol: messages of JSON, closed by a NUL, to file descriptor 3 of the browser and from its 4.
"""

import base64
import json
import os
import select
import shutil
import signal
import subprocess
import tempfile
import time

PROGRAMS = ("chromium", "chromium-browser", "google-chrome")
WAIT_S = 60


def program():
    """The browser's path, or None."""
    return next(filter(None, map(shutil.which, PROGRAMS)), None)


class Browser:
    """One page in one browser. Requests, messages on the console and exceptions are kept in lists."""

    def __init__(self):
        self.profile = tempfile.mkdtemp(prefix="towerloop-browser-")
        to_browser, self.write_end = os.pipe()
        self.read_end, from_browser = os.pipe()
        # The browser wants 3 and 4; a shell puts them there whatever numbers the pipes have.
        arguments = [program(), "--headless", "--no-sandbox", "--disable-gpu", "--remote-debugging-pipe",
                     "--no-first-run", "--disable-background-networking", "--hide-scrollbars",
                     "--host-resolver-rules=MAP * ~NOTFOUND", f"--user-data-dir={self.profile}", "about:blank"]
        self.process = subprocess.Popen(
            ["/bin/sh", "-c", f'exec 3<&{to_browser} 4>&{from_browser}; exec "$0" "$@"', *arguments],
            pass_fds=(to_browser, from_browser), stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL, start_new_session=True)
        os.close(to_browser)
        os.close(from_browser)
        self.number, self.buffer = 0, b""
        self.requests, self.console, self.seen = [], [], set()
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        self.session = None
        self.session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Network", "Runtime", "Log"):
            self.ask(domain + ".enable")

    def close(self):
        os.close(self.write_end)
        os.close(self.read_end)
        try:
            os.killpg(self.process.pid, signal.SIGKILL)  # the group is ours alone
        except ProcessLookupError:
            pass
        self.process.wait()
        shutil.rmtree(self.profile, ignore_errors=True)

    def ask(self, method, **params):
        self.number += 1
        message = {"id": self.number, "method": method, "params": params}
        if getattr(self, "session", None):
            message["sessionId"] = self.session
        os.write(self.write_end, json.dumps(message).encode() + b"\0")
        wanted = self.number
        while True:
            answer = self.receive()
            if answer.get("id") == wanted:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']}")
                return answer["result"]
            self.note(answer)

    def receive(self):
        limit = time.monotonic() + WAIT_S
        while b"\0" not in self.buffer:
            if not select.select([self.read_end], [], [], max(0, limit - time.monotonic()))[0]:
                raise TimeoutError("the browser does not answer")
            piece = os.read(self.read_end, 1 << 16)
            if not piece:
                raise EOFError("the browser has gone")
            self.buffer += piece
        message, _, self.buffer = self.buffer.partition(b"\0")
        return json.loads(message)

    def note(self, event):
        method, params = event.get("method"), event.get("params", {})
        self.seen.add(method)
        if method == "Network.requestWillBeSent":
            self.requests.append(params["request"]["url"])
        elif method in ("Runtime.consoleAPICalled", "Runtime.exceptionThrown"):
            self.console.append(params)
        elif method == "Log.entryAdded":
            self.console.append(params["entry"])

    def open(self, path, width=1280, height=900, dark=False):
        self.ask("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        self.ask("Emulation.setEmulatedMedia",
                 features=[{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}])
        self.seen.discard("Page.loadEventFired")
        self.ask("Page.navigate", url=path.resolve().as_uri())
        while "Page.loadEventFired" not in self.seen:
            self.note(self.receive())

    def run(self, expression):
        """The value of a JavaScript expression, in the page."""
        answer = self.ask("Runtime.evaluate", expression=expression, returnByValue=True)
        if "exceptionDetails" in answer:
            raise RuntimeError(answer["exceptionDetails"])
        return answer["result"].get("value")

    def press(self, key, code, **more):
        for kind in ("keyDown", "keyUp"):
            self.ask("Input.dispatchKeyEvent", type=kind, key=key, windowsVirtualKeyCode=code, **more)

    def picture(self, top=0, height=None):
        """PNG of the page, from `top` on."""
        size = self.ask("Page.getLayoutMetrics")["cssContentSize"]
        clip = {"x": 0, "y": top, "width": size["width"], "height": height or size["height"] - top, "scale": 1}
        return base64.b64decode(self.ask("Page.captureScreenshot", clip=clip, captureBeyondViewport=True)["data"])

    def pdf(self, width_in, height_in):
        return base64.b64decode(self.ask("Page.printToPDF", paperWidth=width_in, paperHeight=height_in,
                                         printBackground=True, preferCSSPageSize=False)["data"])
