"""The page as a person sees it: `python3 tests/page/run.py` (Linux with Chromium, node and npm).

Makes pages of the demo jobs and of a job with nasty names, checks that the same input gives the
same bytes on one thread and on two, and lets check.mjs look at them: html-validate, axe-core,
console, widths, sizes, names of other scripts, numbers against the JSON. On paper nothing is
printed smaller. Screenshots and PDF files stay in target/page.
"""

import argparse
import os
import re
import shutil
import subprocess
import sys
import zlib
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
FOLDER = ROOT / "target" / "page"
DATE = "2026-03-31"
NASTY = "<b>\"q\" & 'x' / \\\\ Gehäuse 外壳 עברית</b>"
# Written from right to left, beside the page's own words and numbers; one that would turn them round.
HEBREW, ARABIC, STEERED = "כיס, גס 3", "نافذة ١٢", "seal \u202egroove"
# Nowhere to break, as names go.
LONG = "L" * 190 + "外" * 200
# Points for a CSS pixel: 72 and 96 to the inch.
FULL_SIZE = 0.75
# Where tools reach, for two pages, so that it is soon there: coarse and few; and all faces, few tools.
BANDS = ["--reached", "--bands-to", "3", "--share", "0.5", "--face", "flat-2", "--face", "flat-62", "--face", "flat-121"]
STEPS = ["--reached=steps"]
# Name of the page, job, further arguments for both commands.
PAGES = [
    ("horizontal", "horizontal.toml", []),
    ("inch", "vertical-inch.toml", ["--units", "inch"]),
    ("part", "horizontal-mended.toml", ["--tool", "3", "--no-lengths", "--no-remedies"]),
]


def packages():
    """The pinned packages, installed in the folder where they are not there yet."""
    for name in ("package.json", "package-lock.json"):
        pinned, there = HERE / name, FOLDER / name
        if not there.exists() or there.read_bytes() != pinned.read_bytes():
            shutil.rmtree(FOLDER / "node_modules", ignore_errors=True)
            shutil.copyfile(pinned, there)
    if not (FOLDER / "node_modules").exists():
        subprocess.run(["npm", "ci", "--no-audit", "--no-fund", "--silent"], cwd=FOLDER, check=True)


def chromium():
    """The browser's program."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        found = shutil.which(name)
        if found:
            return found
    sys.exit("no Chromium here: apt-get install chromium")


def lapidary(*words):
    """Runs the program; exit codes 0, 1 and 3 are answers."""
    done = subprocess.run([PROGRAM, *map(str, words)], cwd=ROOT, check=False, capture_output=True)
    if done.returncode not in (0, 1, 3):
        sys.exit(f"{words}: exit code {done.returncode}: {done.stderr.decode()}")
    return done


def page(name, job, more, reached=("--reached=none",)):
    """Writes NAME.html, twice and on one thread with the same bytes, and NAME.json."""
    more = [*more, *reached]
    fixed = ["--date", DATE, "--no-pictures", *more]
    html = FOLDER / f"{name}.html"
    code = lapidary("report", job, "-o", html, "--threads", 2, *fixed).returncode
    again = FOLDER / "again.htm"
    same = lapidary("report", job, "-o", again, "--threads", 1, *fixed).returncode
    if code != same or html.read_bytes() != again.read_bytes():
        sys.exit(f"{name}: other bytes on one thread than on two")
    again.unlink()
    units = [word for word in more if word not in ("--units", "inch")]
    answer = lapidary("check", job, "--format", "json", "-o", FOLDER / f"{name}.json", *units)
    if answer.returncode != code:
        sys.exit(f"{name}: report ends with {code}, check with {answer.returncode}")


def nasty():
    """The demo job with names that a page must escape, beside copies of its files."""
    folder = FOLDER / "nasty"
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(ROOT / "demo-models", folder, ignore=shutil.ignore_patterns("*.py"))
    job = folder / "horizontal.toml"
    text = job.read_text(encoding="utf-8")
    quoted = NASTY.replace('"', '\\"')
    text = re.sub(r'^title = ".*"', lambda _: f'title = "{quoted}"', text, flags=re.M)
    text, count = re.subn(r'"pocket, finish"', lambda _: f'"{quoted}"', text)
    counts = [count]
    names = {"housing": quoted, "pocket, rough": HEBREW, "top": ARABIC, "seal groove": STEERED, "strap": LONG}
    for name, other in names.items():
        text, count = re.subn(f'"{name}"', lambda _, other=other: f'"{other}"', text)
        counts.append(count)
    if not all(counts):
        sys.exit("the demo job has other names now: mend tests/page/run.py")
    job.write_text(text, encoding="utf-8")
    return job


def scales(pdf):
    """Points for a CSS pixel on each sheet: Chromium prints all smaller where something is too wide.

    The two transformations with which its sheets begin, as Chromium 156 writes them; where it writes
    them otherwise nothing is found, and that is told.
    """
    data, found = pdf.read_bytes(), []
    for stream in re.finditer(rb"stream\r?\n", data):
        try:
            text = zlib.decompressobj().decompress(data[stream.end():])[:200]
        except zlib.error:
            continue
        begin = re.match(rb"([\d.]+) 0 0 -[\d.]+ 0 [\d.]+ cm\nq\n([\d.]+) 0 0 [\d.]+ ", text)
        if begin:
            found.append(float(begin[1]) * float(begin[2]))
    return found


def printed_smaller():
    """Papers on which a drawing would not have its true scale, told; an empty list is what is wanted."""
    wrong = []
    for pdf in sorted(FOLDER.glob("*.pdf")):
        found = scales(pdf)
        if not found or any(abs(scale - FULL_SIZE) > 1e-3 for scale in found):
            wrong.append(f"{pdf.name}: {sorted(set(found))} points for a pixel, not {FULL_SIZE}")
    return wrong


def main():
    """Makes the pages and looks at them."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for old in FOLDER.glob("*.*"):
        known = [name for name, *_ in PAGES]
        if old.suffix in (".html", ".htm", ".png", ".pdf") or old.stem in (*known, "reached", "steps"):
            old.unlink()
    browser = chromium()
    packages()
    for name, job, more in PAGES:
        page(name, ROOT / "demo-models" / job, more)
    few = ["--seat", "1.1", "--seat", "1.2", "--no-lengths", "--no-remedies"]
    page("reached", ROOT / "demo-models" / "horizontal.toml", ["--tool", "3", *few], BANDS)
    page("steps", ROOT / "demo-models" / "horizontal.toml", ["--tool", "3", "--tool", "6", *few, "--seat", "2.1"], STEPS)
    page("nasty", nasty(), ["--tool", "3", "--no-lengths", "--no-remedies"])
    looked = subprocess.run(["node", HERE / "check.mjs", FOLDER, browser], check=False)
    if shutil.which("pdftoppm"):
        for pdf in FOLDER.glob("*.pdf"):
            subprocess.run(["pdftoppm", "-r", "70", "-png", pdf, pdf.with_suffix("")], check=True)
    wrong = printed_smaller()
    print(*(f"FAULT {what}" for what in wrong) if wrong else ["on paper all is at full size"], sep="\n")
    return looked.returncode or bool(wrong)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--program", default=ROOT / "target" / "release" / "lapidary",
                        help="the built program (default: target/release/lapidary)")
    PROGRAM = Path(parser.parse_args().program).resolve()
    if os.name == "nt" and not PROGRAM.suffix:
        PROGRAM = PROGRAM.with_suffix(".exe")
    sys.exit(main())
