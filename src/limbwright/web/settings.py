"""What the server is started with; nothing is read from the environment."""

from dataclasses import dataclass, field
from pathlib import Path

LOOPBACK = frozenset({"127.0.0.1", "::1", "localhost"})
MEBIBYTE = 1024 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one request may ask for."""

    request_bytes: int = 2 * MEBIBYTE
    """Largest body of an ordinary call."""
    case_bytes: int = 40 * MEBIBYTE
    """Largest body of a call that carries a case document."""
    upload_files: int = 20
    """Most films in one upload."""
    upload_file_bytes: int = 512 * MEBIBYTE
    """Largest film."""
    upload_bytes: int = 2048 * MEBIBYTE
    """Largest upload in all."""
    decoded_bytes: int = 768 * MEBIBYTE
    """Decoded films kept in memory, with their smaller copies."""
    tile_bytes: int = 128 * MEBIBYTE
    """Rendered tiles kept in memory."""
    work_sessions: int = 32
    """Light tables kept in memory at a time."""
    work_idle_seconds: float = 3600.0
    """A light table untouched for so long is forgotten; nothing saved is lost by it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How the server is started."""

    home: Path
    """Folder of the store: database and films."""
    database: str | None = None
    """Address of a PostgreSQL database in place of the SQLite file; the films stay in `home`."""
    host: str = "127.0.0.1"
    """Address to listen on; another than loopback asks for a user with a password."""
    port: int = 8765
    """Port to listen on."""
    other_hosts: tuple[str, ...] = ()
    """Further names with port under which the server is reached, such as `films.example:8765`."""
    limits: Limits = field(default_factory=Limits)
    """Bounds on requests and memory."""

    @property
    def on_loopback(self) -> bool:
        """Whether only this machine can reach the server."""
        return self.host in LOOPBACK

    def hosts(self) -> frozenset[str]:
        """Every `Host` header that is answered."""
        names = {f"[{self.host}]" if ":" in self.host else self.host, *self.other_hosts_without_port()}
        if self.on_loopback:
            names |= {"127.0.0.1", "[::1]", "localhost"}
        return frozenset({f"{name}:{self.port}" for name in names} | set(self.other_hosts))

    def origins(self) -> frozenset[str]:
        """Every `Origin` from which changes are accepted: the hosts themselves."""
        return frozenset(f"{scheme}://{host}" for host in self.hosts() for scheme in ("http", "https"))

    def other_hosts_without_port(self) -> frozenset[str]:
        """Names given without a port; they are answered on the server's own."""
        return frozenset(name for name in self.other_hosts if ":" not in name)
