"""Rees & Hanks 1984, "Storage treatments for very early forcing of narcissus", Journal of Horticultural
Science 59:229-239: cold sum of degrees below 30 °C per day, and days at 16 °C to flower after it.
"""

FROM = 30.0  # °C
HOUSE = 16.0  # °C

# cold sum [°C·d below 30 °C], days at 16 °C to flower
POINTS = ((2000.0, 30.0), (2250.0, 21.0))

# store [°C], days of it to 2000, days to 2250: sum / (30 - store), to 0.1 d
STORES = ((9.0, 95.2, 107.1), (5.0, 80.0, 90.0), (2.0, 71.4, 80.4))
