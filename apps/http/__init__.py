"""The conventions that all views share: one voice over HTTP."""
