"""Every sentence that a reader meets about a take, for a child, an adult and a teacher.

`heard` words what a take holds: states, starts, evidence, warnings. `cures` words what to change and the
small tests that tell two causes apart. `room` words how far weight and place may go. `summary` words the
headline and the check at home.
"""

from colophony.teaching.wording.comparisons import hand_weight
from colophony.teaching.wording.cures import Figures, cause_test, cure
from colophony.teaching.wording.heard import (
    EVIDENCE,
    STARTS,
    STATES,
    WARNINGS,
    evidence,
    remarks,
    start_sentence,
    state_sentence,
    state_word,
)
from colophony.teaching.wording.room import differ, lane, newtons, room_words, source, wanders
from colophony.teaching.wording.summary import check_at_home, headline

__all__ = [
    "EVIDENCE",
    "STARTS",
    "STATES",
    "WARNINGS",
    "Figures",
    "cause_test",
    "check_at_home",
    "cure",
    "differ",
    "evidence",
    "hand_weight",
    "headline",
    "lane",
    "newtons",
    "remarks",
    "room_words",
    "source",
    "start_sentence",
    "state_sentence",
    "state_word",
    "wanders",
]
