"""What results say in rows, once for terminal, page and notebook."""
