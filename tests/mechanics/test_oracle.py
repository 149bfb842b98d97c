"""The same matrices and forces as two other libraries."""

import numpy as np
import pytest
from blocks import block, law

from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.system import Load, System

E, NU = 1.3, 0.35
MU, LAM = E / (2 * (1 + NU)), E * NU / ((1 + NU) * (1 - 2 * NU))


def deformed(dim):
    mesh = block((4, 3, 2)[:dim], (3.0, 2.0, 1.5)[:dim], jitter=0.2)
    p = mesh.points
    rng = np.random.default_rng(2)
    u = p @ np.array([[0.1, 0.2, -0.1], [-0.05, 0.15, 0.1], [0.1, -0.1, 0.05]])[:dim, :dim].T
    return mesh, u + rng.uniform(-0.02, 0.02, p.shape)


def ours(mesh, u, degree=2):
    co = Coordinates(mesh.points, np.full(len(mesh.points), -1), np.zeros((0, mesh.dim)))
    system = System(co, solids=[Solid(mesh.points, mesh.cells, law("neo_hookean", E_MPa=E, nu=NU),
                                      degree=degree)])
    state = co.moved(co.start(), u.ravel())
    here = system.evaluate(state, Load(), (), ())
    return system.pattern.matrix(here.data), here.residual


def neo_hookean_forms(dim):
    """Neo-Hookean tangent and force as scikit-fem forms, in terms of F and the first Piola stress.

    dP = mu dF + (mu - lambda ln J) F^-T dF^T F^-T + lambda (F^-T : dF) F^-T.
    """
    from skfem import BilinearForm, LinearForm
    from skfem.helpers import ddot, det, eye, grad, inv, mul, transpose

    def kinematics(w):
        F = grad(w["u"]) + eye(np.ones_like(w.x[0]), dim)
        return F, transpose(inv(F)), np.log(det(F))

    @BilinearForm
    def tangent(du, v, w):
        _, G, log_J = kinematics(w)
        dF = grad(du)
        return ddot(MU * dF + (MU - LAM * log_J) * mul(G, mul(transpose(dF), G))
                    + LAM * ddot(G, dF) * G, grad(v))

    @LinearForm
    def force(v, w):
        F, G, log_J = kinematics(w)
        return ddot(MU * (F - G) + LAM * log_J * G, grad(v))

    return tangent, force


def skfem_basis(mesh):
    """Basis on the corner mesh, and its dofs in the order of our nodes."""
    import skfem

    dim = mesh.dim
    corners = mesh.cells[:, : dim + 1]
    used = np.unique(corners)
    number = np.full(len(mesh.points), -1)
    number[used] = np.arange(len(used))
    kind, element = ((skfem.MeshTri, skfem.ElementTriP2()) if dim == 2
                     else (skfem.MeshTet, skfem.ElementTetP2()))
    other = kind(mesh.points[used].T, number[corners].T)
    basis = skfem.Basis(other, skfem.ElementVector(element), intorder=2)
    # dofs by place and direction
    from scipy.spatial import cKDTree

    at = cKDTree(mesh.points).query(basis.doflocs.T)
    assert at[0].max() < 1e-12
    seen, direction = {}, np.empty(basis.N, int)
    for dof in range(basis.N):
        direction[dof] = seen.get(at[1][dof], 0)
        seen[at[1][dof]] = direction[dof] + 1
    return basis, at[1] * dim + direction


@pytest.mark.parametrize("dim", [2, 3])
def test_scikit_fem(dim):
    mesh, u = deformed(dim)
    matrix, residual = ours(mesh, u)
    basis, order = skfem_basis(mesh)
    tangent, force = neo_hookean_forms(dim)
    field = basis.interpolate(u.ravel()[order])
    theirs = tangent.assemble(basis, u=field).toarray()
    here = matrix.toarray()[np.ix_(order, order)]
    assert np.abs(here - theirs).max() < 1e-12 * np.abs(theirs).max()
    vector = force.assemble(basis, u=field)
    assert np.abs(residual[order] - vector).max() < 1e-12 * np.abs(vector).max()


def felupe_body(mesh, u):
    """FElupe's neo-Hookean solid on our mesh and quadrature points.

    FElupe 11.3 tabulates the tetrahedron's points to seven digits, and its quadratic triangle has
    4 (1 - 2r - s) for dh5/ds in place of 4 (1 - r - 2s); points and gradients are ours.
    """
    import felupe

    from fefoot.mechanics.element import quadrature, shape

    dim = mesh.dim

    class Element(felupe.element.QuadraticTriangle if dim == 2 else felupe.element.QuadraticTetra):
        def gradient(self, rs):
            return shape(dim + 1, np.asarray(rs, float)[None])[1][0]

    where, weights = quadrature(dim + 1, 2)
    other = felupe.Mesh(mesh.points, mesh.cells, "triangle6" if dim == 2 else "tetra10")
    region = felupe.Region(other, Element(), felupe.quadrature.Scheme(where, weights))
    field = felupe.FieldPlaneStrain(region, dim=2) if dim == 2 else felupe.Field(region, dim=3)
    field.values[:] = u
    return felupe.SolidBody(felupe.NeoHookeCompressible(mu=MU, lmbda=LAM),
                            felupe.FieldContainer([field]))


@pytest.mark.parametrize("dim", [2, 3])
def test_felupe(dim):
    mesh, u = deformed(dim)
    matrix, residual = ours(mesh, u)
    body = felupe_body(mesh, u)
    theirs = body.assemble.matrix().toarray()
    assert np.abs(matrix.toarray() - theirs).max() < 1e-12 * np.abs(theirs).max()
    vector = body.assemble.vector().toarray().ravel()
    assert np.abs(residual - vector).max() < 1e-12 * np.abs(vector).max()
