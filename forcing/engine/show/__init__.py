"""Parts of the show: pots, who stands where, bloom cover, waves."""
