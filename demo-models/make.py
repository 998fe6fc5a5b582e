"""Makes every mesh of the demo, the same bytes on each run. See README.md.

    python make.py            write meshes/*.stl
    python make.py --check    make them elsewhere and compare; exit code 1 where one differs
"""

import argparse
import pathlib
import sys
import tempfile

import numpy as np
from manifold3d import Error, Manifold, Mesh64

import clamp
import housing
import iron

HERE = pathlib.Path(__file__).resolve().parent

# Coordinates are laid on this grid. It is exact in the 32-bit floats of STL up to 1024 mm, and
# coarse enough that the last bits of sin and cos do not reach the file.
GRID = 2.0 ** -14
# Corners nearer than a few steps of the grid go first: on it, two of them could meet.
SIMPLIFY = 3e-4
# Volumes before and after the grid agree to this share: 1e-4 mm on faces of some cm.
VOLUME_SHARE = 1e-4


def bodies():
    """Every mesh by file name."""
    made = {f"housing-{name}": solid for name, solid in housing.states().items()}
    made["clamp"] = clamp.clamp()
    made["head"] = iron.head()
    made["rotary-housing"] = iron.rotary_housing()
    made["tailstock"] = iron.tailstock()
    made["pallet"] = iron.pallet()
    made["saddle"] = iron.saddle()
    made["carrier"] = iron.carrier()
    return made


def triangles_of(name, solid):
    """Triangles on the grid in a fixed order, proved watertight, one piece and outward."""
    assert solid.status() == Error.NoError, f"{name}: {solid.status()}"
    mesh = solid.simplify(SIMPLIFY).to_mesh64()
    corners = np.rint(np.asarray(mesh.vert_properties)[:, :3] / GRID) * GRID
    points, index = np.unique(corners, axis=0, return_inverse=True)
    faces = index.reshape(-1)[np.asarray(mesh.tri_verts)]
    # Corners that met on the grid take their triangles with them; the skin stays closed.
    kept = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    faces = faces[kept]
    first = np.argmin(faces, axis=1)
    rows = np.arange(len(faces))[:, None]
    faces = faces[rows, (first[:, None] + np.arange(3)) % 3]
    faces = faces[np.lexsort(faces.T[::-1])]
    prove(name, solid, points, faces)
    return points[faces]


def prove(name, solid, points, faces):
    """Closed (each edge once each way), without slivers of no area, positive volume kept."""
    ways = {(int(a), int(b)) for face in faces for a, b in zip(face, np.roll(face, -1))}
    assert len(ways) == 3 * len(faces), f"{name}: an edge is used twice in one direction"
    assert all((b, a) in ways for a, b in ways), f"{name}: not watertight"
    p, q, r = (points[faces[:, k]] for k in range(3))
    area = np.linalg.norm(np.cross(q - p, r - p), axis=1) / 2.0
    assert area.min() > 0.0, f"{name}: {np.count_nonzero(area == 0.0)} triangles without area"
    volume = np.einsum("ij,ij->", p, np.cross(q, r)) / 6.0
    assert volume > 0.0, f"{name}: inside out"
    assert abs(volume - solid.volume()) < VOLUME_SHARE * volume, f"{name}: volume changed"
    again = Manifold(Mesh64(points, faces.astype(np.uint64)))
    assert again.status() == Error.NoError, f"{name}: {again.status()} as written"
    assert len(again.decompose()) == 1, f"{name}: not one piece"


def stl_bytes(triangles):
    """Binary STL. The header does not begin with the word that marks text files."""
    record = np.zeros(len(triangles), dtype=[
        ("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    record["normal"] = np.round(normal / np.linalg.norm(normal, axis=1)[:, None], 6) + 0.0
    record["corners"] = triangles
    header = b"Lapidary demo, millimetres".ljust(80, b" ")
    return header + len(triangles).to_bytes(4, "little") + record.tobytes()


def main():
    """Writes or compares."""
    parser = argparse.ArgumentParser(description="Makes the meshes of the demo.")
    parser.add_argument("--check", action="store_true", help="compare, write nothing")
    arguments = parser.parse_args()
    target = HERE / "meshes"
    made = {f"{name}.stl": stl_bytes(triangles_of(name, solid))
            for name, solid in bodies().items()}
    if not arguments.check:
        target.mkdir(exist_ok=True)
        for name, data in made.items():
            (target / name).write_bytes(data)
            print(f"{name:26}{(len(data) - 84) // 50:8} triangles")
        return 0
    with tempfile.TemporaryDirectory() as elsewhere:
        return compare(target, pathlib.Path(elsewhere), made)


def compare(target, elsewhere, made):
    """Names each file that is missing, different or not made here."""
    present = {path.name for path in target.glob("*.stl")}
    wrong = sorted(present ^ set(made))
    for name, data in made.items():
        (elsewhere / name).write_bytes(data)
        if name in present and (target / name).read_bytes() != (elsewhere / name).read_bytes():
            wrong.append(name)
    for name in wrong:
        print(f"differs: {name}", file=sys.stderr)
    print(f"{len(made)} meshes, {len(wrong)} differ")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
