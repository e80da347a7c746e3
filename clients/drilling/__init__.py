"""The geometry of drilling: places on a ball, and a layout told by places, angles or distances.

Pure functions, no Django. For instance::

    from clients.drilling import Layout, Place

    layout = Layout.from_angles(Place(5.0, 0.5), 4.5, 60, 40)
    layout.pin, layout.mass_bias, layout.pin_to_val_in
"""

from .layout import Layout, LayoutError
from .sphere import AROUND_IN, Place

__all__ = ["AROUND_IN", "Layout", "LayoutError", "Place"]
