"""What a person types to keep a jar and a test strip of their own, without the name of the program."""

from __future__ import annotations

#: After `refdb mine`: a jar with most of what its maker's sheet tells.
ADD_JAR = (
    *("add", "glass", "--name", "Jar 12", "--expansion", "12.4 ppm/K", "--expansion-span", "20-400C"),
    *("--fuses", "780-815C", "--hardness", "medium", "--lead-free", "--like", "clear-medium-lead-free"),
    *("--basis", "maker's sheet", "--date", "2024-05-31"),
)
#: After `refdb mine strip`: glass on one face of sheet copper, and how far it bent.
COPPER_STRIP = (
    *("--metal", "copper-sheet", "--metal-thickness", "0.5mm"),
    *("--glass-thickness", "0.3mm", "--length", "100mm"),
)
BOW = ("--bow", "4.4mm")
