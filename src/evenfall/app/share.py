"""Sharing on the local network: where to listen, the code, the page that takes it, and what it means in words."""

from __future__ import annotations

import base64
import contextlib
import hashlib
import ipaddress
import socket

from starlette.responses import HTMLResponse, Response

MEANING = (
    "Shared on the local network. Whoever is on it and has this code can read everything and fill in the bench form,",
    "but changes neither plane nor plan. The traffic is not encrypted. Sharing stops when Evenfall is ended.",
)
"""What sharing means, printed beside the code."""

_SCRIPT = """'use strict';(async()=>{const said=document.getElementById('said');
const token=location.hash.slice(1);history.replaceState(null,'','/enter');
if(!token){said.textContent='Scan the code that is shown where Evenfall runs.';return}
try{const answer=await fetch('/enter',{method:'POST',body:token});
if(answer.ok){location.replace('/');return}said.textContent=await answer.text()}
catch(e){said.textContent='Evenfall does not answer. Is it still running, and is this the same network?'}})();"""

_STYLE = (
    ":root{color-scheme:light dark}body{font:1.25rem/1.5 system-ui,sans-serif;max-width:32rem;margin:3rem auto;"
    "padding:0 1rem}"
)


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


_POLICY = (
    f"default-src 'none'; script-src {_hash(_SCRIPT)}; style-src {_hash(_STYLE)}; connect-src 'self'; "
    "form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
_PAGE = (
    '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
    '<meta name="viewport" content="width=device-width,initial-scale=1">'
    f"<title>Evenfall: enter</title><style>{_STYLE}</style></head>\n"
    '<body><main><h1>Evenfall</h1><p id="said" role="status">Entering</p>'
    "<noscript><p>Entering needs JavaScript in this browser.</p></noscript></main>"
    f"<script>{_SCRIPT}</script></body></html>\n"
)


def entering_page() -> Response:
    """The small page that hands the code in the address to the server; all a stranger ever gets."""
    return HTMLResponse(_PAGE, headers={"content-security-policy": _POLICY, "cache-control": "no-store"})


def network_addresses() -> tuple[str, ...]:
    """IPv4 addresses of this machine on local networks, the one of the usual way out first. Sends nothing."""
    found: list[str] = []
    for target in ("192.0.2.1", "10.255.255.255", "192.168.255.255", "172.31.255.255"):
        with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect((target, 9))
            found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        found += [str(entry[4][0]) for entry in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    return tuple(dict.fromkeys(address for address in found if _local(address)))


def _local(address: str) -> bool:
    """An address of a local network: private or of the link, not this machine's own."""
    known = ipaddress.ip_address(address)
    return known.is_private and not known.is_loopback and not known.is_unspecified


def code_picture(address: str) -> str:
    """The address as a QR code in characters for a terminal."""
    import io

    import segno

    made = io.StringIO()
    segno.make(address, error="m", micro=False).terminal(made, compact=True)
    return made.getvalue()
