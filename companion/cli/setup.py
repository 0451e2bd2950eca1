"""``kerfside setup``: the saw, the sawyer, the screen, the pedal; by flags or by asking."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from companion.cli.common import user_settings
from companion.cli.hear import hear
from companion.cli.pedal_device import offer, with_device
from companion.cli.wrapping import answer, show
from companion.devices.paths import settings_file
from companion.devices.pedal import key_warning
from companion.devices.pedal_profile import Learned
from companion.draw.letters import arc_minutes, height_mm, scales
from companion.errors import EXIT_FINE, KerfsideError, UsageError
from companion.sentence import sentence
from companion.shop import tables
from companion.shop.model import Drill, Settings
from companion.shop.settings import limits, save_settings
from companion.units import length_mm, plain_number
from companion.words import Words, languages, words_for
from companion.words.measure import inches_text

BAR_CELLS = 10
"""Cells of the bar that is measured with a ruler: ten, so that a ruler's 0.5 mm is 0.05."""
SLOWEST_WPM, FASTEST_WPM = 130, 180
"""Speeds of speech that are offered: slower is understood worse, not better."""
_PARTS = re.compile(r";|,(?!\d)|(?<!\d),|(?<=[.]\d),|(?<=[.]\d\d),")
"""Between drills: a semicolon, or a comma that is no decimal mark."""
Answer = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class _Question:
    """One setting: its flag, what is asked, and how an answer changes the settings."""

    flag: str
    metavar: str
    help: str
    ask: str
    """The question; ``{now}`` is the present value."""
    now: Callable[[Settings], str]
    change: Callable[[Settings, str], Settings]
    """Raises KerfsideError when the answer will not do."""


def _saw(settings: Settings, **values: Any) -> Settings:  # noqa: ANN401  # of any field
    return replace(settings, saw=replace(settings.saw, **values))


def _number(text: str) -> float:
    return float(plain_number(text))


def _length(settings: Settings, text: str, field: str, times: float = 1.0) -> float:
    """An answer in mm; a bare number is in the user's own unit.

    Args:
        settings: as they are.
        text: the answer.
        field: the setting whose range it must be in.
        times: the answer is so many times the setting.
    """
    value = length_mm(text, "in" if settings.inch else "mm")
    least, most = (times * limit for limit in limits(field))
    return _within(value, least, most, lambda v: _shown(settings, v))


def _within(value: float, least: float, most: float, shown: Callable[[float], str]) -> float:
    if not least <= value <= most:
        raise UsageError(
            sentence("{value} is out of range", value=shown(value)), "",
            sentence("Give {least} to {most}.", least=shown(least), most=shown(most)),
        )  # fmt: skip
    return value


def _dial(settings: Settings, text: str) -> Settings:
    return _saw(settings, dial_of=_within(_number(text), *limits("dial_of"), "{:g}".format))


def _shown(settings: Settings, value_mm: float) -> str:
    """What is set, as it may be written in an answer."""
    return f"{inches_text(value_mm)} in" if settings.inch else f"{value_mm:g} mm"


def _table_shown(settings: Settings) -> str:
    """The table's size as it may be written in an answer."""
    saw = settings.saw
    if not saw.table_length_mm or not saw.table_width_mm:
        return "none"
    return f"{_shown(settings, saw.table_length_mm)} x {_shown(settings, saw.table_width_mm)}"


def _table(settings: Settings, text: str) -> Settings:
    if text.lower() == "none":
        return _saw(settings, table_length_mm=0.0, table_width_mm=0.0)
    parts = [part.strip() for part in text.lower().split("x")]
    if len(parts) != 2:
        raise UsageError(
            sentence("no such size: {text!r}", text=text), "", 'Say two lengths, as in "400 x 250".'
        )
    long, wide = (_length(settings, part, "table_length_mm") for part in parts)
    return _saw(settings, table_length_mm=long, table_width_mm=wide)


def _units(settings: Settings, text: str) -> Settings:
    names = {"mm": False, "inch": True, "in": True, "zoll": True}
    if text.lower() not in names:
        raise UsageError(sentence("no such unit: {text!r}", text=text), "", "Say mm or inch.")
    return replace(settings, inch=names[text.lower()])


def _skill(settings: Settings, text: str) -> Settings:
    found = [s for s in tables.SKILLS if s.startswith(text.lower())]
    if len(found) != 1:
        raise UsageError(
            sentence("no such level: {text!r}", text=text),
            "",
            sentence("Say {known}.", known=", ".join(tables.SKILLS)),
        )
    return replace(settings, skill=found[0])


def _drilling(settings: Settings, text: str) -> Settings:
    # "each hole", "all at once" and "by level" are answers too
    said = [way for way in ("each", "all", "level") if way in text.lower().split()]
    if len(said) != 1:
        raise UsageError(
            sentence("no such drill round: {text!r}", text=text), "", "Say each, all or level."
        )
    return replace(settings, drilling=said[0])


def _theme(settings: Settings, text: str) -> Settings:
    names = ("dark", "light", "contrast", "terminal")
    if text not in names:
        raise UsageError(
            sentence("no such colours: {text!r}", text=text),
            "",
            sentence("Say {known}.", known=", ".join(names)),
        )
    return replace(settings, theme=text)


def _drills(settings: Settings, text: str) -> Settings:
    found: set[Drill] = {tables.drill(name.strip()) for name in _PARTS.split(text) if name.strip()}
    if not found:
        raise UsageError("no drills", "", 'Name them, as in "1.0 mm, 1.5 mm, #60".')
    return replace(settings, drills=tuple(sorted(found, key=lambda d: (d.diameter_mm, d.name))))


def _named(settings: Settings, text: str) -> Settings:
    return replace(settings, sawyer=_name(text))


def _name(text: str) -> str:
    name = " ".join(text.split())
    if not 1 <= len(name) <= 40 or not name.isprintable():
        raise UsageError("that is no name", repr(text), "Write 1 to 40 letters.")
    return name


def _language(settings: Settings, text: str) -> Settings:
    known = languages()
    if text not in known:
        raise UsageError(
            sentence("no such language: {text!r}", text=text),
            "",
            sentence("Say {known}.", known=", ".join(known)),
        )
    return replace(settings, language=text)


def _rate(settings: Settings, text: str) -> Settings:
    wpm = round(_number(text))
    if not SLOWEST_WPM <= wpm <= FASTEST_WPM:
        raise UsageError(
            sentence("{wpm} words a minute", wpm=wpm),
            "out of range",
            sentence(
                "Give {slowest_wpm} to {fastest_wpm}.",
                slowest_wpm=SLOWEST_WPM,
                fastest_wpm=FASTEST_WPM,
            ),
        )
    return replace(settings, speech_rate_wpm=wpm)


def _speech(settings: Settings, text: str) -> Settings:
    if text.lower() not in ("on", "off"):
        raise UsageError(sentence("neither on nor off: {text!r}", text=text), "", "Say on or off.")
    return replace(settings, speech=text.lower() == "on")


QUESTIONS: tuple[_Question, ...] = (
    _Question("units", "UNIT", "mm or inch: lengths on screen, on paper and spoken",
              "Lengths in mm or inch ({now}): ", lambda s: "inch" if s.inch else "mm", _units),
    _Question("throat", "LENGTH", "blade to the rear frame of the saw",
              "Throat of the saw, blade to rear frame ({now}): ",
              lambda s: _shown(s, s.saw.throat_mm),
              lambda s, t: _saw(s, throat_mm=_length(s, t, "throat_mm"))),
    _Question("table", "SIZE", "the saw's table, front to rear x side to side; none: not told",
              "Table of the saw, front to rear x side to side, or none ({now}): ",
              _table_shown, _table),
    _Question("capacity", "LENGTH", "thickest stack the saw cuts",
              "Thickest stack the saw takes ({now}): ",
              lambda s: _shown(s, s.saw.max_thickness_mm),
              lambda s, t: _saw(s, max_thickness_mm=_length(s, t, "max_thickness_mm"))),
    _Question("dial", "N", "highest mark on the saw's speed dial",
              "Highest mark on the speed dial ({now}): ",
              lambda s: f"{s.saw.dial_of:g}",
              _dial),
    _Question("drills", "LIST", 'the drills you have, as in "1.0 mm, 1.5 mm, #60"',
              "Your drills, parted by commas ({now}): ",
              lambda s: ", ".join(d.name for d in s.drills), _drills),
    _Question("skill", "LEVEL", "beginner, practised or terse: how much is said",
              "How much is to be said: beginner, practised, terse ({now}): ",
              lambda s: s.skill, _skill),
    _Question("drilling", "HOW", "each, all or level: drill round hole by hole, or at once",
              "Drill round: each (hole by hole), all (at once), or level (by level) ({now}): ",
              lambda s: s.drilling, _drilling),
    _Question("fingers", "LENGTH", "least distance from blade to a finger that holds",
              "Least distance from blade to a finger ({now}): ",
              lambda s: _shown(s, s.finger_distance_mm),
              lambda s, t: replace(s, finger_distance_mm=_length(s, t, "finger_distance_mm"))),
    _Question("distance", "LENGTH", "from your eye at the saw to the screen",
              "From your eye at the saw to the screen ({now}): ",
              lambda s: _shown(s, s.distance_mm),
              lambda s, t: replace(s, distance_mm=_length(s, t, "distance_mm"))),
    _Question("bar", "LENGTH", f"height of {BAR_CELLS} lines of the screen, by ruler",
              "Hold a ruler to the bar above: how high is it ({now}): ",
              lambda s: _shown(s, s.cell_height_mm * BAR_CELLS),
              lambda s, t: replace(s, cell_height_mm=_length(s, t, "cell_height_mm", BAR_CELLS)
                                   / BAR_CELLS)),
    _Question("colours", "NAME", "dark, light, contrast or terminal",
              "Colours: dark, light, contrast, terminal ({now}): ",
              lambda s: s.theme, _theme),
    _Question("sawyer", "NAME", "who saws here; what the log teaches is kept by it",
              "Who stands at the saw ({now}): ", lambda s: s.sawyer, _named),
    _Question("saw", "NAME", "what this saw is called; likewise",
              "What is this saw called ({now}): ", lambda s: s.saw.name,
              lambda s, t: _saw(s, name=_name(t))),
    _Question("language", "TAG", "language of prompts and screens: en or de",
              "Language, en or de ({now}): ", lambda s: s.language, _language),
    _Question("speech", "ON", "on or off: whether prompts are spoken",
              "Spoken prompts, on or off ({now}): ",
              lambda s: "on" if s.speech else "off", _speech),
    _Question("rate", "N", "words a minute, 130 to 180",
              "Words a minute, 130 to 180 ({now}): ", lambda s: f"{s.speech_rate_wpm}", _rate),
    _Question("voice", "ID", "the engine's voice by its id; auto: by language",
              "Voice of the engine, auto for the language's own ({now}): ",
              lambda s: s.voice,
              lambda s, t: replace(s, voice=_name(t))),
)  # fmt: skip


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this verb."""
    for question in QUESTIONS:
        parser.add_argument(f"--{question.flag}", metavar=question.metavar, help=question.help)
    parser.add_argument("--pedal", action="store_true", help="record the pedal, full screen")
    parser.add_argument(
        "--pedal-device", metavar="PATH",
        help="Linux: read the pedal's own input device, as in /dev/input/by-id/NAME; none: do not",
    )  # fmt: skip
    for name in ("pedal-key", "done-key", "again-key", "pause-key"):
        parser.add_argument(f"--{name}", metavar="KEY", help=_KEY_HELP[name])
    parser.add_argument(
        "--hear", action="store_true", help="play what you will hear: a sound check by the saw"
    )
    parser.add_argument("--show", action="store_true", help="only show what is set")


_KEY_HELP = {
    "pedal-key": "the pedal's key by name, as in space or f13; --pedal finds it by itself",
    "done-key": "a second pedal's key that only means done; none: there is none",
    "again-key": "a pedal's key that says the step again; none: there is none",
    "pause-key": "a pedal's key that pauses; none: there is none",
}
_KEY_FIELDS = {
    "pedal_key": "pedal_key", "done_key": "pedal_done_key",
    "again_key": "pedal_again_key", "pause_key": "pedal_pause_key",
}  # fmt: skip


def run(args: argparse.Namespace) -> int:
    """Set what the flags say; without any, ask.

    Raises:
        KerfsideError: an answer will not do, or the settings cannot be written.
    """
    settings, words = user_settings()
    if args.show:
        return _show(settings, words)
    changed = _by_flags(settings, args)
    if args.pedal_device is not None:
        changed = with_device(changed, args.pedal_device)
    names = (*(q.flag for q in QUESTIONS), *_KEY_FIELDS, "pedal_device")
    flags = [getattr(args, name) for name in names]
    asked = not args.pedal and not args.hear and all(text is None for text in flags)
    if asked:
        if not sys.stdin.isatty():
            raise UsageError(
                "nothing to set", "no flag is given and nobody can be asked", "See setup --help."
            )
        changed = ask(settings, words, answer)
    if args.pedal or (asked and _yes(answer(words.say("Record a pedal now? (y/N) ")))):
        changed = _pedal(changed, words)
    save_settings(changed, settings_file())
    if args.hear:
        return hear(changed, words_for(changed.language, changed.inch))
    return _show(changed, words)


def _by_flags(settings: Settings, args: argparse.Namespace) -> Settings:
    for question in QUESTIONS:
        text = getattr(args, question.flag)
        if text is not None:
            try:
                settings = question.change(settings, text)
            except KerfsideError as error:
                named = sentence("--{flag}: {what}", flag=question.flag, what=error.title)
                raise UsageError(named, error.cause, error.remedy) from error
    for flag, name in _KEY_FIELDS.items():
        key = getattr(args, flag)
        if key is not None:
            settings = replace(settings, **{name: key})
    return settings


def ask(settings: Settings, words: Words, answer: Answer) -> Settings:
    """Go through the questions; an empty answer leaves what is set.

    Args:
        settings: as they are.
        words: the language.
        answer: shows a question and returns one line.
    """
    for question in QUESTIONS:
        if question.flag == "bar":
            print(bar(sys.stdout.encoding or ""))
        while True:
            text = answer(words.say(question.ask, now=question.now(settings))).strip()
            if not text:
                break
            try:
                settings = question.change(settings, text)
            except KerfsideError as error:
                show(words.error(error))
            else:
                break
    return settings


def bar(encoding: str) -> str:
    """The bar for the ruler: as many lines as are measured."""
    block = "██████" if "utf" in encoding.lower() else "######"
    return "\n".join([block] * BAR_CELLS)


def _yes(text: str) -> bool:
    return text.strip().lower() in ("y", "yes", "j", "ja")


def _pedal(settings: Settings, words: Words) -> Settings:
    # the screen library only when a pedal is recorded
    from companion.tui.pedal_screen import record_pedal

    found = record_pedal(settings, words)
    return settings if found is None else offer(with_pedal(settings, *found), words, answer)


def with_pedal(settings: Settings, key: str, learned: Learned) -> Settings:
    """The settings with what was learned of a pedal."""
    t = learned.timing
    return replace(
        settings, pedal_key=key, pedal_bounce_s=round(t.bounce_s, 3),
        pedal_double_s=round(t.double_s, 3), pedal_repeat_s=round(t.repeat_s, 3),
        pedal_hold_s=round(t.hold_s, 3),
    )  # fmt: skip


def _show(settings: Settings, words: Words) -> int:
    for question in QUESTIONS:
        show(f"{question.flag:9} {question.now(settings)}")
    keys = (settings.pedal_key, settings.pedal_done_key, settings.pedal_again_key,
            settings.pedal_pause_key)  # fmt: skip
    show(words.say("pedal     {key}; done {done}, again {again}, pause {pause}", key=keys[0],
                    done=keys[1], again=keys[2], pause=keys[3]))  # fmt: skip
    if settings.pedal_device != "none":
        show(words.say("The pedal is read from {path}.", path=settings.pedal_device))
    for key in keys:
        reason = key_warning(key)
        if reason:
            show(words.say("! {key} {reason}", key=key, reason=words.say(reason)))
    cell_mm = settings.cell_height_mm
    high_mm = height_mm(scales(cell_mm, settings.distance_mm)[0], cell_mm)
    seen = arc_minutes(high_mm, settings.distance_mm)
    show(words.say("The letters at the saw are {height} mm high, {arc} arc minutes at your eye.",
                    height=f"{high_mm:.0f}", arc=round(seen)))  # fmt: skip
    if seen < 20.0:
        show(words.say("That is small: bring the screen nearer, or use larger type."))
    show(words.say("Settings: {path}", path=settings_file()))
    return EXIT_FINE
