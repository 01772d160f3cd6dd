"""Parts of steering: what there is to choose, how it is searched and solved, what it says."""
