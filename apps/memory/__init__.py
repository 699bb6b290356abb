"""What surveys later found on boats whose groups agreed to share it with their club."""
