"""The page on which a device types its code: no script of Streamlit, nothing of the store."""

import base64
import hashlib
from typing import Final

from app.style import palette
from model.service.pairing import CODE_LENGTH, LOCK_LASTS, Refusal

PATH: Final = "/pair"
FIELD: Final = "code"

_WORDS: Final[dict[Refusal, str]] = {
    Refusal.WRONG: "That is not the code. Look at the terminal once more.",
    Refusal.NO_CODE: "No code is open: it has expired, was used, or was guessed at too often. "
    "Press Enter in the terminal for a new one.",
    Refusal.LOCKED: "Too many wrong codes from this device, or from another on its network. Press "
    "Enter in the terminal for a new code, or wait "
    f"{LOCK_LASTS.total_seconds() / 60:.0f} minutes.",
}

# What stands behind the # of a link is never sent: the code reaches neither a log nor a referrer,
# and is taken out of the address, and so of the history, before anything else. It is not sent by
# itself: an app that only looks at links would use it up. What was said of the code before it goes.
_SCRIPT: Final = f"""
function take() {{
  const code = location.hash.slice(1);
  if (!code) return;
  history.replaceState(null, "", location.pathname);
  document.getElementById("{FIELD}").value = code;
  const refused = document.querySelector(".refused");
  if (refused) refused.remove();
}}
take();
addEventListener("hashchange", take);
"""
_STYLE: Final = f"""
:root {{ color-scheme: light; }}
body {{ margin: 0; padding: 1.5rem; background: {palette.PAPER}; color: {palette.INK};
  font: 1.05rem/1.5 {palette.FONT}; }}
main {{ max-width: 24rem; margin: 0 auto; }}
h1 {{ font-size: 1.5rem; margin: 0 0 .5rem; }}
label {{ display: block; margin: 1.25rem 0 .25rem; }}
input, button {{ box-sizing: border-box; width: 100%; font: inherit; padding: .75rem;
  border-radius: .5rem; }}
input {{ border: 1px solid {palette.UNSETTLED}; background: #fff; color: inherit;
  font-size: 1.5rem; letter-spacing: .15em; text-transform: uppercase; }}
button {{ margin-top: .75rem; border: 0; background: {palette.SIDE_A}; color: #fff; }}
.refused {{ border-left: .25rem solid {palette.FAILED}; padding: .5rem .75rem;
  background: {palette.PANEL}; }}
.small {{ font-size: .9rem; }}
"""


def _sha256(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


POLICY: Final = (
    f"default-src 'none'; script-src 'sha256-{_sha256(_SCRIPT)}'; "
    f"style-src 'sha256-{_sha256(_STYLE)}'; img-src data:; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""Nothing runs, loads or frames this page but what stands in it."""


def pairing_page(refusal: Refusal | None = None) -> str:
    """The page; nothing of it comes from a request."""
    said = "" if refusal is None else f'<p class="refused" role="alert">{_WORDS[refusal]}</p>'
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Pair this device – kedgewise</title>
<link rel="icon" href="data:,">
<style>{_STYLE}</style>
</head>
<body>
<main>
<h1>Pair this device</h1>
<p>A paired device can log pulls and read the answers, and nothing else.</p>
{said}
<form method="post" action="{PATH}" autocomplete="off">
<label for="{FIELD}">Code from the terminal</label>
<input id="{FIELD}" name="{FIELD}" required autocapitalize="characters" autocomplete="off"
  autocorrect="off" spellcheck="false" maxlength="{CODE_LENGTH + 4}">
<button type="submit">Pair this device</button>
</form>
<p class="small">The code works once, for a few minutes. Pair a device of your own, and pair it
ashore or at anchor: handle no phone while a line is under tension.</p>
</main>
<script>{_SCRIPT}</script>
</body>
</html>
"""
