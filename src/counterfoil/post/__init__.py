"""Mail out: one message through the shop's own server, when told to. Nothing here decides that something is sent."""

from counterfoil.post.smtp import TLS_MODES, Server, send, server_of

__all__ = ["TLS_MODES", "Server", "send", "server_of"]
