"""Room `belief`: takes what was measured and done, gives weighted draws of state and response; does not know prices."""
