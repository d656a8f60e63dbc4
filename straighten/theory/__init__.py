"""Room `theory`: the formulas derived in sympy; loaded by tests, docs and `explain` only.

Every function returns symbols and expressions; the tests put numbers in and hold them against the code.
"""
