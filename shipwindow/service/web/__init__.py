"""The web desk and its API: ``app.make_app(WebDesk(folder))``; ``listening.serve`` runs it.

Pages and API show what is written and ask the same door functions as the command line; nothing is decided here.
"""
