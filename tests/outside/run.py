"""Everything of tests/outside in one call: `python tests/outside/run.py` (Linux and Windows).

Makes environments in target/outside/, installs the pinned libraries, checks the libraries against
one another, fetches the real meshes and B-reps, runs the Rust test and the live comparison.
Needs Python 3.11 or later, cargo, and for the real meshes apt-get (Debian) and npm with node.
"""

import argparse
import os
import subprocess
import sys
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
OUTSIDE = ROOT / "target" / "outside"


def environment(folder, requirements):
    """The Python of an environment, made where it is not there or its pins changed."""
    place = OUTSIDE / folder
    python = place / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    pins, mark = (HERE / requirements).read_bytes(), place / "installed.txt"
    if not (python.exists() and mark.exists() and mark.read_bytes() == pins):
        venv.create(place, with_pip=True, clear=True)
        install = ["-m", "pip", "install", "-q", "--disable-pip-version-check"]
        subprocess.run([python, *install, "-r", HERE / requirements], check=True)
        mark.write_bytes(pins)
    return python


def breps():
    """B-reps as triangles; an environment of their own, whose library is large."""
    try:
        python = environment("brep-venv", "requirements-brep.txt")
    except subprocess.CalledProcessError as error:
        print(f"not installed: requirements-brep.txt: {error}", flush=True)
        return False
    return step("B-reps", [python, HERE / "brep.py"])


def step(name, call, **more):
    """Runs one step; returns whether it went well."""
    print(f"== {name}", flush=True)
    code = subprocess.run(call, cwd=ROOT, check=False, **more).returncode
    if code:
        print(f"== {name}: failed ({code})", flush=True)
    return code == 0


def main():
    """Runs all steps; 0 when every one went well."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--skip-missing", action="store_true",
                        help="skip cases whose real mesh cannot be fetched")
    options, live_options = parser.parse_known_args()
    python = environment("venv", "requirements.txt")
    good = step("libraries against one another", [python, HERE / "check_oracles.py"])
    fetched = step("real meshes", [python, HERE / "fetch.py"])
    fetched &= breps()
    names = dict(os.environ)
    if options.skip_missing:
        fetched = True
        names.pop("LAPIDARY_OUTSIDE_REQUIRED", None)
    else:
        names["LAPIDARY_OUTSIDE_REQUIRED"] = "1"
    cargo = ["cargo", "test", "--release", "--test", "outside", "--", "--nocapture"]
    tested = step("engine against the committed values", cargo, env=names)
    live = step("engine against the libraries", [python, HERE / "live.py", *live_options])
    tips = step("tip stops against coal", [python, HERE / "tips.py", *live_options])
    crossings = step("crossings against coal", [python, HERE / "crossings.py"])
    return 0 if good and fetched and tested and live and tips and crossings else 1


if __name__ == "__main__":
    sys.exit(main())
