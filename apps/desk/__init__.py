"""The club's desk: second opinions asked of advisers, and yard days that others may join."""
