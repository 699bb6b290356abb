"""A list: its board, its boats side by side, what its people think of them."""
