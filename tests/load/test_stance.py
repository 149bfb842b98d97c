"""The muscles place the centre of pressure: against moments worked out by hand."""

import numpy as np
import pytest

from fefoot.foot.morph import REFERENCE
from fefoot.load.stance import Demand, pressure_centre_mm
from fefoot.material import material
from fefoot.outcome.checks import checks
from fefoot.study.model import Question, build
from fefoot.study.solve import solve_model

# computed: 72 kg x 9.81 m/s2
WEIGHT_N = 706.32
FORWARD_MM, BEHIND_MM = 150.0, 43.0


def solved(demand, section="sagittal"):
    question = Question(section, REFERENCE, material("plantar_tissue_stiff"), {}, mesh_size_mm=8.0)
    return solve_model(build(question), demand)


@pytest.fixture(scope="module")
def forward():
    """Standing on the forepart of the foot."""
    return solved(Demand(WEIGHT_N, 0.0, FORWARD_MM))


@pytest.fixture(scope="module")
def braking():
    """Early stance: the ground pushes back, and its force lies behind the ankle."""
    return solved(Demand(0.6 * WEIGHT_N, -0.1 * WEIGHT_N, BEHIND_MM))


def pressure_centre(found):
    ground = found.model.ground_y_mm(found)
    return pressure_centre_mm(found.model.system, found.solution.evaluation, ground)


def ankle_mm(found):
    spring, _ = found.model.links["ankle_joint"]
    return found.solution.state.x[found.model.system.springs[spring].node_a]


def tension_N(found, name):
    cable = next(c for c in found.model.system.cables if c.name == name)
    x = found.solution.state.x
    return cable.tension(x) + found.solution.load.tensions().get(name, 0.0)


def arm_mm(found, name):
    """Distance of the ankle from the line on which a tendon crosses it; behind is positive."""
    model, x = found.model, found.solution.state.x
    cable = next(c for c in model.system.cables if c.name == name)
    body = model.system.coordinates.body_of
    shank = model.bodies["shank"]
    i = next(i for i in range(len(cable.nodes) - 1)
             if body[cable.nodes[i]] == shank and body[cable.nodes[i + 1]] != shank)
    top, bottom = x[cable.nodes[i]], x[cable.nodes[i + 1]]
    along = (bottom - top) / np.linalg.norm(bottom - top)
    offset = ankle_mm(found) - top
    return float(along[0] * offset[1] - along[1] * offset[0])


def wanted_mm(found, rest_mm):
    """A place given on the unloaded foot, on the line from heel to ball of the loaded one."""
    heel, ball = found.model.scale_nodes
    rest, now = found.model.system.coordinates.points, found.solution.state.x
    share = (rest_mm - rest[heel, 0]) / (rest[ball, 0] - rest[heel, 0])
    return (1 - share) * now[heel, 0] + share * now[ball, 0]


@pytest.mark.parametrize(("name", "at"), [("forward", FORWARD_MM), ("braking", BEHIND_MM)])
def test_the_centre_of_pressure_lands_where_asked(request, name, at):
    found = request.getfixturevalue(name)
    where, force = pressure_centre(found)
    assert force == pytest.approx(found.demand.vertical_N, rel=1e-6)
    assert where == pytest.approx(wanted_mm(found, at), abs=0.01)
    # the scale itself hardly moves: the foot is not shifted under its load
    assert where == pytest.approx(at, abs=6.0)
    assert all(check.passed for check in checks(found)), checks(found)


def test_the_achilles_force_follows_from_the_moment_balance(forward):
    where, force = pressure_centre(forward)
    needed = force * (where - ankle_mm(forward)[0])
    others = sum(tension_N(forward, n) * arm_mm(forward, n)
                 for n in ("tibialis_posterior", "toe_flexors", "peroneus_longus"))
    arm = arm_mm(forward, "achilles")
    # moment arm of the Achilles tendon: 34.6-38.1 mm in vivo (Manal et al. 2013, read), about 53 mm
    # by other methods (Klein et al. 1996, recalled)
    assert 34.0 < arm < 55.0
    assert tension_N(forward, "achilles") == pytest.approx((needed - others) / arm, rel=0.01)
    assert others < 0.25 * needed
    assert tension_N(forward, "tibialis_anterior") == 0.0


def test_the_other_plantarflexors_pull_with_their_share(forward):
    given = forward.solution.load.tensions()
    pull, _ = forward.model.structure.muscles()
    for name, share in pull.items():
        assert given[name] == pytest.approx(share * given["achilles"])


def test_behind_the_ankle_the_tibialis_anterior_takes_over(braking):
    where, force = pressure_centre(braking)
    ankle = ankle_mm(braking)
    assert where < ankle[0]
    assert tension_N(braking, "achilles") == 0.0
    # the ground slides until the rough sole carries what was asked in both directions
    shear = sum(status.force_N[0] for contact, status in zip(
        braking.model.system.contacts, braking.solution.evaluation.status, strict=True)
        if contact.name.endswith("on ground"))
    assert shear == pytest.approx(-0.1 * WEIGHT_N, rel=1e-6)
    assert braking.solution.load.node_force_N is None
    height = braking.model.ground_y_mm(braking)
    # moments about the ankle, anticlockwise positive: the ground's vertical and fore-aft force
    ground = force * (where - ankle[0]) - shear * (height - ankle[1])
    tendons = sum(tension_N(braking, n) * arm_mm(braking, n)
                  for n in ("tibialis_anterior", "tibialis_posterior", "toe_flexors",
                            "peroneus_longus"))
    # the passive stiffness of the ankle, 0.5 N m/rad, is left out by hand
    assert tendons == pytest.approx(ground, abs=0.01 * abs(force * 30.0))
    assert arm_mm(braking, "tibialis_anterior") < -25.0
    assert tension_N(braking, "tibialis_anterior") > 50.0


def test_the_rearfoot_finds_its_own_centre_of_pressure():
    found = solved(Demand(0.5 * WEIGHT_N), "rearfoot")
    where, force = pressure_centre(found)
    assert force == pytest.approx(0.5 * WEIGHT_N, rel=1e-6)
    assert abs(where) < REFERENCE.heel_width_mm / 4
    assert found.solution.load.balance is None
