"""Blackmere Aggregates, an invented firm: small hand-written tables and a seed make its register.

`tables` reads what is written by hand; the other files lay out the register from it, in memory
and without a database; `register` writes it; `load` is the way in.
"""
