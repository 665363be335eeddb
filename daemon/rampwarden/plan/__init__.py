"""Before the burner is lit: can this plan work? Formulas of wall, gas, probe and graphite, and what they say of a heat.

As pure as the core and below everything that reads or writes. Every figure says beside it what it rests on: a source,
*common practice, no source*, or *handbook-typical, no source* for what books give as a range.
"""
