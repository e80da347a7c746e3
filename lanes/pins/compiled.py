"""How the solver's inner functions are compiled: without counting references.

Numba counts who holds an array, as Python does. A function that is handed ``Bodies`` and
``Contacts`` counts all eighteen arrays in and out again, several times over, and that was six
sevenths of a rack's time. The inner functions own no array and make none (one that made any would
not compile), and ``solver.run`` holds them all as long as a rack lasts: so nothing is lost by not
counting. Numba compiles its own sorting so.
"""

from __future__ import annotations

from numba import njit

inner = njit(cache=True, error_model="numpy", _nrt=False)
