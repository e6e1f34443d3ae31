"""Bytes of a message to documents: bodies, forwarded and attached messages, PDFs, pictures, files.

Entry: :func:`counterfoil.documents.message.read_message`.
"""
