"""What a session's shots say: leaves, score, hits, throws, trends, causes and options.

Pure functions over :class:`lanes.reading.shots.LoggedShot`; no Django, no I/O. The physics comes
from ``lanes.motion``.
"""
