"""The service: mornings by themselves, an outbox that loses and doubles nothing, a page to look at, an API to ask.

An edge, as ``cli``: it takes the clock, talks to people and machines, and calls ``shipwindow.advise`` and ``check``.
"""
