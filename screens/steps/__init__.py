"""Steps: one scope's page, from receipt to storage."""
