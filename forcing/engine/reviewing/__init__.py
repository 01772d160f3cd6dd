"""Parts of the review: one lot, and the figures for next year."""
