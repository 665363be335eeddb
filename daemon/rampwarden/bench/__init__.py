"""The board on the bench: what its lines tell, before anything depends on them.

Pure analysis: lines with their times of arrival in, findings out. Opens no port, reads no clock, asks nobody.
"""
