"""Write what the workshop gets: a folder with the STL files and the build sheet of one device."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

from ..case.values import Case
from ..device.device import Device
from ..errors import InputError, unknown_name


def make(case: Case, device_name: str | None, out: str | Path) -> Path:
    """Write the STL files and the build sheet of one device of a case into a new folder.

    ``DEVICE.stl`` is the whole device, ``DEVICE_layer_1.stl`` the layer under the skin and so on
    (where there are several), ``build_sheet.html`` the page. The folder appears only when it is
    complete. A left device is the mirror image of the right one.

    Parameters
    ----------
    case : Case
    device_name : str or None
        Which device; None takes the only one.
    out : path
        Folder to write; it must not exist yet.

    Raises
    ------
    InputError
        When there is no such device, or the folder exists or cannot be written.
    MeshError
        When the solid is not watertight.
    """
    device = _chosen(case, device_name)
    path = Path(out)
    if path.exists() or path.is_symlink():
        raise InputError("the folder exists already", key="--out", value=str(path),
                         allowed="a folder that does not exist yet",
                         hint="name another folder, or remove that one")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        partial = Path(tempfile.mkdtemp(prefix=f".{path.name}-", dir=path.parent))
    except OSError as problem:
        raise InputError("the folder cannot be written", key="--out", value=str(path),
                         allowed="a place that can be written",
                         hint=problem.strerror or str(problem)) from None
    try:
        _write(partial, case, device)
        for file in partial.iterdir():
            with open(file, "rb") as handle:
                os.fsync(handle.fileno())
        os.chmod(partial, 0o755)
        os.rename(partial, path)
    except BaseException:
        shutil.rmtree(partial, ignore_errors=True)
        raise
    return path


def _chosen(case: Case, name: str | None) -> Device:
    names = [device.name for device in case.devices]
    if not names:
        raise InputError("there is no device to make", file=case.file, key="device",
                         hint="add [[device]] with its layers")
    if name is None and len(names) > 1:
        raise InputError("the case has several devices", file=case.file, key="--device",
                         allowed=", ".join(names), hint="say which one to make")
    if name is not None and name not in names:
        raise unknown_name("device", name, names, file=case.file, key="--device")
    return case.devices[0 if name is None else names.index(name)]


def _write(folder: Path, case: Case, device: Device) -> None:
    from ..device.solid import solids
    from ..device.stl import write_stl
    from ..foot.landmarks import landmarks
    from .page import build_page

    marks = landmarks(case.person.dimensions())
    parts = solids(device, marks)
    layers = parts[1:] if len(device.layers) > 1 else []
    files = [f"{device.name}.stl", *(f"{device.name}_layer_{k + 1}.stl" for k in range(len(layers)))]
    for number, (name, part) in enumerate(zip(files, [parts[0], *layers], strict=True)):
        what = "device" if number == 0 else f"layer {number}"
        words = f"fefoot {what} {device.name}, {case.person.side} foot, mm, Z up, X to the toes"
        write_stl(folder / name, part if case.person.side == "right" else part.mirrored(), words)
    page = build_page(case, device, marks, [p.volume_mm3() for p in parts[1:]], files, _scan(case))
    (folder / "build_sheet.html").write_text(page, encoding="utf-8")


def _scan(case: Case) -> tuple[str, ...]:
    """Return which scan the device and the dimensions come from."""
    if case.scan is None:
        return ()
    choice = case.scan.choice
    return (f"Scan of a {choice.kind}: {Path(choice.file).name}.", *case.scan.facts[-2:])
