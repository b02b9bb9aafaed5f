"""What the shop's own boxes teach: ``arrivals`` (records), ``loggers`` (traces), ``fit`` and ``hand_down``.

Keyed by order id; knows no order book. What it learns goes down as ``settings.calibration_file.Calibration``.
"""
