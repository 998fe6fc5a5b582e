"""Real meshes out of registry packages, each through the ordinary client of its registry.

Nothing of them is kept in the repository. Debian occt-misc (LGPL-2.1 with exception): sh1, sh2,
shape. npm occt-import-js 0.0.23 (LGPL-2.1), its test file as1-tu-203 (from CAx-IF), turned into
triangles by the package itself: plate, l-bracket, bolt, rod.
"""

import hashlib
import io
import json
import lzma
import shutil
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

import bodies

DEBIAN = {
    "sh1": "c5bdf0f5ca546f82bebe87205a225ab279d155469e1cd158efb12a968ed7c1c1",
    "sh2": "0bb606ff96255e731a7657ca8aa6c562e1514356fa476d1f4b7551f4ece77364",
    "shape": "41793c78563624205829ef9877cc9d9f12ce9cf87ab229a786731600465734b6",
}
STEP_SHA256 = "d40db2ed6f741d2955329f9751c7e3e0a14cbfeb4e11d8338cf110765b9042f9"
STEP_BODIES = {
    "as1-plate": "plate", "as1-bracket": "l-bracket", "as1-bolt": "bolt", "as1-rod": "rod",
}
TESSELLATE = """
const fs = require('fs');
require(process.argv[1])().then(occt => {
  const read = occt.ReadStepFile(new Uint8Array(fs.readFileSync(process.argv[2])), {
    linearUnit: 'millimeter', linearDeflectionType: 'absolute_value', linearDeflection: 0.1,
    angularDeflection: 0.3});
  fs.writeFileSync(process.argv[3], JSON.stringify(read.meshes.map(mesh => ({
    name: mesh.name, points: mesh.attributes.position.array, corners: mesh.index.array}))));
});
"""


def _pinned(data, sha256, name):
    found = hashlib.sha256(data).hexdigest()
    if found != sha256:
        raise ValueError(f"{name}: sha256 is {found}, not {sha256}")
    return data


def _deb_data(path):
    """The data archive of a Debian package (an ar archive with a tar inside)."""
    data = path.read_bytes()
    at = 8
    while at + 60 <= len(data):
        name, size = data[at : at + 16].decode().strip(), int(data[at + 48 : at + 58])
        if name.startswith("data.tar.xz"):
            return tarfile.open(fileobj=io.BytesIO(lzma.decompress(data[at + 60 : at + 60 + size])))
        at += 60 + size + size % 2
    raise ValueError(f"{path.name}: no data.tar.xz")


def from_debian(folder, work):
    """Meshes of occt-misc."""
    subprocess.run(["apt-get", "download", "-q", "occt-misc"], cwd=work, check=True)
    archive = _deb_data(next(work.glob("occt-misc_*.deb")))
    for name, sha256 in DEBIAN.items():
        member = archive.extractfile(f"./usr/share/opencascade/data/stl/{name}.stl")
        data = _pinned(member.read(), sha256, name)
        bodies.write_stl(folder / f"{name}.stl", bodies.read_stl(data))


def from_npm(folder, work):
    """Bodies of as1-tu-203, by the importer that the package is."""
    npm = shutil.which("npm") or "npm"
    subprocess.run([npm, "pack", "--silent", "occt-import-js@0.0.23"], cwd=work, check=True)
    with tarfile.open(next(work.glob("occt-import-js-*.tgz"))) as archive:
        for name in ("dist/occt-import-js.js", "dist/occt-import-js.wasm"):
            (work / Path(name).name).write_bytes(archive.extractfile(f"package/{name}").read())
        step = archive.extractfile("package/test/testfiles/cax-if/as1-tu-203.stp").read()
    (work / "as1.stp").write_bytes(_pinned(step, STEP_SHA256, "as1-tu-203"))
    call = ["node", "-e", TESSELLATE, "./occt-import-js.js", "as1.stp", "as1.json"]
    call[3] = str(work / "occt-import-js.js")
    subprocess.run(call, cwd=work, check=True)
    meshes = {mesh["name"]: mesh for mesh in json.loads((work / "as1.json").read_text())}
    for name, part in STEP_BODIES.items():
        mesh = meshes[part]
        bodies.write_stl(folder / f"{name}.stl", bodies.corners(mesh["points"], mesh["corners"]))


def fetch(folder):
    """Fetches what is not there yet; returns the names that could not be had."""
    folder.mkdir(parents=True, exist_ok=True)
    missing = []
    sources = [(list(DEBIAN), from_debian), (list(STEP_BODIES), from_npm)]
    for names, source in sources:
        if all((folder / f"{name}.stl").exists() for name in names):
            continue
        with tempfile.TemporaryDirectory() as work:
            try:
                source(folder, Path(work))
            except (OSError, ValueError, StopIteration, subprocess.CalledProcessError) as error:
                print(f"not fetched: {', '.join(names)}: {error}", file=sys.stderr)
                missing += names
    return missing


if __name__ == "__main__":
    sys.exit(1 if fetch(bodies.FETCHED) else 0)
