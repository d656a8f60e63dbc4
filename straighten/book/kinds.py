"""The kinds of entry, the number of the form each is written in, and what each makes of a head's state."""

from __future__ import annotations

from typing import Literal, get_args

Kind = Literal[
    "head",  # the head file: its text and its parsed plain form
    "survey",  # readings of deck, cam line, hardness
    "check",  # go / no-go
    "plan",  # the card of a pass
    "tighten",  # gap against torque while clamping
    "stage",  # a part of a pass, with the gap read after it in the clamp
    "pass",  # what was done, with the readings after it
    "decision",  # heat again, sand now, hand on
    "sand",  # metal taken off
    "finish",  # the final list; closes the head
    "bench",  # one answer of the guided session
    "strike",  # takes an earlier entry out of use, with the reason
    "settle",  # says that the lines in which a head was carried on apart are one again
]

# Raise a number when a key of that kind's record changes its meaning; new keys are free.
KINDS: dict[str, int] = dict.fromkeys(get_args(Kind), 1)

# The state that a head is in after its last entry of one of these kinds; other kinds leave the state alone.
STATES: dict[str, str] = {
    "survey": "measured",
    "check": "checked",
    "plan": "planned",
    "tighten": "clamped",
    "stage": "staged",
    "pass": "passed",
    "decision": "decided",
    "sand": "sanded",
    "finish": "finished",
}
OPENED = "opened"
