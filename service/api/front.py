"""The two pages that need no sign-in: what this is, and setting a first password by a one-time link."""

from fastapi import APIRouter
from fastapi.responses import HTMLResponse

router = APIRouter(include_in_schema=False)

FRAME = """<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1"><title>limitwitness</title>
<style>body{font:1.1rem/1.5 system-ui,sans-serif;max-width:42rem;margin:2rem auto;padding:0 1rem}
input,button{font:inherit;padding:.6rem;display:block;width:100%;box-sizing:border-box;margin:.5rem 0}</style>
</head><body>
"""
END = "</body></html>\n"

LANDING = """<h1>limitwitness</h1>
<p>This service witnesses the setting of travel-limit contacts in electric valve actuators: it hears, reads,
compares, holds and records.</p>
<p><strong>Local rules, the site permit and licensed practice come first.</strong> It proves nothing dead and
stops no valve.</p>
<p><a href="/docs">Interface for programs</a> &middot; <a href="/openapi.json">its description</a> &middot;
<a href="/health">health</a></p>
"""

INVITATION = """<h1>Set your password</h1>
<p>This link works once. Twelve characters or more; a sentence is good.</p>
<form id="form">
<input id="password" type="password" autocomplete="new-password" required aria-label="Password">
<button>Set password</button></form><p id="said" role="status"></p>
<script type="module">
const said = document.getElementById("said");
document.getElementById("form").addEventListener("submit", async (event) => {
  event.preventDefault();
  const password = document.getElementById("password").value;
  const answer = await fetch("/v1/passwords", {method: "POST", headers: {"Content-Type": "application/json"},
    body: JSON.stringify({token: location.hash.slice(1), password})});
  const told = await answer.json();
  said.textContent = answer.ok ? `You sign in as ${told.sign_in_name}.` : told.detail;
});
</script>
"""


@router.get("/", response_class=HTMLResponse)
def landing() -> str:
    """Return a page that says what this is and where the interface is described."""
    return FRAME + LANDING + END


@router.get("/invitation", response_class=HTMLResponse)
def invitation() -> str:
    """Return the page of a one-time link; its token stands in the fragment, which no server sees."""
    return FRAME + INVITATION + END
