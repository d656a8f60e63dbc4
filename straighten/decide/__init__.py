"""Room `decide`: takes what a next pass would do and what things cost, gives heat again, sand now or hand it on; does not know the bench."""

from __future__ import annotations

from straighten.decide.decision import Decision, Foreseen, Option, Outlook, decide, outlook_of
from straighten.decide.stopping import Policy, Stopping, solve

__all__ = ["Decision", "Foreseen", "Option", "Outlook", "Policy", "Stopping", "decide", "outlook_of", "solve"]
