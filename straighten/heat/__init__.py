"""Room `heat`: takes a head, a clamped state and a heat plan, gives what the heat leaves behind; does not know the plan's search."""
