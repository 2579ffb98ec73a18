"""A screen that nobody sits at: a server of windows in the Debian of the tests, with keys, a mouse and pictures."""

import subprocess
import time
from pathlib import Path

from case import tools


class Screen:
    """A screen of a size, and what runs on it; use it in a `with` statement."""

    def __init__(self, folder: Path, environment: dict, width: int, height: int):
        tools.debian(*tools.SCREEN)
        self.folder, self.width, self.height = folder, width, height
        self.display = f":{next(number for number in range(90, 200) if not Path(f'/tmp/.X11-unix/X{number}').exists())}"
        self.environment = {**environment, "DISPLAY": self.display}
        self.processes = []

    def __enter__(self):
        self.log = open(self.folder / "screen.log", "w")
        self.start([*tools.inside(), "Xvfb", self.display, "-screen", "0", f"{self.width}x{self.height}x24", "-nolisten", "tcp"])
        if not self.until(lambda: Path(f"/tmp/.X11-unix/X{self.display[1:]}").exists(), 10):
            self.__exit__()
            raise SystemExit(f"there is no screen:\n{(self.folder / 'screen.log').read_text()}")
        time.sleep(0.5)
        return self

    def __exit__(self, *_):
        for process in reversed(self.processes):
            process.terminate()
            try:
                process.wait(timeout=5)
            except subprocess.TimeoutExpired:
                process.kill()
        self.log.close()

    def start(self, command: list, folder: Path | None = None) -> None:
        """Starts a program that stays."""
        words = [str(word) for word in command]
        self.processes.append(subprocess.Popen(words, stdout=self.log, stderr=self.log, env=self.environment, cwd=folder or self.folder))

    def until(self, condition, seconds: float = 15.0) -> bool:
        """Waits until a condition holds; whether it came to hold."""
        end = time.monotonic() + seconds
        while not condition():
            if time.monotonic() > end:
                return False
            time.sleep(0.1)
        return True

    def run(self, *command) -> bytes:
        """Runs a program on that screen; what it prints."""
        whole = [str(word) for word in (*tools.inside(), *command)]
        return subprocess.run(whole, env=self.environment, cwd=self.folder, capture_output=True, timeout=60, check=True).stdout

    def press(self, *keys: str) -> None:
        """Presses keys, by their names."""
        self.run("xdotool", "key", "--delay", "60", *keys)

    def type(self, text: str) -> None:
        """Types a text."""
        self.run("xdotool", "type", "--delay", "25", text)

    def picture(self, name: str) -> bytes:
        """A picture of the screen in a file; its pixels in grey, a byte each."""
        self.run("import", "-window", "root", f"{name}.png")
        return self.run("convert", f"{name}.png", "-depth", "8", "gray:-")
