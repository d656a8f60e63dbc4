"""Room `theory`: the formulas that `explain` shows, derived in sympy; `tests/theory/derived` holds the others.

Every function returns symbols and expressions; the tests put numbers in and hold them against the code.
"""
