"""Room `head`: takes a head file, gives a `Head`; does not know what was measured on it."""
