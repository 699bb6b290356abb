"""OAuth 2 (RFC 6749, as RFC 9700 wants it): how another program gets a token, and from whom."""
