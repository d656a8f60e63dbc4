"""Room `clamp`: takes a head, its shape and a set-up, gives the clamped state; does not know heat."""

from __future__ import annotations

from straighten.clamp.clamped import Clamped, ClampSetup, clamp_each, clamp_head
from straighten.clamp.section import Section, section_of
from straighten.clamp.shims import countering

__all__ = ["ClampSetup", "Clamped", "Section", "clamp_each", "clamp_head", "countering", "section_of"]
