"""What part of its short-time strength glass keeps under a load that lasts."""

from __future__ import annotations

#: Characteristic strength of annealed glass, 5 % fractile of 10^-2 defects [Pa] (EN 572-1, EN 16612).
ANNEALED_STRENGTH_PA = 45e6
#: The duration factor never falls below this, the value for permanent load (EN 16612).
PERMANENT_FACTOR = 0.29


def duration_factor(hours: float) -> float:
    """Return the fraction of the short-time strength that annealed glass keeps under a load of this length [-].

    Parameters
    ----------
    hours : float
        Length of the load [h], above zero.

    Returns
    -------
    float
        0.663·t^(−1/16), at most 1 and at least `PERMANENT_FACTOR`.

    Raises
    ------
    ValueError
        A length of no time or less.

    Notes
    -----
    EN 16612, for stress corrosion of soda-lime float glass in moist air.
    """
    if not hours > 0:
        raise ValueError("a load must last longer than no time")
    return float(min(1.0, max(PERMANENT_FACTOR, 0.663 * hours ** (-1.0 / 16.0))))
