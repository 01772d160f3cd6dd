"""The autumn allocation: a cooler, cold-weeks and a bench for every lot, within room and hours."""
