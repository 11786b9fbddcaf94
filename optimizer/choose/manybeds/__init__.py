"""Several beds planned as one: which share headers, the way from the tap, zones across beds, cuts out of one stock."""
