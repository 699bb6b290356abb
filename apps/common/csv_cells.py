"""Cells of the tables that people open in a spreadsheet."""

# Spreadsheets evaluate a cell that begins like a formula (OWASP, CSV injection).
FORMULA = ("=", "+", "-", "@", "\t", "\r")


def harmless(cell: object) -> object:
    """The cell, as text if a spreadsheet would evaluate it; None is an empty cell."""
    if cell is None:
        return ""
    if isinstance(cell, str) and cell.startswith(FORMULA):
        return f"'{cell}"
    return cell
