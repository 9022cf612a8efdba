"""Many simulated campaigns through the whole way, against the truths behind them.

May import every room below, and is a stranger to ``model.service``. Nothing
imports it but tests and the command ``python -m model.calibration.run``.
"""
