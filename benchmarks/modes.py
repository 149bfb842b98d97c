"""Homogeneous modes of every material law, against its closed form."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.system import Load

from .record import Benchmark, Row
from .shapes import count, grid, held, law, model


def homogeneous_modes():
    """Uniaxial, equibiaxial and plane-strain tension and simple shear of a block."""
    rows, nu = [], 0.49995
    why = "homogeneous, so exact but for the law, which is compressible with nu 0.49995"
    cube = grid(*[np.linspace(0, 1, 2)] * 3)
    square = grid(*[np.linspace(0, 1, 3)] * 2)
    cases = (("uniaxial", cube, 1, 1.5, lambda s: s - s**-2),
             ("equibiaxial", cube, 2, 1.3, lambda s: s - s**-5),
             ("plane strain", square, 1, 1.5, lambda s: s - s**-3))
    for name, mesh, pulled, stretch, formula in cases:
        dim = mesh.dim
        system = model(mesh, law("neo_hookean", E_MPa=2 * (1 + nu), nu=nu))
        fixed = held(dim, *[(mesh.nodes[f"{a}0"], i, 0) for i, a in enumerate("xyz"[:dim])])

        def path(t, mesh=mesh, fixed=fixed, dim=dim, pulled=pulled, stretch=stretch):
            ends = [(mesh.nodes[f"{a}1"], i, t * (stretch - 1))
                    for i, a in enumerate("xyz"[:pulled])]
            return Load(held=fixed | held(dim, *ends))

        solution = solve(system, path, settings=Settings(first_step=0.1, tolerance=1e-7))
        ours = solution.evaluation.residual[mesh.nodes["x1"] * dim].sum()
        rows.append(Row(f"nominal stress / mu, {name}, stretch {stretch}", formula(stretch), ours,
                        "Neo-Hookean, incompressible", "recalled", 0.001, why, count(mesh)))
    shear = 0.6
    system = model(square, law("neo_hookean", E_MPa=2 * (1 + nu), nu=nu))
    rim = np.unique(np.concatenate(list(square.nodes.values())))
    solution = solve(system, lambda t: Load(held=held(
        2, (rim, 0, t * shear * square.points[rim, 1]), (rim, 1, 0))),
        settings=Settings(first_step=0.1, tolerance=1e-7))
    stress = system.solids[0].stress(solution.state.x)[0].mean((0, 1))
    for name, target, ours in (("s12", shear, stress[0, 1]),
                               ("s11 - s22", shear**2, stress[0, 0] - stress[1, 1])):
        rows.append(Row(f"{name} / mu, simple shear {shear}", target, ours,
                        "Neo-Hookean, incompressible", "recalled", 0.001, why,
                        count(square)))
    return rows


def pulled_cube(response, stretch, confined=False, along=False):
    """Return the nominal stress (MPa) of a cube stretched along x, its sides free or confined."""
    mesh = grid(*[np.linspace(0, 1, 2)] * 3)
    fibre = None
    if along:
        def fibre(where):
            return np.broadcast_to([1.0, 0.0, 0.0], where.shape)
    system = model(mesh, response, fibre=fibre)
    fixed = held(3, *[(mesh.nodes[f"{a}0"], i, 0) for i, a in enumerate("xyz")])
    if confined:
        fixed |= held(3, *[(mesh.nodes[f"{a}1"], i, 0) for i, a in ((1, "y"), (2, "z"))])
    solution = solve(system, lambda t: Load(held=fixed | held(
        3, (mesh.nodes["x1"], 0, t * (stretch - 1)))),
        settings=Settings(first_step=0.1, tolerance=1e-8, force_scale_N=1e-3))
    return float(solution.evaluation.residual[mesh.nodes["x1"] * 3].sum()), count(mesh)


def free_neo_hookean(stretch, E, nu):
    """Return the nominal stress of the compressible neo-Hookean law with free sides.

    S = mu (1 - 1/C) + lam ln J / C per axis; the side stretch makes the side stress vanish.
    """
    mu, lam = E / (2 * (1 + nu)), E * nu / ((1 + nu) * (1 - 2 * nu))
    side = brentq(lambda s: mu * (s**2 - 1) + lam * np.log(stretch * s**2), 0.3, 2.0)
    return mu * (stretch - 1 / stretch) + lam * np.log(stretch * side**2) / stretch


def laws():
    """Uniaxial stress, and uniaxial strain, of each law with published or unit constants."""
    E, nu, tight = 1.0, 0.3, 0.4999995
    cases = []
    for s in (0.8, 1.3):
        cases.append(("linear_elastic", dict(E_MPa=E, nu=nu), s, False, E * s * (s**2 - 1) / 2,
                      "Saint Venant-Kirchhoff, free sides: P = E l (l2 - 1)/2"))
    mu, lam = E / (2 * (1 + nu)), E * nu / ((1 + nu) * (1 - 2 * nu))
    cases.append(("neo_hookean", dict(E_MPa=E, nu=nu), 0.7, True,
                  mu * (0.7 - 1 / 0.7) + lam * np.log(0.7) / 0.7,
                  "compressible neo-Hookean, confined: P = mu (l - 1/l) + lam ln l / l"))
    c = dict(C10_MPa=0.08556, C01_MPa=-0.05841, C20_MPa=0.03900, C11_MPa=-0.02319, C02_MPa=0.00851)
    for s in (0.9, 0.8):
        i1, i2 = s**2 + 2 / s - 3, 2 * s + s**-2 - 3
        w1 = c["C10_MPa"] + 2 * c["C20_MPa"] * i1 + c["C11_MPa"] * i2
        w2 = c["C01_MPa"] + c["C11_MPa"] * i1 + 2 * c["C02_MPa"] * i2
        cases.append(("polynomial", c | dict(D1_per_MPa=1e-5), s, False,
                      2 * (s - s**-2) * (w1 + w2 / s),
                      "incompressible P = 2(l - l-2)(W1 + W2/l), Lemmon 1997 constants"))
    mu, alpha = 0.01645, 6.82
    for s in (0.8, 0.6):
        cases.append(("ogden", dict(mu_MPa=[mu], alpha=[alpha], nu=tight), s, False,
                      2 * mu / alpha * (s ** (alpha - 1) - s ** (-alpha / 2 - 1)),
                      "incompressible P = 2mu/alpha (l^(a-1) - l^(-a/2-1)), Erdemir 2006 constants "
                      "(1.1b)"))
    mu, alpha = 0.4197, 6.0
    for nu, s in ((0.0, 0.5), (0.1, 0.5), (0.3, 1.2)):
        cases.append(("foam", dict(mu_MPa=[mu], alpha=[alpha], nu=nu), s, False,
                      2 * mu / alpha * (s**alpha - s ** (-nu * alpha)) / s,
                      f"Ogden-Hill foam, free sides l2 = l^-nu, nu {nu}: "
                      "P = 2mu/alpha (l^a - l2^a)/l"))
    for s, pull in ((1.1, 20.0 * 0.1), (0.9, 0.0)):
        cases.append(("fibre", dict(E_matrix_MPa=0.5, nu_matrix=0.45, E_fibre_MPa=20.0), s, False,
                      free_neo_hookean(s, 0.5, 0.45) + pull,
                      "matrix with free sides, and E_f (l - 1) where l > 1"))
    rows = []
    for name, constants, stretch, confined, target, source in cases:
        ours, mesh = pulled_cube(law(name, **constants), stretch, confined, name == "fibre")
        nearly = name in ("polynomial", "ogden")
        rows.append(Row(
            f"nominal stress, {name}, stretch {stretch}, {'confined' if confined else 'free sides'} "
            "[MPa]", target, ours, source, "computed", 1e-4 if nearly else 1e-7,
            "homogeneous; the bulk modulus stands for incompressibility" if nearly
            else "homogeneous, exact", mesh))
    return rows


MODES = {
    "homogeneous_modes": Benchmark("Neo-Hookean block, homogeneous modes", homogeneous_modes),
    "laws": Benchmark("Every material law in a homogeneous mode", laws),
}
