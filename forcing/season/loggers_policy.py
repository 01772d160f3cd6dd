"""What is done with the readings of loggers: every limit in one place. All are common practice; no source.

- A day counts as measured only if every one of its parts is covered. Two readings not more than
  `LONGEST_GAP` apart are joined by a straight line; where they are farther apart, each speaks for
  `HOLD` and the rest is a gap: the whole day is then left to what the places and setpoints state.
- A reading outside `LOWEST` to `HIGHEST`, or one that jumps by more than `SPIKE` from both its neighbours
  and back within `SPIKE_WITHIN` on either side, is left out and told.
- No change at all for longer than `FLAT` is told, and kept: a cellar can be that steady.
- Stamps that come twice with the same value count once; with different values, their mean counts.
- Readings typed by a person win over those of a logger; a difference of their means beyond `DIFFER` is told.
"""

from __future__ import annotations

HOUR = 3600.0  # s

PARTS = 24  # equal parts of each civil day, be it of 23, 24 or 25 hours
LONGEST_GAP = 3 * HOUR
HOLD = LONGEST_GAP / 2
LOWEST, HIGHEST = -40.0, 60.0  # °C: what such loggers are made for
SPIKE = 8.0  # °C
SPIKE_WITHIN = 1 * HOUR
FLAT = 24 * HOUR
FLAT_READINGS = 12  # fewer equal readings, such as daily means, say nothing about a sensor
DIFFER = 1.0  # °C
