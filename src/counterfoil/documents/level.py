"""What one message holds while its parts are collected."""

from __future__ import annotations

from dataclasses import dataclass, field
from email.message import Message as Part

from counterfoil.documents.leftovers import Unread
from counterfoil.documents.parts import File
from counterfoil.documents.text import Row


@dataclass(slots=True)
class Level:
    """One message while its parts are collected: the received one, or an attached one."""

    layer: int
    name: str
    main: list[Row] = field(default_factory=list)
    other: list[Row] = field(default_factory=list)
    media_type: str = "text/plain"
    size: int = 0
    files: list[File] = field(default_factory=list)
    shown: set[str] = field(default_factory=set)
    attached: list[tuple[Part, int]] = field(default_factory=list)
    outlook: list[File] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)
