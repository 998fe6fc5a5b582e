"""All bodies of the cases by name, and the file that describes them to both sides.

Names: `small:` made by shapes.py, vertices written out; `tool:` rings; `demo:` an STL file of the
demo; `real:` an STL file fetched by fetch.py. Files are known by their FNV-1a hash (64 bit).
"""

import json
import re
from pathlib import Path

import numpy as np

import oracles
import shapes

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
FETCHED = ROOT / "target" / "outside" / "meshes"
REFERENCE = HERE / "reference"
DEMO = ["clamp", "housing-finished", "carrier", "head", "tailstock"]
REAL = ["sh1", "sh2", "shape", "as1-plate", "as1-bracket", "as1-bolt", "as1-rod"]


def fnv1a(data):
    """FNV-1a, 64 bit (Fowler, Noll, Vo), as 16 hexadecimal digits."""
    value = 0xCBF29CE484222325
    for byte in data:
        value = (value ^ byte) * 0x100000001B3 & 0xFFFFFFFFFFFFFFFF
    return f"{value:016x}"


RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("extra", "<u2")])


def read_stl(data):
    """Triangles of a binary or text STL."""
    if len(data) >= 84 and len(data) == 84 + 50 * int.from_bytes(data[80:84], "little"):
        return np.frombuffer(data, dtype=RECORD, offset=84)["corners"].astype(np.float64)
    words = re.findall(rb"vertex\s+(\S+)\s+(\S+)\s+(\S+)", data)
    return np.array(words, dtype=np.float64).reshape(-1, 3, 3)


def write_stl(path, triangles):
    """Binary STL without normals."""
    records = np.zeros(len(triangles), dtype=RECORD)
    records["corners"] = triangles
    header = b"fetched".ljust(80, b" ") + len(triangles).to_bytes(4, "little")
    path.write_bytes(header + records.tobytes())


def corners(points, indices):
    """Triangles from a flat list of coordinates and corner numbers."""
    return np.array(points, dtype=np.float64).reshape(-1, 3)[np.array(indices).reshape(-1, 3)]


def mesh_of(triangles):
    """Welded mesh; triangles with two equal corners are left out."""
    vertices, weld = np.unique(triangles.reshape(-1, 3) + 0.0, axis=0, return_inverse=True)
    faces = weld.reshape(-1, 3)
    sides = [faces[:, 0] != faces[:, 1], faces[:, 1] != faces[:, 2], faces[:, 2] != faces[:, 0]]
    return oracles.Mesh(vertices, faces[np.logical_and.reduce(sides)])


def _path(kind, name):
    if kind == "demo":
        return ROOT / "demo-models" / "meshes" / f"{name}.stl"
    return FETCHED / f"{name}.stl"


def describe():
    """The value of reference/bodies.json, from the shapes and the files that are there."""
    small = {
        name: {"vertices": points.ravel().tolist(), "triangles": faces.ravel().tolist()}
        for name, (points, faces) in shapes.small_meshes().items()
    }
    value = {"small": small, "tool": shapes.tools()}
    for kind, names in (("demo", DEMO), ("real", REAL)):
        there = {name: _path(kind, name) for name in names if _path(kind, name).exists()}
        value[kind] = {
            name: {"path": path.relative_to(ROOT).as_posix(), "fnv1a": fnv1a(path.read_bytes())}
            for name, path in there.items()
        }
    return value


class Bodies:
    """Bodies by name, made when first asked for."""

    def __init__(self, value):
        self.value = value
        self._made = {}
        self.changed = set()

    def names(self, kind):
        """Names of one kind, with the kind before them."""
        return [f"{kind}:{name}" for name in sorted(self.value[kind])]

    def there(self, name):
        """Whether the body can be had on this machine."""
        kind, rest = name.split(":", 1)
        return kind in ("small", "tool") or (ROOT / self.value[kind][rest]["path"]).exists()

    def __getitem__(self, name):
        if name not in self._made:
            self._made[name] = self._make(name)
        return self._made[name]

    def _make(self, name):
        kind, rest = name.split(":", 1)
        value = self.value[kind][rest]
        if kind == "tool":
            return oracles.Tool(value)
        if kind == "small":
            points = np.array(value["vertices"]).reshape(-1, 3)
            return oracles.Mesh(points, np.array(value["triangles"]).reshape(-1, 3))
        data = (ROOT / value["path"]).read_bytes()
        if fnv1a(data) != value["fnv1a"]:
            if kind == "real":
                raise ValueError(f"{value['path']} is not the mesh of the reference values")
            # The demo may be remade: its cases still hold as questions, not as values.
            self.changed.add(name)
        return mesh_of(read_stl(data))


def load():
    """The bodies of the committed cases."""
    return Bodies(json.loads((REFERENCE / "bodies.json").read_text(encoding="utf-8")))
