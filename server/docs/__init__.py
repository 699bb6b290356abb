"""The documentation pages for people who write programs that use the service."""
