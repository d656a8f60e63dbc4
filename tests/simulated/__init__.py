"""Invented heads with a hidden truth, and surveys of them as a person with blades would write them down."""
