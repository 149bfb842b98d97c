"""Build the section meshes of the default size from the signed distances of the foot.

    python -m meshes.sections

Run it after any change of ``fefoot/foot/anatomy.toml`` or of what cuts and meshes the sections.
"""

# ruff: noqa: T201
from __future__ import annotations

from importlib.metadata import version
from pathlib import Path

from fefoot.foot.mesh2d import section_mesh
from fefoot.foot.reference import COMMITTED_MM, section_file, write_section

SECTIONS = ("sagittal", "rearfoot")


def main() -> None:
    """Build the sections and write them beside this script."""
    for name in SECTIONS:
        mesh = section_mesh(name, COMMITTED_MM)
        path = Path(__file__).parent / section_file(name).name
        write_section(path, mesh, version("gmsh"))
        print(f"{path.name}: {len(mesh.cells)} cells, {len(mesh.points)} nodes, "
              f"{path.stat().st_size / 1e3:.0f} kB")


if __name__ == "__main__":
    main()
