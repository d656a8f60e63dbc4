"""Room `clamp`: takes a head, its shape and a set-up, gives the clamped state; does not know heat."""

from __future__ import annotations

from straighten.clamp.clamped import CORNERS, Clamped, ClampSetup, Corner
from straighten.clamp.holding import clamp_each, clamp_head
from straighten.clamp.limits import Limit, limits_of
from straighten.clamp.section import Section, section_of
from straighten.clamp.shims import Stack, Stacking, countering, stackings
from straighten.clamp.springs import Growth, grow
from straighten.clamp.tightening import TighteningCard, tightening_card
from straighten.clamp.tightening_log import NextStep, Reading, log_likelihood, next_step, replay

__all__ = [
    "CORNERS",
    "ClampSetup",
    "Clamped",
    "Corner",
    "Growth",
    "Limit",
    "NextStep",
    "Reading",
    "Section",
    "Stack",
    "Stacking",
    "TighteningCard",
    "clamp_each",
    "clamp_head",
    "countering",
    "grow",
    "limits_of",
    "log_likelihood",
    "next_step",
    "replay",
    "section_of",
    "stackings",
    "tightening_card",
]
