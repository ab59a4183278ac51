"""Sending weeks: the page, where to, and the app's own rounds."""
