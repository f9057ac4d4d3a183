"""What releases the gate: body contact, bait, a counter, a person on a link, or nothing."""
