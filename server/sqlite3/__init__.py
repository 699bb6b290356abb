"""SQLite as Django's database, with the place holders of each statement converted once."""
