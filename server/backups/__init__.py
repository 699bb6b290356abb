"""Backups of the whole installation: the database at one moment, and the files that it needs.

`making` writes one into a folder, `restoring` puts one into an empty installation. `databases`
copies SQLite and PostgreSQL, `manifest` describes what is in a backup. Archives of single groups
are another thing: see apps/archives.
"""
