"""A display in memory, the window on it, and what a person does there: for run.py."""

import json
import os
import pathlib
import subprocess
import time

SIZE = (1200, 800)
# A channel that differs by less is the same, and this share of the pixels may differ: two
# releases of one driver differ by far less, another panel or view by far more.
SAME_BY = 24
MAY_DIFFER = 0.02
PATIENCE_S = 90


class Failed(Exception):
    pass


def demand(holds, what):
    if not holds:
        raise Failed(what)


def pixels(path):
    """The bytes of a picture, three to a pixel."""
    command = ["convert", str(path), "-depth", "8", "rgb:-"]
    return subprocess.run(command, check=True, capture_output=True).stdout


def differing(one, other):
    """The share of the pixels that differ."""
    a, b = pixels(one), pixels(other)
    if len(a) != len(b):
        return 1.0
    apart = 0
    for at in range(0, len(a), 3):
        if a[at : at + 3] != b[at : at + 3] and any(
            abs(a[at + c] - b[at + c]) > SAME_BY for c in range(3)
        ):
            apart += 1
    return apart / (len(a) / 3)


class Screen:
    """A display in memory, and what a person does on it."""

    def __init__(self):
        read, write = os.pipe()
        size = f"{SIZE[0]}x{SIZE[1]}x24"
        command = ["Xvfb", "-displayfd", str(write), "-screen", "0", size, "-nolisten", "tcp"]
        self.server = subprocess.Popen(command, pass_fds=[write], stderr=subprocess.DEVNULL)
        os.close(write)
        with os.fdopen(read) as told:
            number = told.readline().strip()
        demand(number != "", "Xvfb did not start")
        self.environment = {**os.environ, "DISPLAY": f":{number}"}
        self.environment.pop("WAYLAND_DISPLAY", None)
        # The screenshots are those of Mesa's software driver, whatever else is installed.
        drivers = sorted(pathlib.Path("/usr/share/vulkan/icd.d").glob("lvp_icd*.json"))
        if drivers:
            self.environment["VK_DRIVER_FILES"] = str(drivers[0])
            self.environment["VK_ICD_FILENAMES"] = str(drivers[0])

    def close(self):
        self.server.terminate()
        self.server.wait()

    def do(self, *words):
        command = ["xdotool", *map(str, words)]
        subprocess.run(command, check=True, env=self.environment, stdout=subprocess.DEVNULL)

    def click(self, x, y):
        """Waits before and after: what is under the pointer is known a frame later."""
        self.do("mousemove", round(x), round(y))
        time.sleep(3)
        self.do("mousedown", 1)
        time.sleep(0.3)
        self.do("mouseup", 1)
        time.sleep(3)

    def drag(self, from_xy, to_xy):
        """Waits before and after, as a press and a release in one slow frame are no drag."""
        self.do("mousemove", *from_xy)
        time.sleep(3)
        self.do("mousedown", 1)
        time.sleep(3)
        steps = 6
        for step in range(1, steps + 1):
            share = step / steps
            x = from_xy[0] + (to_xy[0] - from_xy[0]) * share
            y = from_xy[1] + (to_xy[1] - from_xy[1]) * share
            self.do("mousemove", round(x), round(y))
            time.sleep(0.15)
        time.sleep(4)
        self.do("mouseup", 1)

    def shot(self, path):
        # Away from everything that a pointer would light up.
        self.do("mousemove", SIZE[0] // 2, 300)
        # A frame takes seconds on a busy machine without a GPU.
        time.sleep(5)
        command = ["import", "-window", "root", str(path)]
        subprocess.run(command, check=True, env=self.environment)


class Window:
    """The program, and the log of its panels."""

    def __init__(self, viewer, job, screen, folder):
        self.log = folder / "panels.jsonl"
        self.log.write_text("")
        self.words = (folder / "stderr").open("w+")
        size = f"{SIZE[0]}x{SIZE[1]}"
        command = [viewer, job, "--log", self.log, "--size", size]
        self.begun = time.monotonic()
        self.program = subprocess.Popen(
            command, env=screen.environment, stderr=self.words, stdout=self.words
        )
        self.screen = screen

    def lines(self):
        return [json.loads(line) for line in self.log.read_text().splitlines() if line]

    def alive(self):
        if self.program.poll() is not None:
            self.words.seek(0)
            raise Failed(f"the window ended: {self.words.read()}")

    def until(self, what, holds, patience_s=PATIENCE_S):
        """Waits for a panel that holds, and for no other to follow for a while."""
        end = time.monotonic() + patience_s
        while time.monotonic() < end:
            self.alive()
            lines = self.lines()
            if lines and holds(lines[-1]):
                return lines[-1]
            time.sleep(0.1)
        last = self.lines()[-1:] or ["nothing was logged"]
        raise Failed(f"waited in vain: {what}; last: {last[0]}")

    def key(self, name):
        self.screen.do("key", name)

    def close(self):
        if self.program.poll() is None:
            self.program.terminate()
        self.program.wait()
        self.words.close()
