"""What each page says, as frozen values its template prints."""
