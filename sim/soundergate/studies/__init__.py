"""What many nights say: estimates with intervals, comparisons on common nights, study files.

The night is the unit. Animals of one night share a gate, a trigger and each other's company, so
what happens to one says much about the rest; an interval that counts animals as if they were
separate trials is far too narrow. Every interval here is made from one number a night.
"""
