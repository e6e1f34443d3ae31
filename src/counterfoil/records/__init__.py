"""Originals and records: what arrived, what was read from it, whose it is, who did what.

Public names live in the modules: :mod:`~counterfoil.records.originals`, :mod:`~counterfoil.records.store`,
:mod:`~counterfoil.records.filing`, :mod:`~counterfoil.records.settling`, :mod:`~counterfoil.records.bench`.
"""
