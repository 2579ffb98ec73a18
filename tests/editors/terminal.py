"""A terminal without a window: starts a program in it, presses its keys and reads its screen."""

import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import termios
import time

import pyte

KEYS = {"enter": "\r", "escape": "\x1b", "tab": "\t", "down": "\x1b[B", "up": "\x1b[A", "home": "\x1b[H", "end": "\x1b[F", "backspace": "\x7f"}
# What newer terminals understand and the library of this one would print: private sequences but modes, device strings, styles of underlines.
UNKNOWN = re.compile(
    rb"\x1bP.*?\x1b\\|\x1b\[[<=>][0-9;:]*[ -/]*[@-~]|\x1b\[\?[0-9;:]*\$?[ac-gi-km-z]|\x1b\[[0-9;]*:[0-9;:]*m|\x1b\[58[;:][0-9;:]*m|\x1b\[[0-9;]* q", re.DOTALL
)
UNFINISHED = re.compile(rb"\x1b(?:\[[0-?]*[ -/]*|P[^\x1b]*|\][^\x07\x1b]*)?$", re.DOTALL)


class Screen(pyte.Screen):
    """What is drawn, and the answers that a program gets to its questions."""

    def __init__(self, columns: int, lines: int, answer):
        super().__init__(columns, lines)
        self.answer = answer

    def write_process_input(self, data: str) -> None:
        self.answer(data.encode())


class Terminal:
    """A running program; use it in a `with` statement."""

    def __init__(self, command: list, environment: dict, folder, columns: int = 220, lines: int = 90):
        ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", lines, columns, 0, 0))
        # Editors ask what the variables of another terminal would answer for this one.
        clean = {name: value for name, value in environment.items() if name not in ("TMUX", "STY", "COLORTERM", "VIM", "VIMRUNTIME", "NVIM")}
        self.process = subprocess.Popen(
            [str(word) for word in command],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            cwd=folder,
            env={**clean, "TERM": "xterm-256color", "LINES": str(lines), "COLUMNS": str(columns)},
            start_new_session=True,
            preexec_fn=lambda: fcntl.ioctl(0, termios.TIOCSCTTY, 0),
        )
        os.close(theirs)
        self.file = ours
        self.screen = Screen(columns, lines, lambda data: os.write(ours, data))
        self.stream = pyte.ByteStream(self.screen)
        self.rest = b""

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGTERM)
            try:
                self.process.wait(timeout=5)
            except subprocess.TimeoutExpired:
                os.killpg(self.process.pid, signal.SIGKILL)
                self.process.wait()
        os.close(self.file)

    def draw(self, seconds: float) -> bool:
        """Draws what comes within a time; whether the program still runs."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            if select.select([self.file], [], [], left)[0]:
                try:
                    data = os.read(self.file, 65536)
                except OSError:
                    return False
                if not data:
                    return False
                # Which terminal this is: a plain one, of which nothing more is asked.
                if b"\x1b[>c" in data or b"\x1b[>0c" in data:
                    os.write(self.file, b"\x1b[>0;115;0c")
                data = UNKNOWN.sub(b"", self.rest + data)
                cut = UNFINISHED.search(data)
                self.rest = data[cut.start() :] if cut else b""
                self.stream.feed(data[: cut.start()] if cut else data)
        return True

    def rows(self) -> list:
        """The rows of the screen from the top."""
        return [row.rstrip() for row in self.screen.display]

    def text(self) -> str:
        """The same as one text."""
        return "\n".join(self.rows())

    def colour(self, text: str) -> str | None:
        """In which colour a text stands on the screen where it is seen first; None where it is not seen."""
        for number, row in enumerate(self.screen.display):
            if (column := row.find(text)) >= 0:
                return self.screen.buffer[number][column].fg
        return None

    def until(self, condition, seconds: float = 10.0) -> bool:
        """Draws until a condition on the rows holds; whether it came to hold."""
        end = time.monotonic() + seconds
        while not condition(self.rows()):
            if time.monotonic() > end or not self.draw(0.05):
                return bool(condition(self.rows()))
        return True

    def shows(self, text: str, seconds: float = 10.0) -> bool:
        """Whether a text comes onto the screen."""
        return self.until(lambda rows: any(text in row for row in rows), seconds)

    def press(self, *keys: str, pause: float = 0.05) -> None:
        """Presses keys one after the other: names of KEYS, or texts as they are typed."""
        for key in keys:
            os.write(self.file, KEYS.get(key, key).encode())
            self.draw(pause)

    def type(self, text: str) -> None:
        """Types a text, key by key, as fast as a hand on the keys could be at most."""
        for character in text:
            self.press(character, pause=0.01)

    def left(self, seconds: float = 10.0) -> bool:
        """Waits until the program has ended; whether it has."""
        end = time.monotonic() + seconds
        while self.process.poll() is None and time.monotonic() < end:
            self.draw(0.05)
        return self.process.poll() is not None
