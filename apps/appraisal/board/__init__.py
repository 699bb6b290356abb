"""The board and each boat's page: rows, pictures, advice, what if, and how they are read."""
