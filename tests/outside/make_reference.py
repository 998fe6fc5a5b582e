"""Makes the committed cases and reference values. Seeds are below; needs all meshes (fetch.py)."""

import collections
import json
import sys
import time

import bodies as bodies_file
import cases_motion
import cases_section
import cases_static

SEED = 20260401


def write(name, value):
    """One case a line, so that a difference can be read."""
    path = bodies_file.REFERENCE / name
    if isinstance(value, list):
        rows = ",\n".join(json.dumps(row, separators=(",", ":")) for row in value)
        text = f"[\n{rows}\n]\n"
    else:
        parts = []
        for kind, entries in value.items():
            rows = [f"{json.dumps(k)}:{json.dumps(v, separators=(',', ':'))}" for k, v in
                    entries.items()]
            parts.append(f'"{kind}":{{\n' + ",\n".join(rows) + "\n}")
        text = "{\n" + ",\n".join(parts) + "\n}\n"
    path.write_text(text, encoding="utf-8", newline="\n")


def plan(bodies):
    """File, pair kind, bodies on either side, number of cases."""
    small, tool = bodies.names("small"), bodies.names("tool")
    large = bodies.names("demo") + bodies.names("real")
    return [
        ("rest-mesh-small", "mesh-mesh", small, small, 420),
        ("rest-mesh-large", "mesh-mesh", small + large, large, 260),
        ("rest-tool-small", "revolved-mesh", tool, small, 320),
        ("rest-tool-large", "revolved-mesh", tool, large, 200),
        ("rest-tool-tool", "revolved-revolved", tool, tool, 504),
    ]


def rest(bodies, what):
    """Cases at rest, by pair kind; small bodies and large ones."""
    for number, (name, kind, firsts, seconds, count) in enumerate(plan(bodies)):
        if name not in what and "rest" not in what:
            continue
        begun = time.time()
        cases = cases_static.cases_of(bodies, kind, firsts, seconds, count, SEED + number)
        classes = collections.Counter(case[6] for case in cases)
        took = f"{time.time() - begun:.0f} s"
        print(f"{name}: {len(cases)} cases, {took}, {dict(classes)}", flush=True)
        write(f"{name}.json", [[kind, *case] for case in cases])


def main():
    """Writes bodies, cases at rest and motions."""
    what = sys.argv[1:] or ["rest", "motion", "section"]
    bodies_file.REFERENCE.mkdir(exist_ok=True)
    value = bodies_file.describe()
    for kind, names in (("demo", bodies_file.DEMO), ("real", bodies_file.REAL)):
        lacking = set(names) - set(value[kind])
        if lacking:
            sys.exit(f"not there: {sorted(lacking)}; run fetch.py")
    write("bodies.json", value)
    bodies = bodies_file.load()
    rest(bodies, what)
    for number, (name, *_) in enumerate(cases_motion.PLAN):
        if name in what or "motion" in what:
            write(f"{name}.json", cases_motion.cases(bodies, number, SEED + 100))
    if "section" in what:
        write("section.json", cases_section.cases(bodies, bodies.names("demo"), 200, SEED + 200))
    if "motion-full" in what or "motion" in what:
        write("motion-full.json", cases_motion.full_size(bodies, SEED + 150))


if __name__ == "__main__":
    main()
