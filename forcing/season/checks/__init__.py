"""The checks of a season that has been read: small functions, each giving findings."""

from forcing.season.checks.all import CHECKS, check_season

__all__ = ["CHECKS", "check_season"]
