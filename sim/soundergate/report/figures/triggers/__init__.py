"""A picture for each kind of trigger; `of_trap` picks those of a scenario."""
