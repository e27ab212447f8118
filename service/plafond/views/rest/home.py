"""The page at the root, for somebody who opened the service in a browser, and the problems' pages.

Takes what a release says of itself, gives HTML that stands on its own: no script, nothing loaded
from elsewhere, light or dark as the reader's screen is set.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from plafond.governance.coverage import Coverage
from plafond.governance.drawing import picture
from plafond.views.catalogue import ReleaseCard

#: What a browser may do with these pages: show them in their own style, and nothing else.
POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)

PLACES = (
    ("/v1/findings", "what can be recorded of a patient, with units and ranges"),
    ("/v1/options", "the procedures, and what to do instead"),
    ("/v1/rules", "every rule, with its sentence and its grounds"),
    ("/v1/sources", "the publications the rules rest on"),
    ("/v1/releases", "the releases of the rules that can be asked for"),
    ("/coverage", "a map of the field: what the rules say of each option, counted"),
    ("/readyz", "whether an answer can be given now"),
    ("/openapi.json", "the description of this interface (OpenAPI 3.1)"),
)

_STYLE = """
:root { color-scheme: light dark; --ink: #1b1b1b; --paper: #fff; --line: #767676; --link: #0b4f8a }
@media (prefers-color-scheme: dark) {
  :root { --ink: #ececec; --paper: #16181a; --line: #9a9a9a; --link: #9ccaf5 }
}
body { margin: 0 auto; max-width: 44rem; padding: 2rem 1.25rem; color: var(--ink);
  background: var(--paper); font: 1.0625rem/1.6 system-ui, sans-serif }
h1 { font-size: 1.6rem; line-height: 1.25; margin: 0 0 1rem } h2 { font-size: 1.15rem }
a { color: var(--link) } a:focus-visible { outline: 3px solid; outline-offset: 2px }
aside { border: 1px solid var(--line); border-left-width: .5rem; padding: .25rem 1rem }
dt { margin-top: .5rem } dd { margin-left: 1.25rem }
pre { overflow-x: auto; border: 1px solid var(--line); padding: .75rem; line-height: 1.4 }
.wide { overflow-x: auto; margin-inline: calc((100% - min(94vw, 76rem)) / 2) }
code { font-size: .95em; overflow-wrap: anywhere }
"""

_REQUEST = """curl -sS http://localhost:8321/v1/assessments \\
  -H 'Content-Type: application/json' \\
  -d '{"person": {"age": "27 a"}, "left": {"giving-way": "present"}}'"""


def home_page(release: ReleaseCard) -> str:
    """Return the page at the root."""
    signed = "signed by a clinical board" if release.signed else "not signed by a clinical board"
    return _page(
        "plafond",
        f"""
<h1>plafond: keyhole surgery of the foot and ankle</h1>
<p>This service reads what is known about one patient's foot and ankle. It answers which keyhole
procedures are supported, which are held or ruled out and why, what is dangerous and must be acted
on, what is missing, and on whose evidence each line rests. It is spoken to by programs; this page
says where.</p>
<aside aria-label="Caution"><p><strong>It does not decide.</strong> {escape(release.notice)}</p>
<p>{escape(release.scope)}</p></aside>
<h2>In service</h2>
<p>Release {escape(release.version)}, {signed}: {release.rules} rules on {release.options} options,
resting on {release.sources} sources.<br><code>{escape(release.digest)}</code></p>
<h2>To ask</h2>
<p>Send a document with <code>POST /v1/assessments</code>; leave out what is not known.</p>
<pre tabindex="0" aria-label="Example request"><code>{escape(_REQUEST)}</code></pre>
<p>The answer can be read again at <code>/v1/assessments/</code> and its id, and played again under
another release with <code>POST</code> to the same address and <code>/replay</code>.</p>
<h2>To look up</h2>
<dl>{_listed(PLACES)}</dl>""",
    )


def problem_page(title: str, status: int, meaning: str) -> str:
    """Return the page that says what a kind of problem means."""
    return _page(
        title,
        f"<h1>{escape(title)}</h1><p>{escape(meaning)}</p>"
        f'<p>Answers of this kind have the status {status}.</p><p><a href="/">plafond</a></p>',
    )


def coverage_page(covered: Coverage) -> str:
    """Return the page that shows the map of the field as a picture."""
    return _page(
        "What the rules cover",
        "<h1>What the rules cover</h1><p>One line an option: how many rules speak for and against "
        "it, on how many sources, with how many cases, and how sure the least sure of them is. "
        "Rules that reach an option through what it is (elective, arthroscopic, a fusion) are "
        f'counted with its own.</p><div class="wide" role="region" tabindex="0" '
        f'aria-label="Map of the field">{picture(covered)}</div><p><a href="/">plafond</a></p>',
    )


def _listed(places: Sequence[tuple[str, str]]) -> str:
    return "".join(
        f'<dt><a href="{escape(path)}">{escape(path)}</a></dt><dd>{escape(what)}</dd>'
        for path, what in places
    )


def _page(title: str, body: str) -> str:
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{_STYLE}</style></head>"
        f"<body><main>{body}</main></body></html>\n"
    )
