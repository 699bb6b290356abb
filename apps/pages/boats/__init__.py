"""One boat: what was found on her, her particulars, her record."""
