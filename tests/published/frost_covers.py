"""Degrees of protection under covers, and how far forecasts miss the temperature of leaves.

Snyder & de Melo-Abreu 2005, Frost Protection: fundamentals, practice and economics, volume 1, FAO: row
covers, from thin plastic sheet to thick [°C]. Cover makers' and trade pages, compared in 2020, by weight
[oz/yd²] in [°F]. The Farmer's Guide (undated): what a forecast misses, and the margin to cover at [°F].
"""

FAO_THIN, FAO_THICK = 1.0, 5.0
TRADE_HALF_OUNCE = (2, 4)
TRADE_HALF_TO_ONE_OUNCE = (4, 6)
TRADE_HEAVY_UP_TO = 8

FORECAST_MISSES = (3, 6)
COVER_AT = 4
