"""The desk: the survey's sheets as pages of a local web application."""
