"""Would we have decided better? Years of past weather, forecasts with the measured error, policies side by side.

Doors: ``run_backtest(plan, ...)`` gives the rows, ``report.make_report`` the figures behind a page,
``hindcast.look_back`` the same question for the shop's own past orders. What happened to a box is worked out by a
simulator written apart (``outside``, ``truebox``, ``harm``), with numbers drawn away from the product's: it imports
nothing of ``box``, ``cargo`` or ``trip.expose``.
"""
