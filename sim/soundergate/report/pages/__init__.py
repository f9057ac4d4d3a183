"""Pages to hand on: `run`, `comparison`, `season`, `rule`; `page` is what they are made of."""
