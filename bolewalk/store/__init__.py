"""What is kept: surveys with every change, media by content, sealed issues of papers."""
