"""Zalom, Goodell, Wilson, Barnett & Bentley 1983, "Degree-days: the calculation and use of heat units in
pest management", University of California, Table 7.

Lower threshold 55 °F, upper threshold 90 °F, horizontal cutoff. Temperatures [°F], degree-days [°F·d],
printed to 0.01 or rounder.
"""

BASE = 55.0
CAP = 90.0
HALF_LAST_DIGIT = 0.005

# low, high, next low, single triangle, double triangle, single sine, double sine
ROWS = (
    (96, 110, 91, 35.00, 35.00, 35.00, 35.00),
    (91, 105, 96, 35.00, 35.00, 35.00, 35.00),
    (45, 54, 38, 0.00, 0.00, 0.00, 0.00),
    (38, 50, 45, 0.00, 0.00, 0.00, 0.00),
    (60, 80, 75, 15.00, 18.75, 15.00, 18.75),
    (75, 88, 60, 26.50, 22.75, 26.50, 22.75),
    (50, 82, 45, 11.39, 10.62, 11.85, 11.31),
    (45, 70, 50, 4.50, 5.06, 5.31, 5.70),
    (60, 100, 75, 23.75, 24.88, 22.82, 26.26),
    (75, 95, 60, 29.38, 25.76, 28.91, 25.30),
    (50, 101, 48, 19.56, 19.19, 18.95, 18.69),
    (48, 95, 50, 16.76, 17.13, 16.96, 17.23),
)

# Row and method of the one cell that its own neighbours contradict, and what they give:
# single triangle of 60/100 is 23.75 as printed; of 75/100, (100-55 + 75-55)/2 - (100-90)^2/(2·25) = 30.5;
# their mean is 27.125.
MISPRINT = ((60, 100, 75), "double triangle")
MISPRINT_CORRECT = 27.125
