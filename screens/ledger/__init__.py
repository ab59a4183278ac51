"""The Ledger: completed cycles, one of them as a time ribbon with its facts, and its release by a named person."""
