"""Leaving is possible: every table as CSV, and one package that describes itself.

What the descriptor must hold is the Data Package and Table Schema standard's of the Frictionless
Data project, from memory.
"""

from __future__ import annotations

import csv
import io
import json
import zipfile
from typing import Any

from tests.api_client import Client
from tests.exported import EXPORTED
from tests.factories import an_item
from tests.trading import a_past_event, a_stall


async def table(api: Client, name: str) -> list[dict[str, str]]:
    answer = await api.ask("GET", f"/v1/exports/{name}.csv")
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"].startswith("text/csv")
    assert answer.headers["content-disposition"] == f'attachment; filename="{name}.csv"'
    return list(csv.DictReader(io.StringIO(answer.text, newline="")))


async def package(api: Client) -> tuple[zipfile.ZipFile, Any]:
    answer = await api.ask("GET", "/v1/exports/package.zip")
    assert answer.headers["content-type"] == "application/zip"
    files = zipfile.ZipFile(io.BytesIO(answer.content))
    return files, json.loads(files.read("datapackage.json"))


async def test_a_table_has_money_as_decimals_and_no_cell_runs(api: Client) -> None:
    item = await an_item(api, title="=1+1", note="-12.50", category="@coats", cost="7.05")
    [row] = await table(api, "items")
    assert (row["id"], row["tag_code"]) == (item["id"], item["tag_code"])
    assert (row["title"], row["note"], row["category"]) == ("'=1+1", "-12.50", "'@coats")
    assert (row["price"], row["cost"], row["floor"]) == ("40.00", "7.05", "")
    assert row["margin_scheme"] == "false"
    assert row["created_at"].endswith("Z")


async def test_the_package_holds_every_table_but_secrets(api: Client) -> None:
    await a_past_event(api, await a_stall(api), "2026-05-09", ["40.00", "30.00"], taken=3)
    files, said = await package(api)
    names = {resource["name"] for resource in said["resources"]}
    assert len(names) == len(EXPORTED)
    assert api.token not in "".join(files.read(name).decode() for name in files.namelist())
    rows = {
        name: list(csv.DictReader(io.StringIO(files.read(f"{name}.csv").decode(), newline="")))
        for name in names
    }
    assert (len(rows["items"]), len(rows["sales"]), len(rows["rails"])) == (3, 2, 3)
    assert sorted(line["price"] for line in rows["sale_lines"]) == ["30.00", "40.00"]
    assert [row["currency"] for row in rows["shop"]] == ["EUR"]


async def test_the_descriptor_fits_the_files(api: Client) -> None:
    await a_past_event(api, await a_stall(api), "2026-05-09", ["40.00"])
    files, said = await package(api)
    assert said["profile"] == "tabular-data-package"
    assert "licensed professional" in said["description"]
    resources = {resource["name"]: resource for resource in said["resources"]}
    for name, resource in resources.items():
        [header, *_] = csv.reader(io.StringIO(files.read(resource["path"]).decode(), newline=""))
        schema = resource["schema"]
        fields = [field["name"] for field in schema["fields"]]
        assert fields == header, name
        assert set(schema.get("primaryKey", ())) <= set(fields)
        for key in schema.get("foreignKeys", ()):
            other = resources[key["reference"]["resource"]]["schema"]["fields"]
            assert set(key["fields"]) <= set(fields)
            assert set(key["reference"]["fields"]) <= {field["name"] for field in other}
    kinds = {field["name"]: field["type"] for field in resources["sale_lines"]["schema"]["fields"]}
    assert (kinds["price"], kinds["quantity"], kinds["sale_id"]) == ("number", "integer", "string")


async def test_an_export_nobody_makes_is_404(api: Client) -> None:
    for name in ["tokens.csv", "token.csv", "items", "items.zip", "kept_answers.csv", "..csv"]:
        answer = await api.ask("GET", f"/v1/exports/{name}")
        assert answer.status_code == 404, name
        assert answer.json()["type"].endswith("/export-not-found")
