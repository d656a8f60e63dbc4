"""Room `decide`: takes what a next pass would do and what things cost, gives heat again, sand now or hand it on; does not know the bench."""

from __future__ import annotations

from straighten.decide.decision import Decision, Foreseen, Option, WholeJob, decide, whole_job
from straighten.decide.outlook import Outlook, outlook_of

__all__ = ["Decision", "Foreseen", "Option", "Outlook", "WholeJob", "decide", "outlook_of", "whole_job"]
