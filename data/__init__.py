"""What is remembered, exported and proved: the journal, the ledger, exports."""
