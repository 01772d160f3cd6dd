"""Tables and worked examples from print, one file per source, restated as numbers only."""
