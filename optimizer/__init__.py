"""Drip layout optimizer: rows, headers, zones and roll cuts that waste least, checked emitter by emitter."""
