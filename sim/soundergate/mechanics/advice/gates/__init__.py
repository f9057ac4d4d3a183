"""What is worth trying on a gate that does not shut surely, by its kind."""
