"""Questions over the folded state: pure functions from a Farm to plain data, no clock, no HTTP."""
