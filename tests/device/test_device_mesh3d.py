"""The device's mesh in three dimensions: valid, closed, and the same device as the sections show."""

from dataclasses import replace

import numpy as np
import pytest
from test_section_mesh import SHELL, random_device

from fefoot.device import FEATURES, Device, Layer, feature, rearfoot_plane, sagittal_plane, section
from fefoot.device.mesh3d import device_mesh, plan_mesh, smallest_jacobian, top_above_mm
from fefoot.device.outline import edges_z_mm, ends_x_mm, front_x_mm
from fefoot.device.surface import heights, interfaces_mm
from fefoot.errors import MeshError
from fefoot.mechanics.element import facet_shape, quadrature, shape
from fefoot.mechanics.mesh import boundary_facets
from fefoot.mechanics.surface import cast, neighbours, search

TWO_LAYERS = Layer("eva_soft", 3.0), Layer("eva_medium", 4.0)
FLAT = Device("flat", "", "full", "flat", "flat", TWO_LAYERS)


def with_feature(kind):
    base = kind.needs_base or "foot"
    return Device(kind.name, "", kind.needs_length or "to_metatarsals", base, "follow", TWO_LAYERS,
                  (feature(kind.name),))


def cell_volumes(mesh):
    where, weight = quadrature(4, 4)
    slopes = shape(4, where)[1]
    det = np.linalg.det(np.einsum("mai,qaj->mqij", mesh.points[mesh.cells], slopes))
    return det @ weight


def area_vectors(points, facets):
    """Points (k, q, 3) and weighted area vectors (k, q, 3) of quadratic facets."""
    where, weight = quadrature(3, 4)
    N, G, _ = facet_shape(where)
    node = points[facets]
    tangent = np.einsum("kai,qaj->kqij", node, G)
    return (np.einsum("kai,qa->kqi", node, N),
            weight[:, None] * np.cross(tangent[..., 0], tangent[..., 1]))


def begun(facets):
    """Facets as a set, each turned to begin with its lowest corner."""
    first = np.argmin(facets[:, :3], axis=1)[:, None]
    turn = (first + np.arange(3)) % 3
    return set(map(tuple, np.take_along_axis(facets, np.hstack([turn, turn + 3]), axis=1).tolist()))


def assert_sound(mesh):
    """No inverted cell, a closed conforming boundary, outward facets, and volumes that agree."""
    assert smallest_jacobian(mesh) > 0.05
    volumes = cell_volumes(mesh)
    assert volumes.min() > 0
    facets, _ = boundary_facets(mesh.cells)
    edges = np.sort(facets[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    unique, count = np.unique(edges, axis=0, return_counts=True)
    assert set(count) == {2}
    corners = np.unique(facets[:, :3])
    assert len(corners) - len(unique) + len(facets) == 2
    at, area = area_vectors(mesh.points, facets)
    size = np.linalg.norm(area, axis=-1).sum()
    assert np.abs(area.sum((0, 1))).max() < 1e-12 * size
    assert (at * area).sum() / 3 == pytest.approx(volumes.sum(), rel=1e-10)
    known = begun(facets)
    for name, sign in (("device_top", 1.0), ("device_bottom", -1.0)):
        assert begun(mesh.facets[name]) < known
        assert (sign * area_vectors(mesh.points, mesh.facets[name])[1][..., 1]).min() > 0
    assert len(np.unique(mesh.cells)) == len(mesh.points)


@pytest.mark.parametrize("kind", FEATURES.values(), ids=list(FEATURES))
def test_every_feature_meshes(foot, kind):
    assert_sound(device_mesh(with_feature(kind), foot, 8.0))


def test_twenty_random_devices_mesh(foot):
    rng = np.random.default_rng(20251126)
    for number in range(20):
        assert_sound(device_mesh(random_device(rng, number), foot, 8.0))


@pytest.mark.parametrize("size_mm", [5.0, 9.0])
def test_the_volume_is_that_between_the_height_fields(foot, size_mm):
    device = Device("arch", "", "full", "flat", "flat", TWO_LAYERS,
                    (feature("arch_fill", fill_percent=60.0), feature("heel_lift", height_mm=8.0)))
    x = np.linspace(0.0, 255.0, 1021)
    medial, lateral = (np.nan_to_num(z) for z in edges_z_mm(device, foot, x))
    v = np.linspace(0.0, 1.0, 201)
    z = medial[:, None] + (lateral - medial)[:, None] * v
    field = heights(device, foot, np.broadcast_to(x[:, None], z.shape), z)
    strip = np.trapezoid(field.top_mm - field.bottom_mm, v, axis=1) * (lateral - medial)
    mesh = device_mesh(device, foot, size_mm)
    assert cell_volumes(mesh).sum() == pytest.approx(np.trapezoid(strip, x), rel=0.01)


@pytest.mark.parametrize(("kind", "words"), [
    ("relief", {"place": "metatarsal_head_2", "depth_mm": 4.0, "radius_mm": 18.0}),
    ("relief", {"place": "heel", "depth_mm": 4.0, "radius_mm": 14.0}), ("fascia_groove", {}),
    ("first_ray_cut_out", {}), ("metatarsal_bar", {}), ("metatarsal_pad", {}),
    ("first_ray_extension", {}), ("lateral_extension", {})])
def test_what_a_feature_adds_or_takes_is_in_the_coarse_mesh(foot, kind, words):
    """Within 6 % of the volume between the height fields at the size of the coarse foot's devices."""
    plain = Device("plain", "", "full", "flat", "flat", (Layer("eva_soft", 8.0),))
    device = replace(plain, features=(feature(kind, **words),))
    x, z = np.meshgrid(np.arange(0.0, 255.0, 0.5), np.arange(-50.0, 55.0, 0.5), indexing="ij")
    medial, lateral = edges_z_mm(device, foot, x)
    rise = heights(device, foot, x, z).top_mm - heights(plain, foot, x, z).top_mm
    expected = 0.25 * rise[(z >= medial) & (z <= lateral)].sum()
    assert abs(expected) > 800.0
    found = [cell_volumes(device_mesh(d, foot, 9.0)).sum() for d in (device, plain)]
    assert found[0] - found[1] == pytest.approx(expected, rel=0.06)


def test_layers_have_their_thickness(foot):
    mesh = device_mesh(SHELL, foot, 6.0)
    assert set(mesh.region_names) == {"device:eva_soft", "device:polypropylene"}
    soft, hard = (np.unique(mesh.cells[mesh.cells_of(f"device:{name}")][:, :4])
                  for name in ("eva_soft", "polypropylene"))
    between = mesh.points[np.intersect1d(soft, hard)]
    expected = interfaces_mm(SHELL, heights(SHELL, foot, between[:, 0], between[:, 2]))
    assert np.allclose(between[:, 1], expected[1], atol=1e-9)
    corners = {name: np.unique(mesh.facets[f"device_{name}"][:, :3]) for name in ("top", "bottom")}
    for name, row in (("top", 0), ("bottom", -1)):
        at = mesh.points[corners[name]]
        field = interfaces_mm(SHELL, heights(SHELL, foot, at[:, 0], at[:, 2]))
        assert np.allclose(at[:, 1], field[row], atol=1e-9)
    top = mesh.points[corners["top"]]
    inside = front_x_mm(SHELL, foot, top[:, 2]) - top[:, 0] > 15.0
    above = {tuple(p[[0, 2]]): p[1] for p in between}
    gap = np.array([p[1] - above[tuple(p[[0, 2]])] for p in top])
    assert np.allclose(gap[inside], 2.0, atol=1e-9)


def test_a_thick_layer_has_more_rows(foot):
    thin, thick = (device_mesh(Device("d", "", "full", "flat", "flat", (Layer("eva_soft", t),)),
                               foot, 6.0) for t in (6.0, 18.0))
    assert len(thick.cells) == 3 * len(thin.cells)


def test_a_flat_device_stands_on_the_ground(foot):
    mesh = device_mesh(FLAT, foot, 6.0)
    assert np.all(mesh.points[np.unique(mesh.facets["device_bottom"]), 1] == 0.0)
    assert np.allclose(mesh.points[np.unique(mesh.facets["device_top"]), 1], 7.0)


def heights_of(mesh, name, x, z):
    """Height of the mesh's top or underside at plan points, by rays; nan where there is none."""
    facets, down = mesh.facets[f"device_{name}"], -1.0 if name == "top" else 1.0
    start = np.column_stack([x, np.full_like(x, -60.0 * down), z])
    ray = np.broadcast_to([0.0, down, 0.0], start.shape)
    guess = search(mesh.points, facets, start, ray, 1.0, 200.0)
    hit = cast(mesh.points, facets, neighbours(facets, 3), start, ray, guess)
    return np.where(hit.facet >= 0, start[:, 1] + down * hit.gap_mm, np.nan)


def test_cut_by_a_slice_it_is_the_section(foot):
    """Along the second ray and across the heel; the mesh's chords round off a cup's rim."""
    slices = sagittal_plane(lambda x: -5.0 + 0.0 * x), rearfoot_plane(30.0)
    for device, most in ((FLAT, 1e-9), (SHELL, 0.8)):
        mesh = device_mesh(device, foot, 5.0)
        for plane in slices:
            cut = section(device, foot, plane)
            s = np.linspace(cut.s_mm[0] + 0.5, cut.s_mm[-1] - 0.5, 150)
            along = plane.kind == "sagittal"
            x, z = (s, np.full_like(s, -5.0)) if along else (np.full_like(s, 30.0), s)
            for name, row in (("top", 0), ("bottom", -1)):
                miss = heights_of(mesh, name, x, z) - cut.interfaces_at(s)[row]
                assert np.isnan(miss).sum() <= 1
                assert np.nanmax(np.abs(miss)) < most
                assert np.nanmedian(np.abs(miss)) < 0.02


def test_the_plan_has_the_outline_of_the_sections(foot):
    for device in (FLAT, SHELL):
        points, triangles = plan_mesh(device, foot, 6.0)
        corner = points[triangles[:, :3]]
        a, b = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
        assert (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).min() > 0
        back, front = ends_x_mm(device, foot, lambda x: np.zeros_like(x))
        middle = points[np.abs(points[:, 1]) < 3.0, 0]
        assert middle.min() == pytest.approx(back, abs=0.6)
        assert middle.max() == pytest.approx(front, abs=0.6)
        x = points[:, 0]
        medial, lateral = edges_z_mm(device, foot, np.clip(x, back + 1e-9, 255.0))
        assert (points[:, 1] > medial - 0.1).all() and (points[:, 1] < lateral + 0.1).all()


def test_the_top_is_known_beside_the_device_too(foot):
    x, z = np.array([-20.0, 30.0, 200.0, 30.0]), np.array([0.0, 0.0, 0.0, 60.0])
    assert np.allclose(top_above_mm(FLAT, foot, x, z), [0.0, 7.0, 7.0, 0.0])


def test_a_layer_without_thickness_is_refused(foot):
    flat = Device("none", "", "full", "flat", "flat", (Layer("eva_soft", 0.0), *TWO_LAYERS))
    with pytest.raises(MeshError, match="'none'"):
        device_mesh(flat, foot, 8.0)
