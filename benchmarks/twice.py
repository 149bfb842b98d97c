"""One problem in two formulations, and against a general-purpose library."""

from __future__ import annotations

import numpy as np

from fefoot.mechanics.cable import Cable
from fefoot.mechanics.contact import Contact
from fefoot.mechanics.mesh import joined
from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.system import Load, System

from .elastic import cook_mesh
from .record import Benchmark, Row
from .shapes import count, free_nodes, grid, held, law, model, nearest, traction_forces

TIGHT = Settings(tolerance=1e-9, first_step=0.25, iterations=60)
E, NU = 1.0, 0.35


def force_and_displacement():
    """A block is pulled by a force, then again to the displacement that the force gave."""
    mesh = grid(np.linspace(0, 4, 9), np.linspace(0, 1, 4))
    points = np.vstack([mesh.points, [[4.0, 0.5]]])
    body = np.full(len(points), -1)
    body[mesh.nodes["x1"]] = body[-1] = 0
    co = Coordinates(points, body, np.array([[4.0, 0.5]]))
    system = System(co, solids=[Solid(points, mesh.cells, law("neo_hookean", E_MPa=E, nu=NU))])
    root = held(2, (mesh.nodes["x0"], 0, 0), (mesh.nodes["x0"], 1, 0))
    lid = np.arange(co.size)[co.body_slice(0)]
    force = np.array([0.2, 0.02, 0.0])
    first = solve(system, lambda t: Load(body_force={0: t * force}, held=root), settings=TIGHT)
    moved = system.displacement(first.state)[lid]
    second = solve(system, lambda t: Load(held=root | {
        int(k): float(t * v) for k, v in zip(lid, moved, strict=True)}), settings=TIGHT)
    back = second.evaluation.residual[lid]
    return [Row(f"{name} by displacement [{unit}]", target, value,
                "the force that was put on in the first formulation", "computed", 1e-6,
                "the same discrete problem", count(mesh), scale=0.2)
            for name, unit, target, value in zip(
                ("axial force", "transverse force", "moment"), ("N", "N", "N mm"), force, back,
                strict=True)]


def cable_and_strip():
    """Two cables, and two meshed strips of the same axial stiffness, carry a load at their middle."""
    span, thick, modulus, load = 100.0, 0.1, 5000.0, 0.5
    points = np.array([[-span, 0.0], [0.0, 0.0], [span, 0.0]])
    co = free_nodes(points)
    stiffness = modulus * thick / span
    cables = System(co, cables=[Cable(f"half {i}", (i, i + 1), stiffness, span) for i in (0, 1)])
    pull = np.array([[0.0, 0.0], [0.0, -load], [0.0, 0.0]])
    start = co.moved(co.start(), np.array([0, 0, 0, -0.1 * span, 0, 0.0]))
    ends = {k: 0.0 for k in (0, 1, 4, 5)}
    slack = solve(cables, lambda t: Load(node_force_N=pull, held=ends), state=start, settings=TIGHT)
    tension = cables.cables[0].tension(slack.state.x)
    mesh = grid(np.linspace(0, span, 201), np.linspace(0, thick, 2))
    strip = model(mesh, law("linear_elastic", E_MPa=modulus, nu=0.0))
    # half of it, by symmetry; hinged at both ends by holding one node, and started from a slope
    end, middle = (np.array([nearest(mesh.points, x, thick / 2)]) for x in (0, span))
    force = np.zeros_like(mesh.points)
    force[middle, 1] = -load / 2
    hinges = held(2, (end, 0, 0), (end, 1, 0), (middle, 0, 0))
    co = strip.coordinates
    slope = np.column_stack([np.zeros(len(mesh.points)), -0.1 * mesh.points[:, 0]])
    drawn = solve(strip, lambda t: Load(node_force_N=force, held=hinges), settings=Settings(
        tolerance=1e-8, iterations=100), state=co.moved(co.start(), slope.ravel()))
    sag = [-slack.state.x[1, 1], thick / 2 - drawn.state.x[middle[0], 1]]
    reaction = drawn.evaluation.residual[2 * end[0]:2 * end[0] + 2]
    why = "strains of 0.5 %, at which the strip's law is 0.75 % stiffer"
    return [
        Row("sag of the meshed strip [mm]", sag[0], sag[1], "the cable's", "computed", 0.01, why,
            count(mesh)),
        Row("tension of the meshed strip [N]", tension, float(np.hypot(*reaction)), "the cable's",
            "computed", 0.01, why, count(mesh))]


def plane_and_solid():
    """Cook's membrane in plane strain, and the same as a slab held between two walls."""
    flat = cook_mesh(4)
    thick, cells = 4.0, np.linspace(0, 1, 5)

    def place(p):
        x, t = 48 * p[:, 0], p[:, 1]
        return np.column_stack([x, 44 * p[:, 0] + t * (44 - 28 * p[:, 0]), p[:, 2]])

    slab = grid(cells, cells, np.linspace(0, thick, 2), place=place)
    found = []
    for mesh, dim in ((flat, 2), (slab, 3)):
        system = model(mesh, law("neo_hookean", E_MPa=70.0, nu=1 / 3))
        root = mesh.nodes["x0"]
        fixed = held(dim, *[(root, i, 0) for i in range(dim)])
        if dim == 3:
            fixed |= held(3, (np.arange(len(mesh.points)), 2, 0))
        push = np.zeros(dim)
        push[1] = 100.0 / 16
        force = traction_forces(mesh.points, mesh.facets["x1"], lambda x, n, push=push: push)
        state = solve(system, lambda t, f=force, h=fixed: Load(node_force_N=t * f, held=h),
                      settings=TIGHT).state
        corner = nearest(mesh.points, *((48, 60) if dim == 2 else (48, 60, 0)))
        found.append(state.x[corner, 1] - 60)
    return [Row("u_y(48, 60), finite strain, 3D slab [mm]", found[0], found[1],
                "the plane-strain section on the same 4 x 4 grid", "computed", 0.02,
                "another triangulation: tetrahedra cut the slab's faces along other diagonals",
                count(slab))]


def contact_plane_and_solid():
    """A block pressed on a rigid step: the section, and the slab held between two walls."""
    found = []
    for dim in (2, 3):
        axes = [np.linspace(0, 6, 13), np.linspace(0, 3, 7), np.linspace(0, 0.5, 2)][:dim]
        block = grid(*axes, prefix="block ")
        step = grid(*[np.linspace(0, 2.5, 2), np.linspace(-1, 0, 2), np.linspace(0, 0.5, 2)][:dim],
                    prefix="step ")
        mesh, first = joined(block, step)
        body = np.full(len(mesh.points), -1)
        body[first[1]:] = 0
        co = Coordinates(mesh.points, body, np.zeros((1, dim)))
        contact = Contact("step", mesh.points, mesh.facets["block y0"], mesh.facets["step y1"],
                          penalty_MPa_per_mm=20.0)
        system = System(co, contacts=[contact], solids=[Solid(
            mesh.points, mesh.cells[:len(block.cells)], law("neo_hookean", E_MPa=E, nu=NU))])
        still = {int(k): 0.0 for k in np.arange(co.size)[co.body_slice(0)]}
        still |= held(dim, (mesh.nodes["block x0"], 0, 0))
        if dim == 3:
            still |= held(3, (np.arange(len(block.points)), 2, 0))
        lid = mesh.nodes["block y1"]
        solution = solve(system, lambda t, s=still, lid=lid, dim=dim: Load(
            held=s | held(dim, (lid, 1, -0.3 * t))), settings=Settings(
                first_step=0.25, tolerance=1e-8, pressure_change=1e-4, passes=60))
        depth = 1.0 if dim == 2 else 0.5
        found.append(solution.evaluation.status[0].force_N[1] / depth)
    return [Row("force on the step per thickness, 3D slab [N/mm]", found[0], found[1],
                "the plane-strain section", "computed", 0.02,
                "another triangulation, and a singular edge at the step", count(mesh))]


def straightened(mesh):
    """Return a triangle mesh whose midside nodes lie halfway between the corners."""
    points = mesh.points.copy()
    for a, b, middle in ((0, 1, 3), (1, 2, 4), (2, 0, 5)):
        points[mesh.cells[:, middle]] = points[mesh.cells[:, [a, b]]].mean(1)
    return mesh.moved(points)


def library():
    """Cook's membrane in plane strain, assembled and solved with scikit-fem on the same triangles."""
    import skfem
    from skfem.helpers import ddot, eye, sym_grad, trace

    young, nu, traction = 70.0, 1 / 3, 6.25
    mu, lam = young / (2 * (1 + nu)), young * nu / ((1 + nu) * (1 - 2 * nu))
    mesh = straightened(cook_mesh(8))
    corners = mesh.cells[:, :3]
    used, number = np.unique(corners, return_inverse=True)
    other = skfem.MeshTri(mesh.points[used].T, number.reshape(corners.shape).T)
    basis = skfem.Basis(other, skfem.ElementVector(skfem.ElementTriP2()), intorder=4)

    @skfem.BilinearForm
    def stiffness(u, v, w):
        e = sym_grad(u)
        return ddot(lam * eye(trace(e), 2) + 2 * mu * e, sym_grad(v))

    @skfem.LinearForm
    def push(v, w):
        return traction * v.value[1]

    right = other.facets_satisfying(
        lambda x: np.abs(x[0] - 48) < 1e-9, boundaries_only=True)
    rim = skfem.FacetBasis(other, skfem.ElementVector(skfem.ElementTriP2()), facets=right, intorder=4)
    clamped = basis.get_dofs(lambda x: np.abs(x[0]) < 1e-9)
    u = skfem.solve(*skfem.condense(stiffness.assemble(basis), push.assemble(rim), D=clamped))
    at = basis.doflocs
    theirs = u[np.flatnonzero((np.abs(at - np.array([[48.0], [60.0]])) < 1e-9).all(0))][1]
    small = 1e-6
    system = model(mesh, law("linear_elastic", E_MPa=young, nu=nu))
    force = traction_forces(mesh.points, mesh.facets["x1"],
                            lambda x, n: np.array([0.0, small * traction]))
    root = mesh.nodes["x0"]
    load = Load(node_force_N=force, held=held(2, (root, 0, 0), (root, 1, 0)))
    state = solve(system, lambda t: load, settings=Settings(tolerance=1e-6)).state
    node = nearest(mesh.points, 48, 60)
    return [Row("u_y(48, 60), Cook, plane strain [mm]", float(theirs),
                (state.x[node, 1] - mesh.points[node, 1]) / small,
                "scikit-fem on the same triangles, small strain", "computed", 1e-5,
                "the same elements; strains of 1e-6 in place of small-strain theory", count(mesh))]


TWICE = {
    "force_and_displacement": Benchmark("Block by force and by displacement",
                                        force_and_displacement),
    "cable_and_strip": Benchmark("Cable against a meshed strip", cable_and_strip),
    "plane_and_solid": Benchmark("Cook's membrane, section against slab", plane_and_solid),
    "contact_plane_and_solid": Benchmark("Contact, section against slab", contact_plane_and_solid),
    "library": Benchmark("Cook's membrane against scikit-fem", library),
}
