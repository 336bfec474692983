"""Surface tension of molten glass."""

from __future__ import annotations

#: What stands for a glass of unknown composition, N/m: low, typical, high (computed from compositions of enamels at
#: 800 °C by Kucuk, Clare and Jones, Glass Technol. 40 (1999) 149; some for gold lie up to 0.04 above).
TYPICAL_N_PER_M = (0.24, 0.27, 0.30)
