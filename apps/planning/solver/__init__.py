"""The best day plan, on plain numbers, without Django (checked by .importlinter)."""
