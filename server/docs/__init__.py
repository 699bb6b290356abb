"""The pages for whoever writes a program that uses the service, served by the service itself."""
