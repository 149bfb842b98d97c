"""Sections and their meshes."""

from dataclasses import replace

import numpy as np
import pytest

from fefoot.device import (
    FEATURES,
    Device,
    Layer,
    build_sheet,
    feature,
    rearfoot_plane,
    sagittal_plane,
    section,
    section_mesh,
)
from fefoot.device.mesh import jacobian_ratio
from fefoot.device.outline import edges_z_mm, ends_x_mm, front_x_mm
from fefoot.device.surface import FRONT_EDGE_MM, FRONT_TAPER_MM
from fefoot.errors import InputError
from fefoot.mechanics.mesh import boundary_facets

SECOND_RAY = sagittal_plane(lambda x: -5.0 + 0.0 * x)
SHELL = Device(
    "shell", "shell", "to_metatarsals", "flat", "follow",
    (Layer("eva_soft", 2.0), Layer("polypropylene", 3.0)),
    (feature("arch_fill", fill_percent=100.0), feature("heel_cup", depth_mm=12.0)),
)


def area(mesh, cells=None):
    """Area by quadrature exact for quadratic geometry: mean of the Bernstein coefficients / 2."""
    p = mesh.points[mesh.cells if cells is None else mesh.cells[cells]]
    edges = [(0, 3, 1), (1, 4, 2), (2, 5, 0)]
    total = 0.0
    for a, m, b in edges:
        # Simpson's rule is exact for the line integral of x dy along a parabola's edge.
        p0, pm, p1 = p[:, a], p[:, m], p[:, b]
        d0, d1 = -3 * p0 + 4 * pm - p1, p0 - 4 * pm + 3 * p1
        dm = p1 - p0
        total += np.sum(
            p0[:, 0] * d0[:, 1] + 4 * pm[:, 0] * dm[:, 1] + p1[:, 0] * d1[:, 1]
        ) / 6.0
    return total


def random_device(rng, number):
    names = ["eva_soft", "eva_medium", "polypropylene", "pu_foam"]
    layers = tuple(
        Layer(str(rng.choice(names)), float(rng.uniform(1.0, 6.0)))
        for _ in range(rng.integers(1, 4))
    )
    base = str(rng.choice(["flat", "foot"]))
    length = str(rng.choice(["full", "to_metatarsals"]))
    features = []
    for kind in FEATURES.values():
        wrong = kind.needs_base not in (None, base) or kind.needs_length not in (None, length)
        if wrong or rng.random() < 0.5:
            continue
        values = {p.name: str(rng.choice(p.choices)) if p.choices
                  else float(rng.uniform(p.low, p.high)) for p in kind.parameters}
        if kind.name == "heel_cup":
            values["depth_mm"] = float(rng.uniform(0.0, 20.0))
        features.append(feature(kind.name, **values))
    return Device(
        f"d{number}", "", length, base, str(rng.choice(["flat", "follow"])), layers,
        tuple(features),
    )


def test_one_hundred_random_devices_mesh_without_inversion(foot):
    rng = np.random.default_rng(20251125)
    worst = 1.0
    for number in range(100):
        device = random_device(rng, number)
        for plane in (SECOND_RAY, rearfoot_plane(30.0)):
            cut = section(device, foot, plane)
            layers = cut.interfaces_mm[:-1] - cut.interfaces_mm[1:]
            whole = layers.sum(axis=0)
            upper = sum(layer.thickness_mm for layer in device.layers[:-1])
            bevelled = whole < upper + 1.0 - 1e-9
            assert layers[-1, ~bevelled].min(initial=1.0) >= 1.0 - 1e-9
            if device.length == "full" or plane is not SECOND_RAY:
                assert not bevelled.any()
            else:
                front = front_x_mm(device, foot, -5.0)
                assert whole.min() >= min(FRONT_EDGE_MM, upper + 1.0) - 1e-9
                assert cut.s_mm[bevelled].min(initial=front) > front - FRONT_TAPER_MM
                assert layers.min() > 0.0
            mesh = section_mesh(cut)
            worst = min(worst, jacobian_ratio(mesh.points, mesh.cells).min())
            gap = np.trapezoid(cut.interfaces_mm[0] - cut.interfaces_mm[-1], cut.s_mm)
            assert area(mesh) == pytest.approx(gap, rel=2e-3)
    assert worst > 0.05


def test_nodes_lie_on_the_profiles_and_facets_point_outward(foot):
    cut = section(SHELL, foot, SECOND_RAY)
    mesh = section_mesh(cut, 2.5)
    for name, row, outward in (("device_top", 0, 1.0), ("device_bottom", -1, -1.0)):
        facets = mesh.facets[name]
        ends, middle = mesh.points[facets[:, :2]], mesh.points[facets[:, 2]]
        assert np.all(np.diff(middle[:, 0]) > 0)
        tangent = ends[:, 1] - ends[:, 0]
        assert np.all(-tangent[:, 0] * outward > 0)  # normal (t_y, -t_x)
        on_profile = mesh.points[np.unique(facets)]
        assert np.allclose(
            on_profile[:, 1], cut.interfaces_at(on_profile[:, 0])[row], atol=1e-12
        )
        known = {tuple(f) for f in boundary_facets(mesh.cells)[0]}
        assert all(tuple(f) in known for f in facets)


def test_a_shell_has_two_rows_and_a_region_per_material(foot):
    mesh = section_mesh(section(SHELL, foot, SECOND_RAY))
    assert set(mesh.region_names) == {"device:eva_soft", "device:polypropylene"}
    columns = len(mesh.facets["device_top"])
    assert len(mesh.cells_of("device:polypropylene")) >= 2 * 2 * columns
    cut = section(SHELL, foot, SECOND_RAY)
    # behind the bevelled front edge the cover has its own thickness, 2 mm
    ends = mesh.points[mesh.facets["device_top"][:, :2], 0].max(axis=1)
    until = ends[ends < cut.s_mm[-1] - FRONT_TAPER_MM].max()
    soft = mesh.cells_of("device:eva_soft")
    behind = soft[mesh.points[mesh.cells[soft], 0].max(axis=1) < until + 1e-9]
    assert area(mesh, behind) == pytest.approx(2.0 * (until - cut.s_mm[0]), rel=1e-6)
    cover = np.trapezoid(cut.interfaces_mm[0] - cut.interfaces_mm[1], cut.s_mm)
    assert area(mesh, soft) < cover * (1.0 + 1e-6)
    assert area(mesh, soft) > 2.0 * (until - cut.s_mm[0]) + 0.8 * (cut.s_mm[-1] - until)


def test_same_material_in_two_layers_is_one_region(foot):
    device = replace(SHELL, layers=(Layer("eva_soft", 2.0), Layer("eva_soft", 3.0)))
    assert section_mesh(section(device, foot, SECOND_RAY)).region_names == ("device:eva_soft",)


def test_material_map_reaches_the_mesh(foot):
    cut = section(SHELL, foot, SECOND_RAY)
    material = cut.material.copy()
    material[1, (cut.s_mm > 20) & (cut.s_mm < 50)] = 0
    mesh = section_mesh(replace(cut, material=material))
    soft = mesh.points[mesh.cells[mesh.cells_of("device:eva_soft"), :3]].mean(axis=1)
    low = soft[(soft[:, 1] < 3.0) & (soft[:, 0] < 150.0)]
    assert 18.0 < low[:, 0].min() and low[:, 0].max() < 52.0 and len(low) > 20


def test_mesh_is_reproducible_and_refines(foot):
    cut = section(SHELL, foot, SECOND_RAY)
    one, two = section_mesh(cut), section_mesh(cut)
    assert np.array_equal(one.points, two.points) and np.array_equal(one.cells, two.cells)
    assert len(section_mesh(cut, 1.25).cells) > 1.9 * len(one.cells)


def test_sagittal_section_shows_a_post_at_its_height_there(foot):
    post = replace(SHELL, features=(feature("rearfoot_post", angle_degrees=4.0),))
    plain = replace(SHELL, features=())
    heel = section(post, foot, SECOND_RAY).interfaces_at(30.0)[0]
    bare = section(plain, foot, SECOND_RAY).interfaces_at(30.0)[0]
    assert heel - bare == pytest.approx(np.tan(np.radians(4.0)) * (32.5 + 3.0 + 5.0), abs=1e-9)


def test_rearfoot_section_shows_the_tilt_from_medial_to_lateral(foot):
    post = replace(SHELL, features=(feature("rearfoot_post", angle_degrees=4.0),))
    cut = section(post, foot, rearfoot_plane(34.0))
    assert cut.s_mm[0] == pytest.approx(-32.5) and cut.s_mm[-1] == pytest.approx(32.5)
    rise = cut.interfaces_at(-30.0)[0] - cut.interfaces_at(30.0)[0]
    assert rise == pytest.approx(60.0 * np.tan(np.radians(4.0)), abs=1e-9)


def test_outline_is_as_wide_and_long_as_the_foot(foot):
    insole = Device("flat", layers=(Layer("eva_soft", 3.0),))
    medial, lateral = edges_z_mm(insole, foot, np.array([34.0, np.mean([185, 190, 186, 178, 167])]))
    assert np.allclose(lateral - medial, [65.0, 98.0])
    back, front = ends_x_mm(insole, foot, lambda x: 0 * x)
    assert back == pytest.approx(0.0, abs=0.1) and front == pytest.approx(255.0, abs=0.5)
    assert ends_x_mm(SHELL, foot, lambda x: 0 * x)[1] == pytest.approx(
        foot.metatarsal_line_x_mm(0.0) - 6.0, abs=0.1
    )


def test_front_edge_of_a_short_device_is_bevelled_in_all_layers(foot):
    cut = section(SHELL, foot, SECOND_RAY)
    layers = cut.interfaces_mm[:-1] - cut.interfaces_mm[1:]
    assert layers[:, -1].sum() == pytest.approx(FRONT_EDGE_MM, abs=0.01)
    # computed: 2 mm of eva over the least 1 mm of polypropylene, thinned alike to 1.2 mm
    assert layers[:, -1] == pytest.approx([0.8, 0.4], abs=0.01)
    behind = cut.s_mm < cut.s_mm[-1] - FRONT_TAPER_MM
    assert layers[0, behind] == pytest.approx(2.0, abs=1e-9)
    assert layers[1, behind].min() >= 1.0 - 1e-9


def test_a_slice_that_misses_the_device_is_refused(foot):
    with pytest.raises(InputError, match="misses the device"):
        section(SHELL, foot, rearfoot_plane(400.0))


def test_build_sheet_measures_the_device(foot):
    sheet = {label: (value, unit) for label, value, unit in build_sheet(SHELL, foot)}
    assert sheet["layer 2 (from the skin) material"] == ("polypropylene", "")
    assert sheet["thickness under the heel's centre"] == (pytest.approx(5.0), "mm")
    assert sheet["medial edge above the ground at the heel"] == (pytest.approx(17.0), "mm")
    free, unit = sheet["free space under the medial edge at the arch"]
    edge = edges_z_mm(SHELL, foot, 110.0)[0]
    assert unit == "mm" and free == pytest.approx(foot.plantar(110.0, edge))
    assert sheet["heel cup (feature 2) depth"] == (12.0, "mm")
    assert all(np.isfinite(v) for v, u in sheet.values() if u)
