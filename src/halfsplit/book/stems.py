"""Plain sentences as lists of stems, so that "it keeps restarting" and "restarts again" meet."""

import re
from collections.abc import Mapping
from types import MappingProxyType

NOT = "not"
"""The stem of every "no", "won't" and "without"."""

NOTHING = "nothing"
"""Says "not", and what it is that is not."""

_WORD = re.compile(r"[a-z0-9]+")

_SAYS_NOTHING = frozenset(
    _WORD.findall(
        """a an the and or but so it its itself he she they them this that these those there then is are was were be
        been am i im ive my me we our us you your of to in at as by for with from into when while just now very really
        quite some any all has have had having do does did can could would will get gets got getting computer pc
        machine thing own still even only also again if which who what how than too much many"""
    )
)

_NEGATIONS = frozenset(
    _WORD.findall(
        "no not none never nor without cannot cant wont dont doesnt didnt isnt wasnt arent aint wouldnt couldnt"
    )
)

_SAID_FOR: Mapping[str, str] = MappingProxyType(
    {
        "freeze": "froze frozen",
        "go": "went gone goes going",
        "blow": "blew blown blows blowing",
        "fall": "fell fallen falls",
        "dead": "died dies die dying",
        "spill": "spilt spilled spilling",
        "smell": "smelt",
        "burnt": "burned burning burns burn",
        "break": "broke broken",
        "lose": "lost loses losing",
        "run": "ran running runs",
        "keep": "kept",
        "take": "took taken taking",
        "buy": "bought",
        "add": "fit fits fitted fitting install installs installed installing upgrade upgrades upgraded",
        "hang": "hung stuck unresponsive",
        "turn": "switch switches switched switching shut shuts shutting powers powered powering",
        "on": "up",
        "off": "down",
        "start": "boot boots booting booted startup",
        "reboot": "restart restarts restarted restarting",
        "screen": "display monitor",
        "dark": "black blank",
        "graphics": "video graphic",
        "board": "motherboard mainboard",
        "memory": "ram",
        "card": "gpu",
        "processor": "cpu",
        "supply": "psu",
        "radio": "wifi wi wireless",
        "network": "internet ethernet lan",
        "drive": "disk disc",
        "power": "electricity electric",
        "cut": "outage blackout",
        "storm": "lightning thunder thunderstorm",
        "loud": "noisy noise louder",
        "slow": "slower",
        "hot": "heat heats overheats overheating hotter",
        "pop": "popup popups",
        "age": "ages forever",
    }
)
"""Word -> what owners say for it, and forms that no ending tells."""

_SAME = {said: word for word, others in _SAID_FOR.items() for said in _WORD.findall(others)}

_ENDINGS = ("ings", "ing", "ed", "es", "s", "ly", "y", "e")
_LEAST_STEM = 3  # letters that are left without an ending


def stems_of(text: str) -> tuple[str, ...]:
    """Return the stems of a text, without the words that say nothing.

    Example:
        >>> stems_of("It won't turn on"), stems_of("keeps restarting"), stems_of("freezes, froze, freezing")
        (('not', 'turn', 'on'), ('keep', 'reboot'), ('freez', 'freez', 'freez'))
    """
    plain = text.lower().replace("\u2019", "'").replace("'", "")
    stems = []
    for word in _WORD.findall(plain):
        if word in _NEGATIONS or word == NOTHING:
            stems.append(NOT)
        if word not in _NEGATIONS and word not in _SAYS_NOTHING:
            stems.append(_stem(_SAME.get(word, word)))
    return tuple(stems)


def _stem(word: str) -> str:
    """Return a word without its ending; a doubled letter before it is one: "stopped" is "stop"."""
    for ending in _ENDINGS:
        stem = word.removesuffix(ending)
        if stem != word and len(stem) >= _LEAST_STEM:
            return stem[:-1] if stem[-1] == stem[-2] and stem[-1] not in "lsz" else stem
    return word
