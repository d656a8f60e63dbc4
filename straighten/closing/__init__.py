"""Room `closing`: takes the surveys and the person's answers, gives the final list; does not know the book."""

from __future__ import annotations

from straighten.closing.checklist import Item, LaterLook, checklist

__all__ = ["Item", "LaterLook", "checklist"]
