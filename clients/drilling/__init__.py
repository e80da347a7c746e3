"""The geometry of drilling: places on a ball, layouts, holes and what they weigh.

Pure functions, no Django. For instance::

    from clients.drilling import Layout, Place

    layout = Layout.from_angles(Place(5.0, 0.5), 4.5, 60, 40)
    layout.pin, layout.mass_bias, layout.pin_to_val_in
"""

from .gyration import rg_about_axis_in
from .holes import Drill, Hole, HoleError, Wall, place_holes, wall, walls
from .layout import Layout, LayoutError
from .sphere import AROUND_IN, Place
from .weights import StaticWeights, after_drilling, before_drilling, mean_density_g_cm3

__all__ = [
    "AROUND_IN",
    "Drill",
    "Hole",
    "HoleError",
    "Layout",
    "LayoutError",
    "Place",
    "StaticWeights",
    "Wall",
    "after_drilling",
    "before_drilling",
    "mean_density_g_cm3",
    "place_holes",
    "rg_about_axis_in",
    "wall",
    "walls",
]
