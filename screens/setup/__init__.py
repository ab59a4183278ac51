"""The Setup: people, scopes, baths, the unit, and what this handheld alone keeps for itself."""
