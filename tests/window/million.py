"""Writes a copy of the demo with each triangle split into four, for frame times of a large job.

    python3 tests/window/million.py FOLDER [--times 1]

The bodies are the same, so the answer is too. Once: some 1.2 million triangles on the screen.
Without any package; the job is FOLDER/horizontal.toml.
"""

import argparse
import pathlib
import shutil
import struct

ROOT = pathlib.Path(__file__).resolve().parent.parent.parent
TRIANGLE = struct.Struct("<12fH")


def corners(data):
    """The three corners of each triangle of a binary STL file."""
    (count,) = struct.unpack_from("<I", data, 80)
    if len(data) != 84 + 50 * count:
        raise SystemExit("not a binary STL file")
    for at in range(count):
        values = TRIANGLE.unpack_from(data, 84 + 50 * at)
        yield values[3:6], values[6:9], values[9:12]


def middle(a, b):
    """The same from both ends, so that neighbours still meet."""
    return tuple((a[axis] + b[axis]) / 2 for axis in range(3))


def split(triangles):
    for a, b, c in triangles:
        ab, bc, ca = middle(a, b), middle(b, c), middle(c, a)
        yield from ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--times", type=int, default=1)
    arguments = parser.parse_args()
    shutil.copytree(ROOT / "demo-models", arguments.folder)
    for path in sorted((arguments.folder / "meshes").glob("*.stl")):
        triangles = list(corners(path.read_bytes()))
        for _ in range(arguments.times):
            triangles = list(split(triangles))
        out = bytearray(80)
        out += struct.pack("<I", len(triangles))
        for a, b, c in triangles:
            out += TRIANGLE.pack(0, 0, 0, *a, *b, *c, 0)
        path.write_bytes(out)


if __name__ == "__main__":
    main()
