"""What the session knows as pieces of HTML; everything from the scene is escaped."""

from __future__ import annotations

from collections import Counter

from markupsafe import Markup, escape

from pipeline.checks.model import Status
from pipeline.live.state import State

SIGNS = {"pass": "✓", "warn": "!", "fail": "✗"}


def top(state: State) -> str:
    """Return the page's heading."""
    title = state.glance.title if state.glance is not None else ""
    return Markup('<p class="kicker">Foreshorten, live</p><h1>{}</h1><p class="file"><code>{}</code></p>').format(
        title or state.name, state.name
    )


def faults(state: State) -> str:
    """Return what is wrong with the scene, each problem with the line it is on."""
    if state.gone:
        return Markup("<h2>The file is gone</h2><p>{} is no longer there; what is shown is the last of it. "
                      "The page waits for it to come back.</p>").format(state.name)  # fmt: skip
    if not state.faults:
        return ""
    items = Markup("").join(
        Markup("<li><p>{}</p>{}</li>").format(
            fault.text, Markup("<pre>{}</pre>").format(fault.excerpt) if fault.excerpt else ""
        )
        for fault in state.faults
    )
    after = "The last good picture stays until this is put right." if state.shapes is not None else ""
    return Markup("<h2>The scene has {} to put right</h2><ol>{}</ol><p>{}</p>").format(
        "one thing" if len(state.faults) == 1 else f"{len(state.faults)} things", items, after
    )


def figures(state: State) -> str:
    """Return the figures of the relief."""
    if state.glance is None:
        return ""
    rows = Markup("").join(Markup("<div><dt>{}</dt><dd>{}</dd></div>").format(*row) for row in state.glance.figures)
    return Markup("<h2>Figures</h2><dl>{}</dl>").format(rows)


def checks(state: State) -> str:
    """Return the checks that did not pass, and how many did."""
    count = Counter(finding.status for finding in state.findings)
    words: tuple[tuple[Status, str], ...] = (("pass", "passed"), ("warn", "to look at"), ("fail", "failed"))
    tally = Markup("").join(
        Markup('<li class="{}"><span class="sign" aria-hidden="true">{}</span> {} {}</li>').format(
            status, SIGNS[status], count[status], word
        )
        for status, word in words
    )
    rows = Markup("").join(
        Markup(
            '<li class="{0}"><span class="sign" aria-hidden="true">{1}</span> <span class="unseen">{0}: </span>'
            "<strong>{2}</strong> {3}</li>"
        ).format(found.status, SIGNS[found.status], found.part or "whole room", found.message)
        for found in sorted(state.findings, key=lambda found: found.status != "fail")
        if found.status != "pass"
    )
    if state.judged:
        late = Markup("")
    elif state.faults or state.gone:
        late = Markup('<p class="stale">These are of the last good room.</p>') if state.findings else Markup("")
    else:
        late = Markup('<p class="late">{}</p>').format(
            "These are of the room before; being checked again." if state.findings else "Being checked."
        )
    list_of = Markup(
        '<ul class="tally">{}</ul><ul class="findings" tabindex="0" aria-label="What did not pass">{}</ul>'
    ).format(tally, rows)
    return Markup("<h2>Checks</h2>{}{}").format(late, list_of if state.findings else "")


def outlines(state: State) -> str:
    """Return the outline and size of every panel, and the size of every print."""
    if not state.outlines:
        return Markup('<h2>Panels</h2><p class="late">Being made.</p>')
    panels = Markup("").join(
        Markup("<li>{}<strong>{}</strong><span>{}</span></li>").format(Markup(svg), part, size)
        for part, size, svg in state.outlines
    )
    prints = Markup("").join(
        Markup("<li><strong>{}</strong> <span>{}</span></li>").format(*row)
        for row in (state.shapes.prints if state.shapes is not None else ())
    )
    said = Markup('<h2>Panels</h2><ul class="panels">{}</ul>').format(panels)
    return said + Markup('<h2>Prints</h2><ul class="prints">{}</ul>').format(prints) if prints else said


def progress(state: State) -> str:
    """Return how far a build is or what became of it, and what there is to say."""
    notice = Markup('<p class="notice">{}</p>').format(state.notice) if state.notice else Markup("")
    building = state.building
    if building is None:
        return notice
    if building.stage is not None:
        at, of, name = building.stage
        return notice + Markup(
            '<p><label for="build-bar">Building, {} of {}: {}</label> <progress id="build-bar" max="{}" value="{}">'
            "</progress></p>"
        ).format(at, of, name, of, at)
    lines = Markup("\n").join(escape(line) for line in building.lines)
    head = "Not built" if building.failed else "Built"
    return notice + Markup('<p class="{}">{}</p><pre tabindex="0">{}</pre>').format(
        "refused" if building.failed else "done", head, lines
    )


def build_label(state: State) -> str:
    """Return what the button says: what is built is what stands in the file."""
    return "Save and build" if state.moved else "Build"


def can_build(state: State) -> bool:
    """Return whether a build may begin."""
    return not (state.gone or state.faults or (state.building is not None and state.building.stage is not None))
