"""Counterfoil files forwarded activation confirmations and gives their codes, warranty dates and firmware back."""

__version__ = "0.1.0"
