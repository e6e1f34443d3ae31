"""What the desk asks: answers made from records and index, as frozen values and JSON-ready dictionaries.

Codes are masked in every answer unless the caller asks to see them, says who asks and why; the journal is
written before a code leaves this package. Nothing here prints.
"""
