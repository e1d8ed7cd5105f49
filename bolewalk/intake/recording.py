"""Recordings of a walk that a browser may play."""

__all__ = ["PLAYABLE"]

PLAYABLE: dict[str, str] = {
    ".mp4": "video/mp4", ".m4v": "video/mp4", ".webm": "video/webm", ".mov": "video/mp4",
    ".m4a": "audio/mp4", ".mp3": "audio/mpeg", ".ogg": "audio/ogg", ".oga": "audio/ogg",
    ".opus": "audio/ogg", ".wav": "audio/wav", ".flac": "audio/flac", ".aac": "audio/aac",
}  # fmt: skip
"""Endings a browser may play -> how it is told; one it cannot play it says so itself."""
