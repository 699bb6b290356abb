"""What lets other programs work with the service: safe writes, changes told in order.

Here live the versioned base of every shared record, idempotent writes, the outbox of events, and
(in `http/`) the conventions all views share: problem details, ETags, pages, money and units.
It is told of changes and asks nobody: it imports no other app.

Others use: `admin_classes`, `access_checks`, `drawing`, `errors`, `feed`, `http`, `messages`, `models`,
`services`, `shapes`, `warnings`, `webhooks`.
"""
