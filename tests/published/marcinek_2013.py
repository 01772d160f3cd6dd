"""Marcinek, Laskowska & Szmagara 2013, forced tulips after 12 and 14 weeks at 9 °C, Annals of Warsaw
University of Life Sciences - SGGW, Horticulture and Landscape Architecture 34:27-33.
"""

SHORT_COLD, LONG_COLD = 12.0, 14.0  # weeks at 9 °C
DAYS_SHORTER = 5.0  # greenhouse days, on average of the cultivars, printed as "about 5"
LATEST_AFTER_SHORT = 35.2  # days, 'Pulse'
EARLIEST_AFTER_LONG = 25.2  # days, earliest of 'Portland', 'Liberstar' and 'Bronze Brigitta'
