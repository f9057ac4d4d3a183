"""What many nights say: estimates with intervals, comparisons on common nights, study files.

Begin with `estimate.run`, then `compare.compare` and `study.study`. `playing` plays the nights of
any of them; `estimates` holds sums, intervals and when to stop, `worlds` what is not known about
pigs, `rule` the search for a release rule, `store` finished work on disk, `record` and `repeat` the
run.json that a run leaves.

The night is the unit. Animals of one night share a gate, a trigger and each other's company, so
what happens to one says much about the rest; an interval that counts animals as if they were
separate trials is far too narrow. Every interval here is made from one number a night.
"""
