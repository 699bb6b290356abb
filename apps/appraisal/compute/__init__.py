"""From what was put in to what is stored: nothing here reads or writes a result."""
