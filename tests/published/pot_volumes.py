"""Nominal volumes of round pots, and bags of mix, from trade pages on pot volumes (undated).

Makers differ by about 15 % each way; the pages say so.
"""

MAKERS_DIFFER = 0.15

# rim [cm], litres, pots from 1 m³ without waste
POTS = ((10, 0.5, 2000), (15, 1.9, 526), (20, 4.5, 222), (25, 8.0, 125), (30, 13.5, 74))

# Pots of 1.9 litres filled whole from a bag of 25 litres.
BAG, POT, POTS_FROM_BAG = 25.0, 1.9, 13

# Loose mix pressed down takes this fraction more.
COMPRESSION = (0.15, 0.20)

# A cylinder 10 in across and 10 in deep: cubic inches, cubic feet.
CYLINDER_INCHES, CYLINDER_CUBIC_INCHES, CYLINDER_CUBIC_FEET = 10, 785, 0.45
