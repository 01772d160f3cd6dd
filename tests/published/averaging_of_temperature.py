"""Day and night temperatures that flower together because their 24 h means are equal."""

# Blanchard & Runkle 2011, HortScience 46:599-603 (dahlia, French marigold, zinnia): day, night [°C].
# The means are equal, as stated there, with days of 16 h: (2·20 + 14)/3 = (2·16 + 22)/3 = 18 °C.
BLANCHARD_RUNKLE_2011 = ((20.0, 14.0), (18.0, 18.0), (16.0, 22.0))
BLANCHARD_RUNKLE_2011_DAY_HOURS = 16
BLANCHARD_RUNKLE_2011_MEAN = 18.0

# "Growing your crops above their base temperature", Greenhouse Grower 2014.
# Day, night (12 h each), constant [°F].
GREENHOUSE_GROWER_2014 = (70.0, 60.0, 65.0)
