"""A build as a notebook shows it: what the eye sees, a few figures, and every check that did not pass."""

from __future__ import annotations

import base64
from html import escape

from pipeline.build import Build


def build_html(build: Build) -> str:
    """Return a fragment of HTML that stands alone; it loads nothing and runs nothing."""
    manifest = build.manifest
    relief = manifest["relief"]
    picture = base64.b64encode(build.files["pictures/eye.png"]).decode()
    kinds = [part["made_as"] for part in manifest["parts"]]
    rows = {
        "parts": ", ".join(f"{kinds.count(kind)} {kind}s" for kind in dict.fromkeys(kinds)),
        "apparent depth": f"{relief['apparent_depth']:.1f} mm at the opening's scale",
        "built depth": f"{relief['built_depth']:.1f} mm",
        "back scale": f"{relief['back_scale']:.4f}",
    }
    table = "".join(
        f'<tr><th scope="row" style="text-align:left">{name}</th><td style="text-align:left">{value}</td></tr>'
        for name, value in rows.items()
    )
    wrong = [check for check in manifest["checks"] if check["status"] != "pass"]
    passed = len(manifest["checks"]) - len(wrong)
    said = "".join(
        f"<li><strong>{check['status']}</strong> {escape(check['part'] or 'scene')}: {escape(check['message'])}</li>"
        for check in wrong
    )
    title = escape(manifest["title"])
    return (
        f"<h3>{title}</h3>"
        f'<img alt="{title} from its eye point" width="480" src="data:image/png;base64,{picture}">'
        f"<table>{table}</table><p>{passed} checks passed, {len(wrong)} did not.</p><ul>{said}</ul>"
    )
