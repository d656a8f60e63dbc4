"""Figures, each a finished record in SI that says its message and draws itself; matplotlib is loaded when it draws."""
