"""A page that works alone: what it carries inside, and the policy that lets it load nothing else."""

from __future__ import annotations

import base64
import hashlib


def data_address(content: bytes, mime: str) -> str:
    """Return the address that holds a content itself (RFC 2397)."""
    return f"data:{mime};base64,{base64.b64encode(content).decode('ascii')}"


def policy(style: str, script: str) -> str:
    """Return the Content Security Policy (W3C, level 3) of a page that may load what it carries, no more.

    Parameters
    ----------
    style, script : the texts of its only ``<style>`` and ``<script>`` elements; no script where empty
    """
    scripts = f"'{_hash(script)}'" if script else "'none'"
    return (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src {scripts}; "
        "font-src data:; media-src data: blob:; img-src data:; base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode("ascii")
