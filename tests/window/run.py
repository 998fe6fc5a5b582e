"""Drives the real window under Xvfb with a software Vulkan driver, and compares what it shows.

    python3 tests/window/run.py [--write] [--keep FOLDER]

Screenshots are compared with those in tests/window/expected by a tolerance, and the values of the
panels (the window's log) with `lapidary check --format json` on the same files. --write takes the
screenshots as the expected ones: look at every one of them then.

Needs Xvfb, xdotool, ImageMagick and a Vulkan driver (Debian: xvfb xdotool imagemagick
mesa-vulkan-drivers libxcursor1 libxi6 libxkbcommon-x11-0), and both programs built in the release
profile, or in the folder that LAPIDARY_PROGRAMS names.
"""

import argparse
import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time

from screen import MAY_DIFFER, PATIENCE_S, Failed, Screen, Window, demand, differing

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
EXPECTED = HERE / "expected"
# Proving over which angles a face is reached takes longer than a check.
REACH_PATIENCE_S = 300

# So many pictures are taken before one is said to differ.
SHOTS = 4


def programs():
    target = os.environ.get("CARGO_TARGET_DIR", str(ROOT / "target"))
    folder = pathlib.Path(os.environ.get("LAPIDARY_PROGRAMS", f"{target}/release"))
    for name in ("lapidary", "lapidary-viewer"):
        if not (folder / name).is_file():
            sys.exit(f"{folder / name} is missing: cargo build --release --workspace")
    return folder / "lapidary", folder / "lapidary-viewer"


def check(program, job, *more):
    told = subprocess.run(
        [program, "check", job, "--format", "json", *more], capture_output=True, text=True
    )
    demand(told.returncode in (0, 1, 3), f"check failed: {told.stderr}")
    return json.loads(told.stdout)["answer"]


def reach(program, job, ring):
    """The bands of one face with one tool at one seat."""
    command = [program, "reach", job, "--format", "json", "--bands", "--bands-to", "1"]
    command += ["--index", "0", "--face", ring["face"], "--seat", ring["seat"]]
    command += ["--tool", str(ring["tool"])]
    told = subprocess.run(command, capture_output=True, text=True)
    demand(told.returncode == 0, f"reach failed: {told.stderr}")
    (part,) = json.loads(told.stdout)["answer"]["parts"]
    return part["faces"][0]["tools"][0]["seats"][0]["bands"]


def arcs_of(bands):
    """Bands as arcs of one turn: begin from 0 to below 360, end, verdict."""
    for key, verdict in (("reached_deg", "clear"), ("undecided_deg", "unknown")):
        for low, high in bands[key]:
            yield (low % 360.0, low % 360.0 + (high - low), verdict)


def same_gap(shown, told, what):
    """A gap of a panel against the same gap of the JSON: to the last digit."""
    demand(shown is not None and told is not None, f"{what}: {shown} against {told}")
    for key in ("gap", "wanted_mm", "verdict", "body", "element_body"):
        demand(shown[key] == told[key], f"{what}, {key}: {shown[key]} against {told[key]}")


def settled(line):
    return line["fresh"] and line["whole"] and line["now"] is not None


class Run:
    def __init__(self, arguments, folder):
        self.arguments = arguments
        self.folder = folder
        self.seen = []
        self.lapidary, self.viewer = programs()
        # A copy: files are changed under the open window.
        self.models = folder / "models"
        shutil.copytree(ROOT / "demo-models", self.models)
        self.job = self.models / "horizontal.toml"

    def shot(self, window, name):
        path = self.folder / f"{name}.png"
        expected = EXPECTED / f"{name}.png"
        # What the log tells is seen a frame later, and a frame of a busy machine can take long.
        for patience in range(SHOTS):
            window.screen.shot(path)
            window.alive()
            if not self.arguments.write and differing(path, expected) <= MAY_DIFFER:
                break
        if self.arguments.write:
            # A palette keeps the files small; its error is far below the tolerance.
            subprocess.run(["convert", str(path), "-colors", "200", f"PNG8:{expected}"], check=True)
        share = differing(path, expected)
        print(f"  {name}: {share:.3%} of the pixels differ")
        demand(share <= MAY_DIFFER, f"{name}: {share:.1%} of the pixels differ; see {path}")
        for other, earlier in self.seen:
            demand(differing(path, earlier) > 0.001, f"{name} looks like {other}")
        self.seen.append((name, path))

    def all(self):
        answer = check(self.lapidary, self.job)
        screen = Screen()
        window = None
        try:
            window = Window(self.viewer, self.job, screen, self.folder)
            window.until("the first panel", lambda line: True)
            print(f"  first panel after {time.monotonic() - window.begun:.2f} s")
            self.opens_at_the_worst_place(window, answer)
            self.picked(window)
            self.next_trouble(window, answer)
            self.orbit(window)
            self.dial(window)
            self.opened(window)
            self.typed(window)
            self.length(window, answer)
            self.files(window)
        finally:
            if window:
                window.close()
            screen.close()

    def opens_at_the_worst_place(self, window, answer):
        line = window.until("the answer", settled)
        # Without a window manager no window has the keys.
        window.screen.do("search", "--sync", "--name", "lapidary", "windowfocus")
        window.screen.do("mousemove", 600, 300)
        for key in ("verdict", "title"):
            demand(line[key] == answer[key], f"{key}: {line[key]} against {answer[key]}")
        demand(line["troubles"] == len(answer["troubles"]), f"troubles: {line['troubles']}")
        demand(line["cuts"] == len(answer["cuts"]), f"cuts: {line['cuts']}")
        demand((line["spot"], line["spot_number"]) == ("trouble", 0), f"spot: {line['spot']}")
        trouble = answer["troubles"][0]
        same_gap(line["here"], trouble["worst"], "worst place")
        demand(line["index_deg"] == trouble["worst"]["place"]["angle_deg"], "index")
        # At the worst moment the gap of the moment is the gap of the whole motion.
        apart = abs(line["now"]["gap"]["lo_mm"] - trouble["worst"]["gap"]["lo_mm"])
        demand(apart < 1e-3, f"the moment's gap is {apart} off")
        self.shot(window, "worst")

    def next_trouble(self, window, answer):
        window.key("n")
        line = window.until(
            "the index move",
            lambda line: line["spot_number"] == 1 and settled(line),
        )
        demand(line["cut"] == answer["troubles"][1]["cut"], f"cut: {line['cut']}")
        worst = answer["troubles"][1]["worst"]
        same_gap(line["here"], worst, "index move")
        # Only a whole motion finds it: the moment is between the ends of the move.
        apart = abs(line["now"]["gap"]["lo_mm"] - worst["gap"]["lo_mm"])
        demand(apart < 2e-3, f"the moment's gap is {apart} off")
        demand(abs(line["index_deg"] - worst["place"]["angle_deg"]) < 1e-9, "index")
        demand(line["index_deg"] % 90 != 0, "the moment is between the ends")
        self.shot(window, "index-move")
        window.key("n")
        line = window.until(
            "the drill that is short of travel",
            lambda line: line["spot_number"] == 2 and settled(line),
        )
        demand(line["tool"] == answer["troubles"][2]["tool"], f"tool: {line['tool']}")
        demand(line["here"] is None, "no gap is told where an axis is short")

    def orbit(self, window):
        before = self.folder / "before.png"
        window.screen.shot(before)
        window.screen.drag((560, 330), (690, 290))
        self.shot(window, "orbit")
        turned = differing(before, self.folder / "orbit.png")
        demand(turned > 0.1, f"a drag turned the view: {turned:.1%} of the pixels differ")

    def dial(self, window):
        window.key("w")
        line = window.until(
            "the worst place",
            lambda line: line["spot_number"] == 0 and line["at_spot"] and settled(line),
        )
        index_deg = line["index_deg"]
        x, y, width, _ = line["places"]["dial"]
        # The spindle is below on this machine, so what is at the right is a quarter further.
        window.screen.click(x + width * 0.36, y)
        wanted = (index_deg + 90.0) % 360.0
        line = window.until(
            f"the dial at {wanted}",
            lambda line: line["index_deg"] == wanted and line["now"] is not None,
        )
        demand(not line["at_spot"], "the dial left the spot")
        self.shot(window, "dial")

    def opened(self, window):
        window.key("w")
        window.until(
            "the worst place",
            lambda line: line["spot_number"] == 0 and line["at_spot"] and settled(line),
        )
        before = self.folder / "before-open.png"
        window.screen.shot(before)
        window.key("c")
        self.rests(window, before)
        self.shot(window, "open")
        window.key("c")

    def rests(self, window, before):
        """Waits until another picture is there, and stays: a frame can take seconds."""
        last, now = before, self.folder / "now.png"
        began = time.monotonic()
        while time.monotonic() - began < PATIENCE_S:
            time.sleep(3)
            window.screen.shot(now)
            if differing(now, before) > MAY_DIFFER and last != before and differing(now, last) == 0:
                return
            last = self.folder / "last.png"
            shutil.copy(now, last)
        raise Failed("the picture did not come to rest")

    def picked(self, window):
        """A click on the part below goes to a cut at its seat."""
        window.screen.click(620, 610)
        line = window.until(
            "the part that was clicked on",
            lambda line: line["picked"] and line["spot"] == "cut" and settled(line),
        )
        demand(line["seat"] == "1.1", f"seat: {line['seat']}")
        demand("of seat 1.1" in line["picked"], f"picked: {line['picked']}")
        self.reached(window)
        window.key("w")
        window.until("the worst place", lambda line: line["spot"] == "trouble" and settled(line))

    def reached(self, window):
        """The outer ring of the dial has the bands of `lapidary reach`."""
        demand(window.lines()[-1]["pointed"], "no face of the finished part was clicked")
        line = window.until(
            "the arcs of the face that was clicked on",
            lambda line: line["reached"] and not line["reached"]["asking"],
            REACH_PATIENCE_S,
        )
        ring = line["reached"]
        demand((ring["tool"], ring["seat"]) == (line["tool"], line["seat"]), f"asked: {ring}")
        # Kept beside the others to be looked at, and not compared.
        window.screen.shot(self.folder / "reached.png")
        told = reach(self.lapidary, self.job, ring)
        shown = sorted(tuple(arc) for arc in ring["arcs"])
        wanted = sorted(arcs_of(told))
        print(f"  {len(wanted)} arcs of {ring['face']} with T{ring['tool']}: {wanted}")
        same = len(shown) == len(wanted) and all(
            a[2] == b[2] and abs(a[0] - b[0]) < 1e-9 and abs(a[1] - b[1]) < 1e-9
            for a, b in zip(shown, wanted)
        )
        demand(same, f"arcs: {shown} against {wanted}")

    def typed(self, window):
        """Fields take what is typed, whole; what they cannot take is told, and no key goes astray."""
        window.key("w")
        line = window.until(
            "the worst place",
            lambda line: line["spot_number"] == 0 and line["at_spot"] and settled(line),
        )
        time.sleep(5)
        x, y, _, _ = window.lines()[-1]["places"]["gauge_length"]
        window.screen.do("mousemove", round(x), round(y))
        time.sleep(3)
        # At once, in one slow frame maybe: the keys come before the field is one.
        window.screen.do("mousedown", 1, "mouseup", 1, "type", "--delay", "0", "12")
        time.sleep(5)
        window.key("Return")
        line = window.until("a word about 12", lambda line: line["slip"] and settled(line))
        demand(": 12 cannot be set; the shortest is " in line["slip"], line["slip"])
        shortest = float(line["slip"].split("the shortest is ")[1].split(",")[0])
        demand(abs(line["gauge_length_mm"] - shortest) < 1e-3, f"{line['gauge_length_mm']}")
        demand(line["looks"] == ["whole"] * 6 + ["faint"], f"groups: {line['looks']}")
        window.screen.click(x, y)
        window.screen.do("type", "--delay", "200", "12x")
        window.key("Return")
        line = window.until("a word about 12x", lambda line: "is no number" in (line["slip"] or ""))
        demand('"12x"' in line["slip"], line["slip"])
        # Kept to be looked at, and not compared.
        window.screen.shot(self.folder / "slip.png")
        window.screen.do("mousemove", 600, 300)
        window.screen.do("key", "ctrl+a")
        time.sleep(5)
        demand(not window.lines()[-1]["walking"], "Ctrl+A walks")
        # Back to the length of the job.
        window.screen.click(x, y)
        window.screen.do("type", "--delay", "200", "118")
        window.key("Return")
        window.until("the job's length", lambda line: line["gauge_length_mm"] == 118 and settled(line))

    def length(self, window, answer):
        window.key("w")
        line = window.until(
            "the worst place",
            lambda line: line["spot_number"] == 0 and line["at_spot"] and settled(line),
        )
        time.sleep(5)
        line = window.lines()[-1]
        tool = line["tool"]
        longer = line["gauge_length_mm"] + 10.0
        x, y, _, _ = line["places"]["gauge_length"]
        window.screen.click(x, y)
        window.screen.do("type", "--delay", "200", f"{longer:g}")
        window.key("Return")
        begun = time.monotonic()
        window.until(
            "a verdict for the longer tool",
            lambda line: line["gauge_length_mm"] == longer and line["fresh"],
        )
        print(f"  new verdict after {time.monotonic() - begun:.2f} s")
        line = window.until(
            "the longer tool",
            lambda line: line["gauge_length_mm"] == longer and settled(line),
        )
        self.lengthened(tool, 10.0)
        told = check(self.lapidary, self.models / "longer.toml")
        demand(line["troubles"] == len(told["troubles"]), f"troubles: {line['troubles']}")
        demand(len(told["troubles"]) != len(answer["troubles"]), "the length changes something")
        demand(line["verdict"] == told["verdict"], f"verdict: {line['verdict']}")
        if line["spot"] == "cut":
            same_gap(line["here"], told["cuts"][line["spot_number"]]["least"], "longer tool")

    def lengthened(self, number, by_mm):
        """A copy of the job in which a tool sticks out farther."""
        drawer = (self.models / "tools/drawer.toml").read_text()
        head, mark, rest = drawer.partition(f"number = {number}\n")
        demand(mark, f"tool {number} is not in the drawer")
        tool, cut, tail = rest.partition("[[tools]]")
        lines = []
        for line in tool.splitlines(keepends=True):
            key, equals, value = line.partition(" = ")
            if key.strip() in ("LF", "stick_out"):
                text = value.split("#")[0].strip()
                line = f"{key}{equals}{float(text) + by_mm:g}\n"
            lines.append(line)
        longer = self.models / "tools/longer.toml"
        longer.write_text(head + mark + "".join(lines) + cut + tail)
        job = self.job.read_text().replace("tools/drawer.toml", "tools/longer.toml")
        (self.models / "longer.toml").write_text(job)

    def files(self, window):
        """A mesh that goes and comes back under the open window."""
        mesh = self.models / "meshes/clamp.stl"
        bytes_before = mesh.read_bytes()
        mesh.unlink()
        line = window.until(
            "the notice that a mesh is gone",
            lambda line: line["notice"] and "clamp.stl" in line["notice"],
        )
        gone = line["notice"]
        demand(line["verdict"] is not None, "the last good state stays")
        mesh.write_bytes(b"solid nothing\nfacet normal 0 0")
        window.until(
            "the notice that a mesh is spoiled",
            lambda line: line["notice"] not in (None, gone) and "clamp.stl" in line["notice"],
        )
        window.alive()
        mesh.write_bytes(bytes_before)
        window.until(
            "the job, read again",
            lambda line: line["notice"] and "read again" in line["notice"] and settled(line),
        )


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--keep", type=pathlib.Path)
    arguments = parser.parse_args()
    missing = [name for name in ("Xvfb", "xdotool", "convert", "import") if not shutil.which(name)]
    if missing:
        sys.exit(f"missing: {', '.join(missing)}")
    EXPECTED.mkdir(exist_ok=True)
    folder = pathlib.Path(tempfile.mkdtemp(prefix="lapidary-window-"))
    try:
        Run(arguments, folder).all()
    except Failed as fault:
        sys.exit(f"FAILED: {fault}\nscreenshots so far: {folder}")
    if arguments.keep:
        shutil.copytree(folder, arguments.keep, dirs_exist_ok=True)
    shutil.rmtree(folder)
    print("the window shows what check tells")


if __name__ == "__main__":
    main()
