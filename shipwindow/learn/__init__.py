"""What the shop's own boxes teach: ``arrivals`` (records), ``loggers`` (traces), ``fit`` and ``hand_down``.

``verify`` and ``verify_water`` tell whether what was said has come true. Keyed by order id; knows no order book. What
it learns goes down as ``settings.calibration_file.Calibration``.
"""
