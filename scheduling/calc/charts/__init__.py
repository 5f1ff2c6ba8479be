"""Charts of lives, costs and losses as scenes: one drawing for the page and for paper."""
