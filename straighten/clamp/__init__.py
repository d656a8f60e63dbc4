"""Room `clamp`: takes a head, its shape and a set-up, gives the clamped state; does not know heat."""

from __future__ import annotations

from straighten.clamp.clamped import Clamped
from straighten.clamp.holding import clamp_head
from straighten.clamp.section import Section, section_of
from straighten.clamp.setup import CORNERS, ClampSetup, Corner

__all__ = ["CORNERS", "ClampSetup", "Clamped", "Corner", "Section", "clamp_head", "section_of"]
