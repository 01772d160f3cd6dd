"""Plan a forced-bulb show: count back from opening day, hand out the work, steer the benches."""

__version__ = "0.1.0"
