"""The same assembly in three libraries: as calls, and measured in a process of its own."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

from fefoot.mechanics.element import quadrature, shape
from fefoot.mechanics.system import Load

from .shapes import grid, law, model

E, NU = 1.0, 0.4
MU, LAM = E / (2 * (1 + NU)), E * NU / ((1 + NU) * (1 - 2 * NU))
LIBRARIES = ("ours", "scikit-fem", "FElupe")


def sample(dim):
    """Return a mesh of about 10,000 cells and a deformed state of it."""
    counts = (72, 70) if dim == 2 else (12, 12, 12)
    mesh = grid(*[np.linspace(0, 1, n + 1) for n in counts])
    p = mesh.points
    u = 0.05 * np.sin(3 * p[:, ::-1]) * p
    return mesh, u


def scikit_fem(mesh, u):
    """Return a call that assembles the same tangent with scikit-fem, and the matrix's sum."""
    import skfem
    from skfem.helpers import ddot, det, eye, grad, inv, mul, transpose

    dim = mesh.dim

    @skfem.BilinearForm
    def tangent(du, v, w):
        F = grad(w["u"]) + eye(np.ones_like(w.x[0]), dim)
        G, log_J, dF = transpose(inv(F)), np.log(det(F)), grad(du)
        return ddot(MU * dF + (MU - LAM * log_J) * mul(G, mul(transpose(dF), G))
                    + LAM * ddot(G, dF) * G, grad(v))

    corners = mesh.cells[:, : dim + 1]
    used, number = np.unique(corners, return_inverse=True)
    kind, element = ((skfem.MeshTri, skfem.ElementTriP2()) if dim == 2
                     else (skfem.MeshTet, skfem.ElementTetP2()))
    other = kind(mesh.points[used].T, number.reshape(corners.shape).T)
    basis = skfem.Basis(other, skfem.ElementVector(element), intorder=2)
    p = basis.doflocs
    # the same field by its formula, at the degrees of freedom in scikit-fem's order
    seen, field = {}, np.empty(basis.N)
    for dof, place in enumerate(map(tuple, np.round(p.T, 9))):
        axis = seen.get(place, 0)
        seen[place] = axis + 1
        field[dof] = 0.05 * np.sin(3 * p[dim - 1 - axis, dof]) * p[axis, dof]
    known = basis.interpolate(field)
    return lambda: tangent.assemble(basis, u=known)


def felupe_call(mesh, u, parallel):
    """Return a call that assembles matrix and vector with FElupe on our mesh and points."""
    import felupe

    dim = mesh.dim

    class Element(felupe.element.QuadraticTriangle if dim == 2 else felupe.element.QuadraticTetra):
        """The element with our gradient; see tests/mechanics/test_oracle.py for the reason."""

        def gradient(self, rs):
            """Return the gradient of the shape functions."""
            return shape(dim + 1, np.asarray(rs, float)[None])[1][0]

    other = felupe.Mesh(mesh.points, mesh.cells, "triangle6" if dim == 2 else "tetra10")
    region = felupe.Region(other, Element(), felupe.quadrature.Scheme(*quadrature(dim + 1, 2)))
    field = felupe.FieldPlaneStrain(region, dim=2) if dim == 2 else felupe.Field(region, dim=3)
    field.values[:] = u
    container = felupe.FieldContainer([field])
    body = felupe.SolidBody(felupe.NeoHookeCompressible(mu=MU, lmbda=LAM, parallel=parallel),
                            container)

    def call():
        body.assemble.vector(container, parallel=parallel)
        return body.assemble.matrix(container, parallel=parallel)

    return call


def fefoot_call(mesh, u):
    """Return a call that assembles energy, force and tangent as a sparse matrix."""
    system = model(mesh, law("neo_hookean", E_MPa=E, nu=NU))
    state = system.coordinates.moved(system.coordinates.start(), u.ravel())
    load = Load()

    def call():
        here = system.evaluate(state, load, (), ())
        return system.pattern.matrix(here.data)

    return call


def peak_MB() -> float:
    """Return the largest resident memory of this process so far.

    ``ru_maxrss`` starts from the parent's at the fork, so that the kernel's own mark is read where
    there is one.
    """
    import resource

    status = Path("/proc/self/status")
    if status.exists():
        for line in status.read_text(encoding="ascii").splitlines():
            if line.startswith("VmHWM:"):
                return float(line.split()[1]) / 1024.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def alone(library: str, dim: int) -> dict[str, float]:
    """Return seconds of the second assembly and peak memory (MB) of a fresh process; {} if it fails."""
    done = subprocess.run([sys.executable, "-m", "benchmarks.peers", library, str(dim)],
                          capture_output=True, text=True, check=False)
    lines = done.stdout.strip().splitlines()
    return json.loads(lines[-1]) if done.returncode == 0 and lines else {}


def main() -> None:
    """Measure one library: ``python -m benchmarks.peers LIBRARY DIM``."""
    library, dim = sys.argv[1], int(sys.argv[2])
    if library == "scikit-fem":
        import skfem  # noqa: F401
    if library == "FElupe":
        import felupe  # noqa: F401
    mesh, u = sample(dim)
    call = {"ours": fefoot_call, "scikit-fem": scikit_fem,
            "FElupe": lambda m, v: felupe_call(m, v, False)}[library](mesh, u)
    call()
    start = time.perf_counter()
    call()
    print(json.dumps({"seconds": time.perf_counter() - start, "MB": peak_MB()}))


if __name__ == "__main__":
    main()
