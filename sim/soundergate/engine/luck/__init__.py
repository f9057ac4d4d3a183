"""Where luck comes from: keyed uniforms, and the samples made of them. Start with `philox`."""
