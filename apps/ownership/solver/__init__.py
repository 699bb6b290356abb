"""When to do which work on a boat: pure functions on months, hours and sums, free of Django."""
