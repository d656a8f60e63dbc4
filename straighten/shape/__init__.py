"""Room `shape`: takes readings and a head, gives a `Shape` and an assessment; does not know clamp or heat."""
