"""Each verb's examples: shown by ``--help`` and in the reference, and parsed by a test."""

from __future__ import annotations

EXAMPLES: dict[str, tuple[tuple[str, str], ...]] = {
    "new": (
        ("kerfside new gull.svg", "ask for what a project needs, and make the folder gull"),
        ("kerfside new gull.svg shop/gull --width 180mm --stack 2 --no-questions",
         "the same without a question"),
    ),
    "check": (
        ("kerfside check harbour_sign", "list what was found"),
        ("kerfside check harbour_sign --svg seen.svg --thickness-svg thick.svg",
         "draw what was read, and how thick it is everywhere"),
        ("kerfside check harbour_sign --thicken 2.4mm -o stronger.svg",
         "write a pattern whose every neck is that wide"),
        ("kerfside check ferry_plate --bridge 3mm -o bridged.svg",
         "write a pattern whose loose middles are tied"),
    ),
    "plan": (
        ("kerfside plan quay_number", "holes, cuts in their order, turns and minutes"),
        ("kerfside plan quay_number --steps", "every step with its reason"),
        ("kerfside plan gull.svg --width 7in --thickness 1/4in", "a bare drawing, no folder"),
    ),
    "sheet": (
        ("kerfside sheet quay_number", "write sheet.pdf into the project's folder"),
        ("kerfside sheet quay_number -o wall.pdf --paper roll:610mm", "on a roll of paper"),
        ("kerfside sheet quay_number --mirror -o back.pdf", "to be glued to the back"),
    ),
    "saw": (
        ("kerfside saw harbour_sign", "open the companion, or go on where you left"),
        ("kerfside saw quay_number --copies 6", "three runs of a stack of two"),
        ("kerfside saw quay_number --plain", "line by line, for screen readers and scripts"),
        ("kerfside saw quay_number --rehearse", "try the walk without a saw"),
    ),
    "review": (
        ("kerfside review", "everything that is logged"),
        ("kerfside review quay_number --rehearsed", "a demo's recorded rehearsal"),
        ("kerfside review quay_number --html page.html", "one page with charts"),
        ("kerfside review --calibrate", "learn your own times"),
        ("kerfside review quay_number --cost 6 --quote quote.pdf", "a quote for six"),
        ("kerfside review --backup journal.bak", "a whole copy of the log"),
    ),
    "practice": (
        ("kerfside practice", "the levels, what is learnt, and which is next"),
        ("kerfside practice waves -o waves", "write a level as a project; then saw waves"),
        ("kerfside practice waves --mark 1", "mark the level's last run"),
        ("kerfside practice --why inside-first", "why the inside is cut first, with a picture"),
        ("kerfside practice --guide guide.html", "all of it on one page, to print for a class"),
    ),
    "setup": (
        ("kerfside setup", "ask for saw, drills and screen"),
        ("kerfside setup --throat 16in --skill practised --distance 1.5m --bar 9cm",
         "tell it by flags"),
        ("kerfside setup --pedal", "record the foot pedal"),
        ("kerfside setup --hear", "a sound check beside the running saw"),
    ),
    "help": (
        ("kerfside help saw", "the page of one verb"),
        ("kerfside help --all", "the whole reference"),
        ("kerfside help --roff > kerfside.1", "the same for the man command"),
        ('eval "$(kerfside help --completion bash)"', "let the tab key complete, in this bash"),
    ),
}  # fmt: skip


def epilog(verb: str) -> str:
    """The examples of a verb as ``--help`` ends with them."""
    lines = ["examples:"]
    for command, what in EXAMPLES[verb]:
        lines += [f"  {command}", f"      {what}"]
    return "\n".join(lines)
