"""A sketch for each kind of gate, to scale; `sketch` draws that of an opening."""
