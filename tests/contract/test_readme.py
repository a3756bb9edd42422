"""What the README shows works as it stands there."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path

from stallkeep.api.openapi import document
from stallkeep_importers.contract import Importer, Options, Reject, Skip, Transaction

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)


def test_the_plugin_of_the_readme_keeps_the_contract() -> None:
    (source,) = (block for block in blocks("python") if "class Tins" in block)
    place: dict[str, object] = {}
    exec(source, place)  # noqa: S102 - our own README
    importer = place["Tins"]()  # type: ignore[operator]
    assert isinstance(importer, Importer)
    file = b"TIN;day;cents\nt-1;2026-09-11;350\nt-2;2026-09-11;many\n"
    options = Options(currency="EUR")
    assert importer.recognise(file, options).sureness == 1
    assert importer.recognise(b"\xff\x00", options).sureness == 0
    header, taken, bad = importer.read(io.BytesIO(file), options)
    assert isinstance(header, Skip)
    assert isinstance(taken, Transaction)
    assert (taken.amount_minor, taken.external_id) == (350, "t-1")
    assert isinstance(bad, Reject)


def test_the_routes_of_the_readme_exist() -> None:
    known = [re.sub(r"\{[^}]*\}", "[^/]+", path) for path in document()["paths"]]
    shown = re.findall(r"\$API(/v1/[\w/-]*)", README)
    assert len(shown) > 8
    for path in shown:
        assert any(re.fullmatch(pattern, path.rstrip("/")) for pattern in known), path


def test_the_json_of_the_readme_is_json() -> None:
    bodies = re.findall(r"-d '(\{.*?\})'", README)
    assert bodies
    for body in bodies:
        json.loads(body)
