"""The reason of a step at length, over the walk: page, picture in the map's place, next page.

Reached from the help list by the key that shows the short reason; the same key turns the
page, any tap goes back to the work. The pages are read only when one is asked for.
"""

from __future__ import annotations

from companion.session.machine import Machine
from companion.session.model import State
from companion.shop.reasons import pages, reason_page
from companion.tui.face import Face
from companion.words import Words

ALWAYS = ("let-the-blade-cut", "hands", "tension", "blade-slips", "dust")
"""What concerns every step, after the pages of the step itself."""


def topics_of(machine: Machine, state: State) -> tuple[str, ...]:
    """Keys of the pages about the step in hand, nearest first, each once."""
    found: list[str] = []
    step = machine.step_at(state)
    if step is not None:
        cut = machine.plan.cuts[step.cut - 1] if step.cut is not None else None
        if step.stage == "cut" and cut is not None:
            leg = machine.leg(state.step)
            found += leg.techniques if leg is not None else ()
            found += [t.technique for t in cut.turns]
            found += ["vein" if cut.is_vein else "inside-first"]
        found.append(step.stage)
        if step.stage == "thread":
            found += ["inside-first", "stiff-order", "not-from-edge"]
    keys = [reason_page(topic).key for topic in (*found, *ALWAYS)]
    return tuple(dict.fromkeys(keys))


def reason_face(machine: Machine, state: State, at: int, words: Words) -> Face:
    """One page.

    Args:
        machine: it knows the plan.
        state: where the work stands.
        at: which of the step's pages, from 0; after the last comes the first.
        words: the sentences.
    """
    topics = topics_of(machine, state)
    page = pages()[topics[at % len(topics)]]
    say = words.say
    return Face(
        "calm", say("WHY"), head=say(page.title), say=say(page.why),
        why=say(page.caption), details=tuple(say(text) for text in page.text),
        place=say("page {n} of {total}", n=at % len(topics) + 1, total=len(topics)),
        next=say("w: next page. Any tap: back to the work. STOP is x, here too."),
        keys=("pedal", "why", "stop", "help", "leave"), picture=page.key,
    )  # fmt: skip
