#!/usr/bin/env python3
"""Mutation gate: plants one fault at a time in a copy of the source and demands that tests fail.

    python tests/mutation/run.py            all faults
    python tests/mutation/run.py --quick    those that matter most, for every change
    python tests/mutation/run.py --list     what there is
    python tests/mutation/run.py NAME ...   these only

Each fault (faults.py) is an exact piece of source text, its replacement, and the tests that must
turn red. The gate fails when a piece of text is no longer found exactly once, when a fault does not
compile, when a fault survives, or when the tests are red without any fault. Only the standard
library of Python 3.9 or later is used.

The tests run in the release profile, with less optimization for lapidary itself (LIGHTER), so that
rebuilds are short. The libraries are then the same as in target/release, down to the last flag:
what was built there is taken over (seed), and built here only where it is missing.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from faults import FAULTS

ROOT = Path(__file__).resolve().parents[2]
# The window is not built, but its manifest belongs to the workspace.
COPIED = [
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "rust-toolchain.toml",
    "src",
    "tests",
    "viewer",
]
# A fault may turn a search into one without end; that counts as red.
TEST_LIMIT_S = 240
# For one package only: the libraries' builds stay those of the release profile.
LIGHTER = [
    word
    for setting in ("opt-level=0", "codegen-units=256", "debug=false", "incremental=true")
    for word in ("--config", f"profile.release.package.lapidary.{setting}")
]
CARGO_TEST = ["cargo", "test", "--quiet", "--release", *LIGHTER]


def main() -> int:
    arguments = parse()
    faults = chosen(arguments)
    if arguments.list:
        for fault in faults:
            print(f"{'quick' if fault.quick else '     '}  {fault.name}: {fault.what}")
        return 0
    rotten = [problem for fault in FAULTS if (problem := mismatch(ROOT, fault))]
    for problem in rotten:
        print(problem, file=sys.stderr)
    if rotten:
        return 1
    target = Path(arguments.target or ROOT / "target" / "mutation").resolve()
    seed(target / "release")
    with tempfile.TemporaryDirectory(prefix="lapidary-mutation-") as folder:
        tree = Path(folder)
        copy_to(tree)
        return run(tree, target, faults)


def parse() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", help="faults to plant; all when none is named")
    parser.add_argument("--quick", action="store_true", help="only the faults that matter most")
    parser.add_argument("--list", action="store_true", help="list the faults and stop")
    parser.add_argument("--target", help="folder for builds, kept between runs")
    return parser.parse_args()


def chosen(arguments: argparse.Namespace) -> list:
    known = {fault.name for fault in FAULTS}
    unknown = [name for name in arguments.names if name not in known]
    if unknown:
        sys.exit(f"no such fault: {', '.join(unknown)}; --list shows them")
    return [
        fault
        for fault in FAULTS
        if (not arguments.quick or fault.quick)
        and (not arguments.names or fault.name in arguments.names)
    ]


def mismatch(tree: Path, fault) -> str:
    """Why a fault cannot be planted; empty where it can."""
    path = tree / fault.file
    if not path.is_file():
        return f"{fault.name}: no file {fault.file}"
    count = read(path).count(fault.old)
    if count != 1:
        return f"{fault.name}: {fault.file} has the text {count} times, not once: {fault.old!r}"
    return ""


def copy_to(tree: Path) -> None:
    for name in COPIED:
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, tree / name, ignore=shutil.ignore_patterns("__pycache__"))
        elif source.is_file():
            shutil.copy2(source, tree / name)


def seed(release: Path) -> None:
    """Takes over the libraries that the release build has made, where there is one.

    Cargo looks at each of them and builds it again where it does not fit, so that nothing wrong can
    come of this. Fingerprints go first: cargo writes a fingerprint when its library is whole, and
    another build may be going on there. They are copied, since cargo writes into them; libraries are
    linked, since compilers put new files in the place of old ones.
    """
    built = Path(os.environ.get("CARGO_TARGET_DIR") or ROOT / "target") / "release"
    for folder, take in ((".fingerprint", shutil.copy2), ("build", shutil.copy2), ("deps", linked)):
        if not (built / folder).is_dir():
            continue
        (release / folder).mkdir(parents=True, exist_ok=True)
        for source in sorted((built / folder).iterdir()):
            own = source.name.removeprefix("lib").startswith("lapidary")
            if not own and not (release / folder / source.name).exists():
                take_over(source, release / folder / source.name, take)


def take_over(source: Path, there: Path, take) -> None:
    try:
        if source.is_dir():
            shutil.copytree(source, there, copy_function=take)
        else:
            take(source, there)
    except (OSError, shutil.Error):
        # Gone meanwhile, or half written by a build that goes on: cargo builds it here.
        if there.is_dir():
            shutil.rmtree(there, ignore_errors=True)
        else:
            there.unlink(missing_ok=True)


def linked(source: Path, there: Path) -> None:
    """A second name for a file; a copy where the file system has none."""
    try:
        os.link(source, there)
    except OSError:
        shutil.copy2(source, there)


def run(tree: Path, target: Path, faults: list) -> int:
    started = time.monotonic()
    wanted = {fault.suite: set() for fault in faults}
    for fault in faults:
        wanted[fault.suite].update(fault.tests)
    suites = sorted(wanted)
    built, output = build(tree, target, suites)
    if not built:
        print(output, file=sys.stderr)
        print("the tests do not compile without a fault", file=sys.stderr)
        return 1
    red = test_all(tree, target, wanted)
    if red:
        print(f"red without a fault: {', '.join(red)}", file=sys.stderr)
        return 1
    count = sum(len(names) for names in wanted.values())
    print(f"green without a fault: {count} tests, {time.monotonic() - started:.0f} s", flush=True)
    failed = 0
    for fault in faults:
        begun = time.monotonic()
        outcome, good = judge(tree, target, fault)
        failed += not good
        print(f"{'ok  ' if good else 'FAIL'} {fault.name}: {outcome}, {time.monotonic() - begun:.0f} s", flush=True)
    # With every fault taken out again, all is as at first: no fault was caught by one before it.
    built, output = build(tree, target, suites)
    red = test_all(tree, target, wanted) if built else [output]
    if red:
        print(f"red after the last fault was taken out: {', '.join(red)}", file=sys.stderr)
        return 1
    print(f"{len(faults) - failed} of {len(faults)} faults caught, {time.monotonic() - started:.0f} s")
    return 1 if failed else 0


def judge(tree: Path, target: Path, fault) -> tuple:
    path = tree / fault.file
    sound = path.read_bytes()
    write(path, read(path).replace(fault.old, fault.new))
    try:
        built, output = build(tree, target, [fault.suite])
        if not built:
            return f"does not compile\n{output}", False
        red = test(tree, target, fault.suite, fault.tests)
        return (f"caught by {', '.join(red)}", True) if red else ("SURVIVED", False)
    finally:
        path.write_bytes(sound)
        # A restored file must look new, or the faulty build would be taken for it.
        os.utime(path)


def environment(target: Path) -> dict:
    variables = dict(os.environ)
    variables.update(
        CARGO_TARGET_DIR=str(target),
        CARGO_TERM_COLOR="never",
    )
    # It would overrule what LIGHTER says.
    variables.pop("CARGO_INCREMENTAL", None)
    return variables


def build(tree: Path, target: Path, suites: list) -> tuple:
    chosen = [word for suite in suites for word in ("--test", suite)]
    command = [*CARGO_TEST, *chosen, "--no-run"]
    done = subprocess.run(
        command,
        cwd=tree,
        env=environment(target),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
    )
    return done.returncode == 0, done.stdout


def test_all(tree: Path, target: Path, wanted: dict) -> list:
    """Names of the tests that are red, in every suite."""
    of_suite = [test(tree, target, suite, sorted(names)) for suite, names in sorted(wanted.items())]
    return [name for red in of_suite for name in red]


def test(tree: Path, target: Path, suite: str, names) -> list:
    """Names of the tests of a suite that are red."""
    command = [*CARGO_TEST, "--test", suite, "--", "--exact", *names]
    process = subprocess.Popen(
        command,
        cwd=tree,
        env=environment(target),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
    )
    try:
        output, _ = process.communicate(timeout=TEST_LIMIT_S)
    except subprocess.TimeoutExpired:
        stop(process)
        return ["no end within the limit"]
    if process.returncode == 0:
        if f"test result: ok. {len(names)} passed" not in output:
            sys.exit(f"these tests did not all run: {', '.join(names)}\n{output}")
        return []
    red = [name for name in names if f"\n    {name}\n" in output]
    return red or [f"exit status {process.returncode}"]


def stop(process: subprocess.Popen) -> None:
    """Ends a test run with what it started."""
    if os.name == "nt":
        subprocess.run(["taskkill", "/F", "/T", "/PID", str(process.pid)], check=False, stdout=subprocess.DEVNULL)
    else:
        process.terminate()
    process.communicate()


def read(path: Path) -> str:
    return path.read_bytes().decode("utf-8").replace("\r\n", "\n")


def write(path: Path, text: str) -> None:
    path.write_bytes(text.encode("utf-8"))


if __name__ == "__main__":
    sys.exit(main())
