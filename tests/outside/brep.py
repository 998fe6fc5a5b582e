"""B-reps out of registry packages as triangles, with what the B-rep says of each face.

`python tests/outside/brep.py` (in an environment with requirements-brep.txt, which `run.py` makes)
fetches the STEP files through the ordinary clients of their registries, tessellates every solid at
two densities, and writes to target/outside/brep/ for each an STL file and a JSON file: the kind of
each face, its radius and axis, and how many triangles it has, in the order of the STL file.
Nothing of the files is kept in the repository.
"""

import hashlib
import json
import math
import shutil
import struct
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from pathlib import Path

from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepTools import BRepTools
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRep import BRep_Tool
from OCP.Bnd import Bnd_Box
from OCP.BRepBndLib import BRepBndLib
from OCP.GeomAbs import GeomAbs_SurfaceType as Kind
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.STEPControl import STEPControl_Reader
from OCP.ShapeAnalysis import ShapeAnalysis_CanonicalRecognition
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS
from OCP.gp import gp_Cylinder, gp_Pln, gp_Pnt, gp_Vec

OUT = Path(__file__).resolve().parent.parent.parent / "target" / "outside" / "brep"

# npm occt-import-js 0.0.23 (LGPL-2.1): its test files; PyPI gmsh 4.15.0 (GPL-2.0-or-later): an
# example. Name: path in the package, sha256 of the file.
NPM = "occt-import-js@0.0.23"
NPM_FILES = {
    "as1": "package/test/testfiles/cax-if/as1-oc-214.stp",
    "as1-tu": "package/test/testfiles/cax-if/as1-tu-203.stp",
    "io1": "package/test/testfiles/cax-if/io1-tu-203.stp",
    "cone": "package/test/testfiles/conical-surface/conical-surface.step",
    "rounded-cube": "package/test/testfiles/rounded-cube/rounded-cube.step",
    "head": "package/test/testfiles/cax-if/s1-tu-203/headback.stp",
    "as1-pe": "package/test/testfiles/cax-if/as1_pe_203.stp",
    "dm1": "package/test/testfiles/cax-if/dm1-oc-214.stp",
    "io1-cm": "package/test/testfiles/cax-if/io1-cm-214.stp",
    "turbine": "package/test/testfiles/cax-if/s1-c5-214/TAIL_TURBINE.stp",
    "mainbody": "package/test/testfiles/cax-if/s1-c5-214/MAINBODY_BACK.stp",
}
PIP = "gmsh==4.15.0"
PIP_FILES = {"component8": "component8.step"}
SHA256 = json.loads((Path(__file__).parent / "reference" / "brep.json").read_text())["sha256"]

# Chord error as a share of the solid's diagonal, and greatest angle between facets, radians.
DENSITIES = {"coarse": (2e-3, math.radians(30.0)), "fine": (2e-4, math.radians(10.0))}

# A surface that is no plane or cylinder by name counts as one within this.
RECOGNISED_MM = 1e-4

NAMES = {
    Kind.GeomAbs_Plane: "plane", Kind.GeomAbs_Cylinder: "cylinder", Kind.GeomAbs_Cone: "cone",
    Kind.GeomAbs_Torus: "torus", Kind.GeomAbs_Sphere: "sphere",
}


def fetch(work):
    """The STEP files by name; what could not be had is left out."""
    found = {}
    npm = shutil.which("npm") or "npm"
    try:
        subprocess.run([npm, "pack", "--silent", NPM], cwd=work, check=True,
                       stdout=subprocess.DEVNULL)
        with tarfile.open(next(work.glob("occt-import-js-*.tgz"))) as archive:
            for name, path in NPM_FILES.items():
                found[name] = archive.extractfile(path).read()
    except (OSError, StopIteration, KeyError, subprocess.CalledProcessError) as error:
        print(f"not fetched: {NPM}: {error}", file=sys.stderr)
    try:
        call = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "-d", work, PIP]
        subprocess.run(call + ["--disable-pip-version-check"], check=True)
        with zipfile.ZipFile(next(work.glob("gmsh-*.whl"))) as archive:
            for name, path in PIP_FILES.items():
                inside = next(n for n in archive.namelist() if n.endswith("/" + path))
                found[name] = archive.read(inside)
    except (OSError, StopIteration, subprocess.CalledProcessError) as error:
        print(f"not fetched: {PIP}: {error}", file=sys.stderr)
    for name, data in found.items():
        digest = hashlib.sha256(data).hexdigest()
        if SHA256.get(name) != digest:
            raise ValueError(f"{name}: sha256 is {digest}, not {SHA256.get(name)}")
    return found


def each(shape, kind):
    """Sub-shapes of a kind."""
    explorer = TopExp_Explorer(shape, kind)
    while explorer.More():
        yield explorer.Current()
        explorer.Next()


def solids(path):
    """Different solids of a STEP file: instances of one solid count once."""
    reader = STEPControl_Reader()
    if reader.ReadFile(str(path)) != IFSelect_ReturnStatus.IFSelect_RetDone:
        raise ValueError(f"{path.name}: not read")
    reader.TransferRoots()
    seen = []
    for solid in each(reader.OneShape(), TopAbs_ShapeEnum.TopAbs_SOLID):
        if not any(solid.IsPartner(other) for other in seen):
            seen.append(solid)
    return seen


def facts(face):
    """Kind of a face, with radius and axis where it has them."""
    surface = BRepAdaptor_Surface(face)
    row = {"kind": NAMES.get(surface.GetType(), "other")}
    turned = face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED
    plane = surface.Plane() if row["kind"] == "plane" else None
    cylinder = surface.Cylinder() if row["kind"] == "cylinder" else None
    if row["kind"] == "other":
        # Extrusions, turned curves and splines that are planes and cylinders all the same.
        known = ShapeAnalysis_CanonicalRecognition(face)
        plane, cylinder = gp_Pln(), gp_Cylinder()
        plane = plane if known.IsPlane(RECOGNISED_MM, plane) else None
        cylinder = cylinder if not plane and known.IsCylinder(RECOGNISED_MM, cylinder) else None
    if plane:
        row["kind"] = "plane"
        axis = plane.Axis().Direction()
    elif cylinder:
        row["kind"] = "cylinder"
        row["radius"] = cylinder.Radius()
        row["hollow"] = is_hollow(surface, turned, cylinder)
        axis = cylinder.Axis().Direction()
    else:
        return row
    row["axis"] = [axis.X(), axis.Y(), axis.Z()]
    return row


def is_hollow(surface, turned, cylinder):
    """Whether the outward normal in the middle of a face looks toward the axis."""
    u = (surface.FirstUParameter() + surface.LastUParameter()) / 2.0
    v = (surface.FirstVParameter() + surface.LastVParameter()) / 2.0
    point, along_u, along_v = gp_Pnt(), gp_Vec(), gp_Vec()
    surface.D1(u, v, point, along_u, along_v)
    normal = along_u.Crossed(along_v)
    away = gp_Vec(cylinder.Location(), point)
    axis = gp_Vec(cylinder.Axis().Direction())
    away.Subtract(axis.Multiplied(away.Dot(axis)))
    return (normal.Dot(away) < 0.0) != turned


def triangles(face):
    """Triangles of a face with an area."""
    place = TopLoc_Location()
    mesh = BRep_Tool.Triangulation_s(face, place)
    if mesh is None:
        return []
    move = place.Transformation()
    points = [mesh.Node(k + 1).Transformed(move) for k in range(mesh.NbNodes())]
    points = [(p.X(), p.Y(), p.Z()) for p in points]
    rows = []
    for k in range(mesh.NbTriangles()):
        a, b, c = mesh.Triangle(k + 1).Get()
        if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED:
            a, b = b, a
        corners = [points[i - 1] for i in (a, b, c)]
        single = [struct.unpack("<3f", struct.pack("<3f", *p)) for p in corners]
        if len(set(single)) == 3 and area(single) > 1e-9:
            rows.append(single)
    return rows


def area(corners):
    """Area of a triangle."""
    (a, b, c) = corners
    u, v = [b[i] - a[i] for i in range(3)], [c[i] - a[i] for i in range(3)]
    w = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]]
    return math.sqrt(sum(x * x for x in w)) / 2.0


def write(name, solid, density):
    """One solid at one density."""
    share, angle = DENSITIES[density]
    box = Bnd_Box()
    BRepBndLib.Add_s(solid, box)
    low, high = box.CornerMin(), box.CornerMax()
    chord = share * low.Distance(high)
    # A solid is meshed anew: the coarse mesh would stand in for the fine one, and the reverse.
    BRepTools.Clean_s(solid)
    BRepMesh_IncrementalMesh(solid, chord, False, angle, False)
    rows, faces = [], []
    for shape in each(solid, TopAbs_ShapeEnum.TopAbs_FACE):
        face = TopoDS.Face(shape)
        own = triangles(face)
        faces.append({**facts(face), "triangles": len(own)})
        rows += own
    OUT.mkdir(parents=True, exist_ok=True)
    data = bytearray(b"B-rep test body".ljust(80) + struct.pack("<I", len(rows)))
    for corners in rows:
        flat = [x for corner in corners for x in corner]
        data += struct.pack("<12fH", 0, 0, 0, *flat, 0)
    (OUT / f"{name}-{density}.stl").write_bytes(data)
    (OUT / f"{name}-{density}.json").write_text(
        json.dumps({"chord_mm": chord, "angle_deg": math.degrees(angle), "faces": faces}))


def main():
    """Fetches and tessellates everything."""
    with tempfile.TemporaryDirectory() as work:
        work = Path(work)
        found = fetch(work)
        for name, data in found.items():
            (work / f"{name}.stp").write_bytes(data)
            for number, solid in enumerate(solids(work / f"{name}.stp"), 1):
                for density in DENSITIES:
                    write(f"{name}-{number}", solid, density)
    return 0 if len(found) == len(NPM_FILES) + len(PIP_FILES) else 1


if __name__ == "__main__":
    sys.exit(main())
