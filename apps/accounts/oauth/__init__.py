"""OAuth 2 (RFC 6749, as RFC 9700 recommends): how other programs get tokens."""
