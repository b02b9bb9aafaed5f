"""Public forecast grids. The record is ``forecast.grid``; ``gather`` fetches, ``sources.open_source`` opens.

Importing this loads nothing heavy: no HTTP client, no database.
"""
