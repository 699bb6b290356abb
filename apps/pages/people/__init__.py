"""People, their groups and clubs, and how they come in."""
