"""A page that lists every request: plain, printable, without script, and nothing is fetched."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from functools import cache
from html import escape
from typing import Any, Final

from litestar import MediaType, Response, get

from stallkeep.api.auth import FOR_ANYBODY
from stallkeep.api.examples import example
from stallkeep.api.openapi import document
from stallkeep.api.page_frame import frame

Operation = Mapping[str, Any]

_FOR_A_MERGE: Final = "application/merge-patch+json"


@get("/docs", media_type=MediaType.HTML, opt=FOR_ANYBODY, include_in_schema=False)
async def read_docs() -> Response[str]:
    """Show every request with an example."""
    return Response(page(), media_type=MediaType.HTML)


@cache
def page() -> str:
    """Write the page from the OpenAPI document."""
    said = document()
    parts = [_head(said)]
    for tag in said["tags"]:
        parts.append(f'<h2 id="{tag["name"]}">{escape(tag["name"].capitalize())}</h2>')
        parts.append(f"<p>{escape(tag['description'])}</p>")
        parts += [_operation(*one) for one in _operations(said) if tag["name"] in one[2]["tags"]]
    parts.append(_types(said["components"]["schemas"]))
    return frame("Every request", "".join(parts))


def _operations(said: Operation) -> Iterator[tuple[str, str, Operation]]:
    for path, methods in said["paths"].items():
        for method, operation in methods.items():
            yield path, method, operation


def _head(said: Operation) -> str:
    about = "".join(f"<p>{escape(p)}</p>" for p in said["info"]["description"].split("\n\n"))
    links = " · ".join(
        f'<a href="#{tag["name"]}">{escape(tag["name"])}</a>' for tag in said["tags"]
    )
    return (
        f"<h1>Stallkeep {escape(said['info']['version'])}</h1>{about}"
        f'<p>{links} · <a href="#types">types</a> · <a href="/openapi.json">OpenAPI</a></p>'
        "<p>The examples expect the token in a shell variable:</p><pre>TOKEN=sk_…</pre>"
    )


def _operation(path: str, method: str, operation: Operation) -> str:
    rows = "".join(_parameter(one) for one in operation["parameters"])
    listed = f"<table>{rows}</table>" if rows else ""
    return (
        f'<article id="{operation["operationId"]}">'
        f'<h3><code><span class="verb">{method.upper()}</span> {escape(path)}</code></h3>'
        f"<p>{escape(operation['summary'])}.</p>{_more(operation)}{listed}"
        f"<p>Answers {_answers(operation)}.</p>"
        f"<pre>{escape(curl(path, method, operation))}</pre></article>"
    )


def _more(operation: Operation) -> str:
    said = str(operation["description"])
    return "" if said.rstrip(".") == operation["summary"] else f"<p>{escape(said)}</p>"


def _parameter(one: Operation) -> str:
    return (
        f"<tr><td><code>{escape(one['name'])}</code></td><td>{escape(one['in'])}</td>"
        f"<td>{_kind(one['schema'])}</td><td>{escape(one.get('description', ''))}</td></tr>"
    )


def _answers(operation: Operation) -> str:
    said = []
    for status, answer in operation["responses"].items():
        shown = [_kind(one["schema"]) for one in answer.get("content", {}).values()]
        said.append(" ".join([status, *shown]))
    return ", ".join(said)


def _kind(schema: Operation) -> str:
    """Name a schema in few words, with a link where it has a name of its own."""
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        return f'<a href="#type-{name}">{escape(name)}</a>'
    if "anyOf" in schema:
        return " or ".join(_kind(one) for one in schema["anyOf"])
    if "enum" in schema:
        return " | ".join(escape(str(word)) for word in schema["enum"])
    if schema.get("type") == "array" and "items" in schema:
        return f"list of {_kind(schema['items'])}"
    return escape(str(schema.get("format") or schema.get("type") or "any"))


def _types(schemas: Mapping[str, Operation]) -> str:
    parts = ['<h2 id="types">Types</h2>']
    for name, schema in schemas.items():
        required = set(schema.get("required", ()))
        rows = "".join(
            f"<tr><td><code>{escape(field)}</code></td><td>{_kind(kind)}</td>"
            f"<td>{'' if field in required else 'may be left out'}</td>"
            f"<td>{escape(kind.get('description', ''))}</td></tr>"
            for field, kind in schema.get("properties", {}).items()
        )
        parts.append(
            f'<article id="type-{name}"><h3><code>{escape(name)}</code></h3>'
            f"<p>{escape(schema.get('description', ''))}</p><table>{rows}</table></article>"
        )
    return "".join(parts)


def curl(path: str, method: str, operation: Operation) -> str:
    """Write an operation as a command that can be pasted into a shell."""
    components = document()["components"]["schemas"]
    for one in operation["parameters"]:
        if one["in"] == "path":
            value = str(example(one["schema"], components))
            path = path.replace("{" + one["name"] + "}", value)
    lines = [f"curl -s -X {method.upper()} http://127.0.0.1:8000{path}"]
    if operation.get("security") != []:
        lines.append('-H "Authorization: Bearer $TOKEN"')
    if any(one["name"] == "If-Match" for one in operation["parameters"]):
        lines.append("-H 'If-Match: *'")
    content = operation.get("requestBody", {}).get("content", {})
    if "text/csv" in content:
        lines += ["-H 'Content-Type: text/csv'", "--data-binary @export.csv"]
    elif content:
        kind = _FOR_A_MERGE if _FOR_A_MERGE in content else next(iter(content))
        body = json.dumps(example(content[kind]["schema"], components), ensure_ascii=False)
        quoted = body.replace("'", "'\\''")
        lines += [f"-H 'Content-Type: {kind}'", f"-d '{quoted}'"]
    return " \\\n  ".join(lines)


ROUTES = (read_docs,)
