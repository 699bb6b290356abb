"""The board and each boat's page: rows, pictures, reasons to strike off, and what-if."""
