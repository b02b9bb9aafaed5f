"""Letters: an advisory as e-mail, and the only conversation with a mail server.

Door: ``write_letter`` (pure) and ``post`` (network).
"""
