"""What to say of steel: verdict, what would mend it, pairs, widths, claims. Start with `check`."""
