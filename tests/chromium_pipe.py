"""A real browser for tests: Debian's chromium, driven over a pipe with its own debugging protocol."""

from __future__ import annotations

import base64
import fcntl
import json
import os
import select
import shutil
import subprocess
import tempfile
import time
from pathlib import Path
from typing import Any

PROGRAM = shutil.which("chromium") or shutil.which("chromium-browser")
_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--no-first-run",
    "--disable-extensions",
    "--disable-sync",
    "--disable-component-update",
    "--disable-default-apps",
    "--hide-scrollbars",
    "--remote-debugging-pipe",
)
_PATIENCE_S = 40.0


class Browser:
    """One page of a headless chromium; use it in a `with` statement."""

    def __enter__(self) -> Browser:
        assert PROGRAM is not None
        self._home = tempfile.mkdtemp(prefix="refdb-chromium-")
        down_read, self._down = os.pipe()
        self._up, up_write = os.pipe()
        # High numbers first, so that the redirections below cannot hit each other.
        ends = [fcntl.fcntl(end, fcntl.F_DUPFD, 40) for end in (down_read, up_write)]
        os.close(down_read)
        os.close(up_write)
        words = " ".join([PROGRAM, *_FLAGS, f"--user-data-dir={self._home}", "about:blank"])
        self._process = subprocess.Popen(
            ["bash", "-c", f"exec {words} 3<&{ends[0]} 4>&{ends[1]}"],
            pass_fds=ends,
            start_new_session=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for end in ends:
            os.close(end)
        self._held, self._count, self._session = b"", 0, ""
        self.console: list[str] = []
        self._loaded = False
        page = next(t for t in self.send("Target.getTargets")["targetInfos"] if t["type"] == "page")
        found = self.send("Target.attachToTarget", targetId=page["targetId"], flatten=True)
        self._session = found["sessionId"]
        for part in ("Page", "Runtime", "Log", "Network"):
            self.send(f"{part}.enable")
        return self

    def __exit__(self, *error: object) -> None:
        try:
            self._session = ""
            self.send("Browser.close")
        except (OSError, TimeoutError, AssertionError):
            pass
        try:
            self._process.wait(10)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait(10)
        os.close(self._down)
        os.close(self._up)
        shutil.rmtree(self._home, ignore_errors=True)

    def send(self, method: str, **parameters: Any) -> dict[str, Any]:
        """One command of the protocol and its answer."""
        self._count += 1
        message: dict[str, Any] = {"id": self._count, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._down, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._read()
            if answer.get("id") == self._count:
                assert "error" not in answer, answer["error"]
                return dict(answer["result"])

    def _read(self) -> dict[str, Any]:
        until = time.monotonic() + _PATIENCE_S
        while b"\0" not in self._held:
            ready, _, _ = select.select([self._up], [], [], max(0.0, until - time.monotonic()))
            if not ready:
                raise TimeoutError("the browser does not answer")
            piece = os.read(self._up, 1 << 20)
            if not piece:
                raise OSError("the browser has gone")
            self._held += piece
        line, _, self._held = self._held.partition(b"\0")
        message = dict(json.loads(line))
        self._hear(message)
        return message

    def _hear(self, message: dict[str, Any]) -> None:
        method, told = message.get("method"), message.get("params", {})
        if method == "Page.loadEventFired":
            self._loaded = True
        elif method == "Log.entryAdded" and told["entry"]["level"] == "error":
            self.console.append(told["entry"]["text"])
        elif method == "Runtime.exceptionThrown":
            self.console.append(told["exceptionDetails"]["text"])

    def open(self, address: str) -> None:
        """Go to an address and wait until it is loaded."""
        self._loaded = False
        self.send("Page.navigate", url=address)
        self._wait()

    def _wait(self) -> None:
        until = time.monotonic() + _PATIENCE_S
        while not self._loaded:
            assert time.monotonic() < until, "the page does not load"
            self._read()

    def size(self, width: int, height: int, dark: bool = False) -> None:
        """Width and height of the window in px, and whether the person prefers dark."""
        self.send("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        self.send(
            "Emulation.setEmulatedMedia",
            features=[{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}],
        )

    def scripts(self, on: bool) -> None:
        """Whether pages may run scripts."""
        self.send("Emulation.setScriptExecutionDisabled", value=not on)

    def ask(self, expression: str) -> Any:
        """The value of an expression in the page."""
        found = self.send("Runtime.evaluate", expression=expression, returnByValue=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def press(self, key: str, text: str = "", loads: bool = False) -> None:
        """Press a key; `loads` waits for the page that follows."""
        self._loaded = False
        code = {"Tab": 9, "Enter": 13}.get(key) or (ord(key.upper()) if key.isalnum() or key == " " else 0)
        typed = {"text": "\r"} if key == "Enter" else {"text": text} if text else {}
        for kind in ("keyDown", "keyUp"):
            self.send("Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=code, **typed)
        if loads:
            self._wait()

    def picture(self, file: Path) -> None:
        """A screenshot of the whole page."""
        shot = self.send("Page.captureScreenshot", format="png", captureBeyondViewport=True)
        file.write_bytes(base64.b64decode(shot["data"]))

    def printed(self, file: Path) -> None:
        """The page as a PDF."""
        file.write_bytes(base64.b64decode(self.send("Page.printToPDF", preferCSSPageSize=True)["data"]))
