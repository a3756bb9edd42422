from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from openapi_schema_validator import OAS31Validator
from openapi_spec_validator import OpenAPIV31SpecValidator

from stallkeep.api.body_examples import BODIES
from stallkeep.api.docs import curl, page
from stallkeep.api.openapi import document, text

COMMITTED = Path(__file__).parents[2] / "openapi" / "openapi.json"
DOCUMENT = document()


def _operations() -> list[tuple[str, str, dict[str, Any]]]:
    return [
        (path, method, operation)
        for path, methods in DOCUMENT["paths"].items()
        for method, operation in methods.items()
    ]


def test_the_committed_document_is_what_the_code_says() -> None:
    assert COMMITTED.read_text() == text(), "run: stallkeep openapi > openapi/openapi.json"


def test_the_document_is_valid_openapi() -> None:
    # openapi-spec-validator checks against the OpenAPI Initiative's own 3.1 schema.
    assert list(OpenAPIV31SpecValidator(DOCUMENT).iter_errors()) == []


def test_every_operation_has_an_id_of_its_own_a_tag_and_a_summary() -> None:
    ids = [operation["operationId"] for _, _, operation in _operations()]
    assert len(ids) == len(set(ids))
    for _, _, operation in _operations():
        assert re.fullmatch("[a-z][A-Za-z]+", operation["operationId"])
        assert operation["tags"]
        assert operation["summary"]


def test_every_tag_in_use_is_described() -> None:
    used = {tag for _, _, operation in _operations() for tag in operation["tags"]}
    assert {tag["name"] for tag in DOCUMENT["tags"]} == used


def test_schema_names_are_plain_words() -> None:
    assert [name for name in DOCUMENT["components"]["schemas"] if not name.isalpha()] == []


def test_no_request_schema_takes_unknown_fields() -> None:
    for name in BODIES:
        assert DOCUMENT["components"]["schemas"][name]["additionalProperties"] is False, name


@pytest.mark.parametrize("name", sorted(BODIES))
def test_every_example_fits_its_schema(name: str) -> None:
    schema = {**DOCUMENT["components"]["schemas"][name], "components": DOCUMENT["components"]}
    checker = OAS31Validator(schema)
    assert [error.message for error in checker.iter_errors(BODIES[name])] == []


def test_patterns_are_ones_that_every_reader_knows() -> None:
    # ECMA-262, which JSON Schema asks for, knows no (?! after $ as we write it for Python.
    assert "(?!" not in text()


def test_the_page_shows_every_operation_and_needs_nothing_from_elsewhere() -> None:
    html = page()
    for _, _, operation in _operations():
        assert f'id="{operation["operationId"]}"' in html
    assert "<script" not in html
    fetched = re.findall(r'(?:src|href)="(?!#|/|data:)[^"]*"', html)
    assert fetched == []


def test_every_link_on_the_page_leads_somewhere() -> None:
    html = page()
    places = set(re.findall(r'id="([^"]+)"', html))
    assert {link for link in re.findall(r'href="#([^"]+)"', html) if link not in places} == set()


def test_an_example_command_is_whole() -> None:
    operation = DOCUMENT["paths"]["/v1/items"]["post"]
    command = curl("/v1/items", "post", operation)
    assert command.startswith("curl -s -X POST http://127.0.0.1:8000/v1/items \\\n")
    assert '"title": "Navy wool coat"' in command
