"""McMaster & Wilhelm 1997, "Growing degree-days: one equation, two interpretations", Agricultural and
Forest Meteorology 87:291-300, Table 1. Base 0 °C. Temperatures [°C], degree-days [°C·d].
"""

BASE = 0.0

# high, low, method 1 (mean, then base), method 2 (base, then mean)
ROWS = (
    (20, 10, 15.0, 15.0),
    (10, 1, 5.5, 5.5),
    (8, -2, 3.0, 4.0),
    (6, 0, 3.0, 3.0),
    (10, 5, 7.5, 7.5),
    (5, -5, 0.0, 2.5),
    (-2, -7, 0.0, 0.0),
    (-5, -10, 0.0, 0.0),
    (10, -2, 4.0, 5.0),
    (15, 2, 8.5, 8.5),
)
