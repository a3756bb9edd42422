"""The plain frame of our few HTML pages: readable, printable, no script and nothing fetched."""

from __future__ import annotations

from html import escape

_STYLE = """
:root { color-scheme: light dark; --edge: #8886; --soft: #8882; --mark: #a34a1f }
@media (prefers-color-scheme: dark) { :root { --mark: #e8a27c } }
body { font: 16px/1.5 Georgia, serif; max-width: 46rem; margin: 2rem auto; padding: 0 1rem }
h1, h2, h3 { line-height: 1.2 } h2 { margin-top: 3rem; border-bottom: 2px solid var(--mark) }
code, pre { font: 14px/1.4 ui-monospace, Menlo, Consolas, monospace }
pre { background: var(--soft); padding: .7rem; overflow-x: auto; white-space: pre-wrap }
article { border-top: 1px solid var(--edge); padding: .5rem 0 1rem }
table { border-collapse: collapse; width: 100% }
td, th { text-align: left; vertical-align: top; padding: .2rem .6rem .2rem 0 }
td { border-top: 1px solid var(--edge) } a { color: var(--mark) } .verb { color: var(--mark) }
@media print { body { max-width: none; font-size: 11pt } article { break-inside: avoid } }
"""


def frame(title: str, body: str) -> str:
    """Put *body*, which is HTML already, into a page."""
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<link rel="icon" href="data:,"><title>{escape(title)} · Stallkeep</title>'
        f"<style>{_STYLE}</style></head><body>{body}</body></html>"
    )
