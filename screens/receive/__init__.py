"""Receive scope: which scope, which case, when its procedure ended, whether it was pre-cleaned."""
