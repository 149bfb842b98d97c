"""Stress and tangent of every law against finite differences, and its closed forms."""

import numpy as np
import pytest

from fefoot.material import LAWS
from fefoot.material.principal import eigen

PAIRS = ((0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (0, 2))
CONSTANTS = {
    "linear_elastic": {"E_MPa": 2.0, "nu": 0.3},
    "neo_hookean": {"E_MPa": 0.3, "nu": 0.4},
    "polynomial": {"C10_MPa": 0.08556, "C01_MPa": -0.05841, "C20_MPa": 0.039,
                   "C11_MPa": -0.02319, "C02_MPa": 0.00851, "D1_per_MPa": 3.65273},
    "ogden": {"mu_MPa": (0.01645, 0.004), "alpha": (6.82, -2.3), "nu": 0.475},
    "foam": {"mu_MPa": (0.4, 0.1), "alpha": (6.0, -1.5), "nu": 0.1},
    "fibre": {"E_matrix_MPa": 0.5, "nu_matrix": 0.45, "E_fibre_MPa": 30.0},
}
ALL = sorted(CONSTANTS)


def pack(full):
    """(n, 3, 3) -> (6, n)."""
    return np.ascontiguousarray(np.array([full[:, i, j] for i, j in PAIRS]))


def unpack(six):
    out = np.empty((six.shape[1], 3, 3))
    for row, (i, j) in enumerate(PAIRS):
        out[:, i, j] = out[:, j, i] = six[row]
    return out


def states(count=40, size=0.25, flat=False, seed=3):
    """Right Cauchy-Green tensors of random deformations."""
    rng = np.random.default_rng(seed)
    F = np.eye(3) + size * rng.uniform(-1, 1, (count, 3, 3))
    if flat:
        F[:, 2, :2] = F[:, :2, 2] = 0.0
    return pack(F.transpose(0, 2, 1) @ F)


def near_degenerate():
    """Two and three stretches equal, or apart by 1e-14 ... 1e-3, in turned axes."""
    rng = np.random.default_rng(8)
    out = []
    for apart in (0.0, 1e-14, 1e-10, 1e-8, 1e-6, 1e-3):
        for base in ((1, 1, 1), (0.7, 0.7, 1.3), (1.2, 0.8, 0.8)):
            c = np.array(base) ** 2 + apart * np.array([0.0, 1.0, -1.0])
            Q, _ = np.linalg.qr(rng.normal(size=(3, 3)))
            out += [np.diag(c), Q @ np.diag(c) @ Q.T]
    full = np.array(out)
    return pack(0.5 * (full + full.transpose(0, 2, 1)))


def fibres(count, seed=5):
    a = np.random.default_rng(seed).normal(size=(3, count))
    return a / np.linalg.norm(a, axis=0)


def differences(law, C, a, step):
    """Central differences of W and S by Voigt strain: dC = 2 dE, shear rows halved."""
    constants = CONSTANTS[law]
    stress, tangent = np.empty_like(C), np.empty((6, 6, C.shape[1]))
    for row in range(6):
        move = np.zeros((6, 1))
        move[row] = (2.0 if row < 3 else 1.0) * step
        results = []
        for factor in (-2, -1, 1, 2):
            results.append(LAWS[law].response(C + factor * move, constants, a, tangent=False)[:2])
        weights = np.array([1.0, -8.0, 8.0, -1.0]) / (12.0 * step)
        stress[row] = sum(w * r[0] for w, r in zip(weights, results, strict=True))
        tangent[:, row] = sum(w * r[1] for w, r in zip(weights, results, strict=True))
    return stress, tangent


@pytest.mark.parametrize("law", ALL)
@pytest.mark.parametrize("kind", ["solid", "flat", "near_degenerate"])
def test_stress_and_tangent_match_finite_differences(law, kind):
    C = {"solid": states(), "flat": states(flat=True), "near_degenerate": near_degenerate()}[kind]
    a = fibres(C.shape[1])
    if law == "fibre":  # a difference across the kink at l = 1 has no meaning
        stretched = np.abs(np.einsum("in,nij,jn->n", a, unpack(C), a) - 1.0) > 0.02
        C, a = np.ascontiguousarray(C[:, stretched]), a[:, stretched]
    _, S, D = LAWS[law].response(C, CONSTANTS[law], a)
    stress, tangent = differences(law, C, a, 1e-3)
    assert S == pytest.approx(stress, rel=1e-6, abs=1e-6 * np.abs(S).max())
    assert D == pytest.approx(tangent, rel=1e-6, abs=1e-6 * np.abs(D).max())


@pytest.mark.parametrize("law", ALL)
def test_tangent_is_symmetric_and_optional(law):
    C, a = states(), fibres(40)
    W, S, D = LAWS[law].response(C, CONSTANTS[law], a)
    assert np.array_equal(D, D.transpose(1, 0, 2))
    W2, S2, none = LAWS[law].response(C, CONSTANTS[law], a, tangent=False)
    assert none is None and np.array_equal(W, W2) and np.array_equal(S, S2)


@pytest.mark.parametrize("law", ALL)
def test_turning_the_axes_turns_the_stress(law):
    """Material symmetry: response(Q C Q^T, Q a) = Q S Q^T; flat states leave the closed form."""
    for C in (states(), states(flat=True), near_degenerate()):
        a = fibres(C.shape[1])
        Q, _ = np.linalg.qr(np.random.default_rng(1).normal(size=(3, 3)))
        turned = pack(Q @ unpack(C) @ Q.T)
        W, S, D = LAWS[law].response(C, CONSTANTS[law], a)
        W2, S2, D2 = LAWS[law].response(turned, CONSTANTS[law], Q @ a)
        assert W2 == pytest.approx(W, abs=1e-12 * max(1.0, np.abs(W).max()))
        scale = np.abs(D).max()
        assert pack(Q @ unpack(S) @ Q.T) == pytest.approx(S2, abs=1e-11 * scale)
        probe = pack(np.random.default_rng(2).normal(size=(1, 3, 3)))
        probe = pack(unpack(probe))
        voigt = np.array([1, 1, 1, 2, 2, 2])[:, None]
        rate = np.einsum("ijn,j->in", D, (voigt * probe)[:, 0])
        probe2 = voigt * pack(Q @ unpack(probe) @ Q.T)
        rate2 = np.einsum("ijn,j->in", D2, probe2[:, 0])
        assert pack(Q @ unpack(rate) @ Q.T) == pytest.approx(rate2, abs=1e-11 * scale)


@pytest.mark.parametrize("law", ALL)
def test_rest_is_stress_free_and_has_the_stated_moduli(law):
    C = pack(np.eye(3)[None])
    a = np.array([[1.0], [0.0], [0.0]])
    W, S, D = LAWS[law].response(C, CONSTANTS[law], a)
    shear, bulk = LAWS[law].moduli(CONSTANTS[law])
    assert W == pytest.approx(0.0, abs=1e-15) and S == pytest.approx(0.0, abs=1e-14)
    expected = np.zeros((6, 6))
    expected[:3, :3] = bulk - 2 * shear / 3
    expected[range(3), range(3)] += 2 * shear
    expected[range(3, 6), range(3, 6)] = shear
    if law == "fibre":
        expected[0, 0] += CONSTANTS[law]["E_fibre_MPa"]
    assert D[..., 0] == pytest.approx(expected, rel=1e-12, abs=1e-12 * bulk)


@pytest.mark.parametrize("law", ALL)
def test_inverted_points_have_infinite_energy_and_leave_the_others_alone(law):
    C = states(6)
    C[:, 2] = [1.0, 1.0, -0.5, 0.0, 0.0, 0.0]
    C[:, 4] = [1.0, 1.0, 1.0, 0.0, 1.5, 0.0]
    a = fibres(6)
    W, S, D = LAWS[law].response(C, CONSTANTS[law], a)
    good = [0, 1, 3, 5]
    assert np.isposinf(W[[2, 4]]).all() and np.isfinite(W[good]).all()
    assert np.isfinite(S).all() and np.isfinite(D).all()
    W2, S2, _ = LAWS[law].response(np.ascontiguousarray(C[:, good]), CONSTANTS[law], a[:, good])
    assert W[good] == pytest.approx(W2, rel=1e-14) and S[:, good] == pytest.approx(S2, rel=1e-12)


def release(law, constants, lateral, driven):
    """Stretches with zero stress on the axes ``lateral`` (equal stretches), by Newton's method."""
    log = -0.5 * np.log(driven) if len(lateral) == 2 else -np.log(driven)
    for _ in range(60):
        stretch = np.array([driven, driven, driven])
        stretch[list(lateral)] = np.exp(log)
        C = np.zeros((6, 1))
        C[:3, 0] = stretch**2
        _, S, D = LAWS[law].response(C, constants)
        row = lateral[0]
        residual = C[row, 0] * S[row, 0]
        slope = sum(C[row, 0] * D[row, k, 0] * C[k, 0] for k in lateral) + 2 * residual
        log -= residual / slope
    return stretch, S[:, 0]


def nominal(law, constants, stretch):
    lengths, S = release(law, constants, (1, 2), stretch)
    return lengths[0] * S[0]


# Computed for incompressible material, kPa: polynomial of Lemmon (1997),
# Ogden of Erdemir (2006) and of Chokhandre (2012); good to the last digit printed.
TABLE_1_1B = [
    (0.9, -14.9, -5.1, -0.3), (0.8, -29.1, -11.6, -0.8), (0.7, -48.8, -22.7, -1.8),
    (0.6, -89.5, -45.6, -4.5), (0.5, -209.8, -102.5, -13.1),
]


@pytest.mark.parametrize("row", TABLE_1_1B)
def test_tissue_sets_reproduce_the_incompressible_uniaxial_table(row):
    from fefoot.material import material

    stretch, *expected = row
    names = ("plantar_tissue_stiff", "plantar_tissue_middle", "plantar_tissue_soft")
    for name, kPa in zip(names, expected, strict=True):
        shipped = material(name)
        limit = {"D1_per_MPa": 2e-6} if shipped.law.name == "polynomial" else {"nu": 0.4999999}
        stress = 1e3 * nominal(shipped.law.name, {**shipped.constants, **limit}, stretch)
        assert stress == pytest.approx(kPa, abs=0.051)


@pytest.mark.parametrize("law", ["neo_hookean", "polynomial", "ogden"])
def test_nearly_incompressible_limits(law):
    """Textbook formulas (recalled): uniaxial, equibiaxial and plane-strain nominal stress."""
    mu, nu = 0.7, 0.4999999
    constants = {
        "neo_hookean": {"E_MPa": 2 * mu * (1 + nu), "nu": nu},
        "ogden": {"mu_MPa": (mu,), "alpha": (2.0,), "nu": nu},
        "polynomial": {**dict.fromkeys(("C01_MPa", "C20_MPa", "C11_MPa", "C02_MPa"), 0.0),
                       "C10_MPa": mu / 2, "D1_per_MPa": 1e-6},
    }[law]
    for l in (0.6, 0.9, 1.4, 2.0):
        lengths, S = release(law, constants, (1, 2), l)
        assert lengths[0] * S[0] == pytest.approx(mu * (l - l**-2), rel=1e-5)
        lengths, S = release(law, constants, (2,), l)
        assert lengths[0] * S[0] == pytest.approx(mu * (l - l**-5), rel=1e-5)
        C = np.zeros((6, 1))
        C[:3, 0] = [l**2, l**-2, 1.0]
        S = LAWS[law].response(C, constants)[1][:, 0]
        # the pressure is left open by J = 1: compare the difference of true stresses
        difference = l**2 * S[0] - l**-2 * S[1]
        assert difference == pytest.approx(mu * (l**2 - l**-2), rel=1e-6)
    g = 0.8
    F = np.array([[1.0, g, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    S = unpack(LAWS[law].response(pack((F.T @ F)[None]), constants)[1])[0]
    sigma = F @ S @ F.T
    assert sigma[0, 1] == pytest.approx(mu * g, rel=1e-9)
    assert sigma[0, 0] - sigma[1, 1] == pytest.approx(mu * g * g, rel=1e-9)


def test_foam_without_lateral_effect_stays_slim():
    """With nu = 0 the lateral stretch is 1 and P = (2 mu/alpha)(l^(alpha-1) - 1/l)."""
    constants = {"mu_MPa": (0.5,), "alpha": (6.0,), "nu": 0.0}
    for l in (0.4, 0.7, 1.1):
        lengths, S = release("foam", constants, (1, 2), l)
        assert lengths[1:] == pytest.approx(1.0, abs=1e-12)
        assert lengths[0] * S[0] == pytest.approx(2 * 0.5 / 6 * (l**5 - 1 / l), rel=1e-12)
    small = LAWS["foam"].response(states(), {**constants, "nu": 1e-9})
    zero = LAWS["foam"].response(states(), constants)
    for a, b in zip(small, zero, strict=True):
        assert a == pytest.approx(b, rel=1e-6, abs=1e-7)


def test_linear_elastic_uniaxial_strain():
    """S11 = (lambda + 2 mu) E11 exactly, for any stretch."""
    C = pack(np.diag([1.21, 1.0, 1.0])[None])
    S = LAWS["linear_elastic"].response(C, {"E_MPa": 1.0, "nu": 0.25})[1][:, 0]
    assert S == pytest.approx([1.2 * 0.105, 0.4 * 0.105, 0.4 * 0.105, 0, 0, 0], rel=1e-12)


def test_fibres_pull_and_do_not_push():
    constants = CONSTANTS["fibre"]
    matrix = {"E_MPa": 0.5, "nu": 0.45}
    a = np.array([[1.0], [0.0], [0.0]])
    for stretch, extra in ((0.9, 0.0), (1.05, 30.0 * 0.05)):
        C = pack(np.diag([stretch**2, 1.0, 1.0])[None])
        with_fibre = LAWS["fibre"].response(C, constants, a)
        without = LAWS["neo_hookean"].response(C, matrix)
        assert stretch * (with_fibre[1] - without[1])[0, 0] == pytest.approx(extra, abs=1e-12)
        assert with_fibre[0] - without[0] == pytest.approx(max(stretch - 1, 0) ** 2 * 15.0)
    with pytest.raises(ValueError, match="fibre direction"):
        LAWS["fibre"].response(C, constants)


def test_eigenvalues_agree_with_lapack():
    """Random tensors, equal and nearly equal eigenvalues, and stretches from 1/30 to 30."""
    rng = np.random.default_rng(5)
    full = np.eye(3) + 0.3 * rng.standard_normal((60, 3, 3))
    full[:10] = np.eye(3) * np.exp(rng.uniform(-3, 3, (10, 1, 3)))
    full[10:20] = np.eye(3) + 1e-9 * rng.standard_normal((10, 3, 3))
    full[20:40] = full[:20] @ np.linalg.qr(rng.standard_normal((20, 3, 3)))[0]
    C = np.einsum("nki,nkj->nij", full, full)
    c, N = eigen(np.array([C[:, i, j] for i, j in PAIRS]))
    N = np.array(N)
    size = np.abs(C).max(axis=(1, 2))
    assert np.abs(np.sort(c, axis=0).T - np.linalg.eigvalsh(C)).max(axis=1).max() < 1e-14 * size.max()
    assert (np.abs(np.sort(c, axis=0).T - np.linalg.eigvalsh(C)).max(axis=1) < 2e-14 * size).all()
    again = np.einsum("an,ain,ajn->nij", c, N, N)
    assert (np.abs(again - C).max(axis=(1, 2)) < 2e-14 * size).all()
    assert np.allclose(np.einsum("ain,bin->nab", N, N), np.eye(3), rtol=0, atol=1e-14)
