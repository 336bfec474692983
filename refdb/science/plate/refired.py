"""What a firing leaves in the metal: a plate that bowed does not lie flat again when its glass melts.

Metal that yields while glass on one face cools is a little longer on that side for good. In the next fire the glass
lets go and the metal springs back, not all the way; at heat its stress anneals out and its shape stays. The next coat
is laid on a bent plate, and whatever that fire bends comes on top of it.
"""

from __future__ import annotations

import numpy as np

from refdb.science.expansion import ROOM_C
from refdb.science.plate.cooled import STEP_K, cool_and_refire
from refdb.science.plate.layers import Array, Plates


def left_curvature(plates: Plates, room_c: float = ROOM_C, step_k: float = STEP_K) -> Array:
    """Return the curvature that stays in the metal of each plate once its glass melts again.

    Parameters
    ----------
    plates : Plates
        n plates as they come out of one firing.
    room_c, step_k : float
        Temperature between the two fires [°C] and greatest temperature step [K].

    Returns
    -------
    array (n,)
        1/m, positive where the top is convex.

    Raises
    ------
    NotConverged
        Force and moment do not vanish.

    Notes
    -----
    The plate is cooled as by `cool_many` and warmed again to the lowest set point of its glasses, elastic and
    plastic all the way; there the glass is let go and the metal alone comes to balance. Stress that is left in the
    metal then balances itself; while it anneals, creep that is linear in stress does not move the curvature. Not
    counted: sagging under its own weight at heat, and weights laid on while it cools.
    """
    return cool_and_refire(plates, lambda cooled: np.ones(len(cooled.strain), dtype=bool), room_c, step_k)[1]
