"""Room `decide`: takes what a next pass would do and what things cost, gives heat again, sand now or hand it on; does not know the bench."""

from __future__ import annotations

from straighten.decide.decision import (
    AfterPass,
    Decision,
    Foreseen,
    Option,
    WholeJob,
    decide,
    whole_job,
)
from straighten.decide.outlook import Outlook, outlook_of
from straighten.decide.stopping import Policy, Stopping, solve

__all__ = [
    "AfterPass",
    "Decision",
    "Foreseen",
    "Option",
    "Outlook",
    "Policy",
    "Stopping",
    "WholeJob",
    "decide",
    "outlook_of",
    "solve",
    "whole_job",
]
