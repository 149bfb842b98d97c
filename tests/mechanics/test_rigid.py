"""Rigid bodies: the reduction, finite rotations, and rigid against very stiff."""

import numpy as np
import pytest
from blocks import block, law

from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates, rotation
from fefoot.mechanics.system import Load, System


def scattered(dim, rng):
    points = rng.normal(size=(9, dim)) * 4
    body = np.array([0, 0, 0, 1, 1, 1, -1, -1, 1])
    co = Coordinates(points, body, rng.normal(size=(2, dim)))
    return co, co.moved(co.start(), rng.normal(size=co.size) * 0.5)


@pytest.mark.parametrize("dim", [2, 3])
def test_reduction_against_differences(dim, rng):
    co, state = scattered(dim, rng)
    T = co.reduction(state).toarray()
    h = 1e-6
    for k in range(co.size):
        step = np.zeros(co.size)
        step[k] = h
        slope = (co.moved(state, step).x - co.moved(state, -step).x).ravel() / (2 * h)
        assert np.abs(T[: co.node_dofs, k] - slope).max() < 1e-7
    # body coordinates of the full set are the unknowns themselves
    assert (T[co.node_dofs:, co.first_body:] == np.eye(co.size - co.first_body)).all()


@pytest.mark.parametrize("dim", [2, 3])
def test_bodies_keep_their_shape(dim, rng):
    co, state = scattered(dim, rng)
    for _ in range(40):
        state = co.moved(state, rng.normal(size=co.size))
    for body in (0, 1):
        ids = np.flatnonzero(co.body_of == body)
        before = np.linalg.norm(co.points[ids[0]] - co.points[ids], axis=1)
        after = np.linalg.norm(state.x[ids[0]] - state.x[ids], axis=1)
        assert np.abs(before - after).max() < 1e-10
    assert np.abs(state.turn @ state.turn.transpose(0, 2, 1) - np.eye(dim)).max() < 1e-12


def test_rotation_is_the_matrix_exponential(rng):
    from scipy.linalg import expm

    from fefoot.mechanics.state import skew

    for size in (1e-12, 1e-6, 1e-3, 1.0, 6.0):
        spin = rng.normal(size=(1, 3))
        spin *= size / np.linalg.norm(spin)
        assert np.abs(rotation(spin)[0] - expm(skew(spin)[0])).max() < 1e-13


def beam(dim, stiff=None):
    """A soft beam whose far third is a rigid body, or elastic with another modulus."""
    counts, lengths = ((9, 2), (9.0, 1.0)) if dim == 2 else ((9, 1, 1), (9.0, 1.0, 1.0))
    mesh = block(counts, lengths)
    p = mesh.points
    far = p[:, 0] > 6 - 1e-9
    hard = far[mesh.cells].all(1)
    body = np.where(far, 0, -1) if stiff is None else np.full(len(p), -1)
    centres = np.array([[7.0, 0.3, 0.2][:dim]]) if stiff is None else np.zeros((0, dim))
    co = Coordinates(p, body, centres)
    solids = [Solid(p, mesh.cells[~hard], law("neo_hookean", E_MPa=1.0, nu=0.3))]
    if stiff:
        solids.append(Solid(p, mesh.cells[hard], law("linear_elastic", E_MPa=stiff, nu=0.3)))
    force = np.zeros_like(p)
    tip = np.flatnonzero(p[:, 0] > 9 - 1e-9)
    force[tip, 1] = 6e-4 / len(tip)
    root = np.flatnonzero(p[:, 0] < 1e-9)
    held = {int(q): 0.0 for q in co.node_q(root).ravel()}
    state = solve(System(co, solids=solids), lambda t: Load(node_force_N=t * force, held=held),
                  settings=Settings(first_step=0.05, tolerance=1e-7, iterations=80)).state
    return p, tip, state


@pytest.mark.parametrize("dim", [2, 3])
def test_rigid_equals_very_stiff(dim):
    """Same problem, two formulations; the stiff part's own strain is 1e-3 of the soft one's."""
    p, tip, rigid = beam(dim)
    _, _, stiff = beam(dim, 1e3)
    move = np.abs(rigid.x - p).max()
    assert move > 0.5
    assert np.abs(rigid.x - stiff.x).max() < 3e-3 * move
    assert np.linalg.norm(rigid.x[tip[0]] - rigid.x[tip[-1]]) == pytest.approx(
        np.linalg.norm(p[tip[0]] - p[tip[-1]]), rel=1e-12)
