"""Install a distribution from its folder the way an installer does, without the network."""

from __future__ import annotations

import shutil
import tomllib
from pathlib import Path


def install(folder: Path, target: Path) -> None:
    """Copy the packages and write the metadata that their ``pyproject.toml`` asks for.

    This is what unpacking a wheel of a pure Python project leaves behind (PyPA specifications
    "Recording installed projects", "Core metadata" and "Entry points").
    """
    project = tomllib.loads((folder / "pyproject.toml").read_text("utf-8"))["project"]
    target.mkdir(exist_ok=True)
    for package in (folder / "src").iterdir():
        shutil.copytree(
            package, target / package.name, ignore=shutil.ignore_patterns("__pycache__")
        )
    plain_name = project["name"].replace("-", "_")
    info = target / f"{plain_name}-{project['version']}.dist-info"
    info.mkdir()
    (info / "METADATA").write_text(
        f"Metadata-Version: 2.1\nName: {project['name']}\nVersion: {project['version']}\n"
    )
    lines = []
    for group, points in project["entry-points"].items():
        lines.append(f"[{group}]")
        lines += [f"{name} = {value}" for name, value in points.items()]
    (info / "entry_points.txt").write_text("\n".join(lines) + "\n")
