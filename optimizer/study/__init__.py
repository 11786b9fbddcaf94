"""Studies around a scenario: what its water allows, before and after a plan is made."""
