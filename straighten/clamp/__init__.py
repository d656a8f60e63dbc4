"""Room `clamp`: takes a head, its shape and a set-up, gives the clamped state; does not know heat."""
